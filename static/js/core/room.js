/** Whether there is still room on a phone for the photos of a day. */

const LEAST_BYTES = 200_000_000; // own rule
const LEAST_PHOTOS = 20;
const USUAL_PHOTO_BYTES = 5_000_000; // a 12-megapixel JPEG; common practice, no source

/**
 * @param {{quota: number, usage: number}} estimate bytes, as the browser tells them; either may be missing
 * @param {number[]} sizes bytes of the photos taken so far
 * @returns {{is_short: boolean, photos_left: number|null}} null where the browser tells nothing: then it is not short
 */
export function roomFor({ quota, usage }, sizes) {
  if (!Number.isFinite(quota) || !Number.isFinite(usage)) return { is_short: false, photos_left: null };
  const free = Math.max(0, quota - usage);
  const usual = sizes.length > 0 ? sizes.reduce((sum, size) => sum + size, 0) / sizes.length : USUAL_PHOTO_BYTES;
  return { is_short: free < Math.max(LEAST_BYTES, LEAST_PHOTOS * usual), photos_left: Math.floor(free / Math.max(1, usual)) };
}
