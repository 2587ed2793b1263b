/** Whether it is time to keep a copy: work of some days, or many photos, that are on this phone only. Own rule. */

const OLD_MS = 2 * 24 * 60 * 60 * 1000;
const MANY_PHOTOS = 20;

/**
 * @param {{photos: number, oldest_at: string|null}} only what neither home nor the last copy has
 * @param {number} nowMs
 * @returns {'old'|'photos'|null} why; null when it is not
 */
export function copyDue({ photos, oldest_at: oldestAt }, nowMs) {
  if (oldestAt !== null && nowMs - Date.parse(oldestAt) > OLD_MS) return 'old';
  return photos > MANY_PHOTOS ? 'photos' : null;
}
