/** How much later the seasons run at a place than the cards say: twin of `climate_at` in field/core/windows.py. */

const REFERENCE_LAT = 52;
const DAYS_PER_DEGREE = 4; // Hopkins 1918
const DAYS_PER_M = 4 / 121.92; // Hopkins 1918: 4 days per 400 ft
const MOST_DAYS = 60;

/**
 * By Hopkins' law, in days: spring later by so many, autumn as many earlier; negative: the other way about.
 * @param {number|null} lat degrees @param {number|null} heightM metres above the sea; null counts as none
 * @returns {number|null} null where the latitude is not known
 */
export function laterDays(lat, heightM) {
  if (lat === null || lat === undefined) return null;
  const move = DAYS_PER_DEGREE * (Math.abs(lat) - REFERENCE_LAT) + DAYS_PER_M * (heightM ?? 0);
  return Math.max(-MOST_DAYS, Math.min(MOST_DAYS, Math.floor(move + 0.5)));
}

/** '12 days later than on the cards'. @param {number} days */
export function laterWords(days) {
  if (days === 0) return 'as on the cards';
  const many = Math.abs(days) === 1 ? '1 day' : `${Math.abs(days)} days`;
  return `${many} ${days > 0 ? 'later' : 'earlier'} than on the cards`;
}
