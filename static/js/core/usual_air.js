/** What the air usually takes on a day where no weather is logged, as a rough range: twin of field/core/usual_air.py. */

import { dayOfYear, dryingOfDay } from './evapotranspiration.js';

const WARMEST_DAY = 201;
const [TROPIC_MEAN_C, TROPIC_LAT] = [27, 15];
const COOLER_PER_DEGREE = 0.46;
const SWING_PER_DEGREE = 1 / 7;
const COOLER_PER_M = 0.0065;
const [LOWEST_M, HIGHEST_M] = [-500, 9000];
const APART_C = 6;
const [GREY_SWING_C, CLEAR_SWING_C] = [4, 12];

/**
 * @param {number} lat degrees, negative south of the equator @param {string} on 'YYYY-MM-DD'
 * @param {number|null} [heightM] above the sea; null: not known, then the lowland's
 * @returns {{mean_c: number[], et0_mm_d: number[]}} ranges are [a cool grey day, a warm clear day]
 * @throws {BadInput} for a latitude that no place has
 */
export function usualAir(lat, on, heightM = null) {
  const year = TROPIC_MEAN_C - COOLER_PER_DEGREE * Math.max(0, Math.abs(lat) - TROPIC_LAT);
  const wave = Math.cos((2 * Math.PI * (dayOfYear(on) - WARMEST_DAY)) / 365);
  const height = heightM === null ? 0 : Math.min(HIGHEST_M, Math.max(LOWEST_M, heightM));
  const mean = year + lat * SWING_PER_DEGREE * wave - COOLER_PER_M * height;
  const ends = [[mean - APART_C, GREY_SWING_C], [mean + APART_C, CLEAR_SWING_C]];
  return { mean_c: ends.map(([middle]) => middle), et0_mm_d: ends.map(([middle, swing]) => dryingOfDay(middle - swing / 2, middle + swing / 2, lat, on).et0_mm_d) };
}
