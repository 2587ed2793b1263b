/** How much water the air takes on a day: twin of field/core/evapotranspiration.py, where every equation has its number. */

import { plainNumber } from './rounded.js';
import { BadInput } from './errors.js';
import { COLDEST_C, HOTTEST_C } from './weather_day.js';

const SOLAR_CONSTANT = 0.082;
const MM_PER_MJ = 0.408;
const LIMITED_BEYOND_LAT = 55;

const HIGH_LATITUDE = { code: 'high-latitude', text: "Beyond 55 degrees of latitude the formula for the sun's radiation is of limited use." };
const WIND = { code: 'wind', text: 'In wind above about 3 m/s more water goes than this says: expect the shorter end.' };
const HUMID = { code: 'humid', text: 'In damp air less goes than this says; in one humid place it was 8.5 % too high on average.' };

const radians = (degrees) => (degrees * Math.PI) / 180;

/** Which day of its year a day is, from 1. */
export function dayOfYear(on) {
  const year = Number(on.slice(0, 4));
  return Math.round((Date.UTC(year, Number(on.slice(5, 7)) - 1, Number(on.slice(8, 10))) - Date.UTC(year, 0, 1)) / 86_400_000) + 1;
}

function sunsetAngle(lat, day) {
  const cosine = -Math.tan(radians(lat)) * Math.tan(declination(day));
  return Math.acos(Math.max(-1, Math.min(1, cosine)));
}

const declination = (day) => 0.409 * Math.sin((2 * Math.PI * day) / 365 - 1.39);

/** The radiation above the air on a day, in MJ m-2 d-1. @throws {BadInput} for a latitude that no place has */
export function radiationMj(lat, on) {
  if (!(lat >= -90 && lat <= 90)) throw new BadInput(`A latitude of ${plainNumber(lat)} is not on the earth.`, 'Give degrees between -90 and 90.', 'lat');
  const phi = radians(lat);
  const day = dayOfYear(on);
  const [delta, angle] = [declination(day), sunsetAngle(lat, day)];
  const heights = angle * Math.sin(phi) * Math.sin(delta) + Math.cos(phi) * Math.cos(delta) * Math.sin(angle);
  const inverse = 1 + 0.033 * Math.cos((2 * Math.PI * day) / 365);
  return Math.max(0, ((24 * 60) / Math.PI) * SOLAR_CONSTANT * inverse * heights);
}

function checkExtremes(tminC, tmaxC) {
  for (const [name, where, value] of [['lowest', 'tmin', tminC], ['highest', 'tmax', tmaxC]]) {
    if (!(value >= COLDEST_C && value <= HOTTEST_C)) throw new BadInput(`A ${name} temperature of ${plainNumber(value)} °C was never measured anywhere.`, `Give degrees Celsius between ${COLDEST_C} and ${HOTTEST_C}.`, where);
  }
  if (tminC > tmaxC) throw new BadInput(`The lowest temperature, ${plainNumber(tminC)} °C, is above the highest, ${plainNumber(tmaxC)} °C.`, 'Look whether the two were swapped.', 'tmin');
}

/**
 * The reference evapotranspiration of one day at a place, with what to think of beside it.
 * @param {number} tminC @param {number} tmaxC lowest and highest air temperature of the day
 * @param {number} lat degrees, negative south of the equator @param {string} on 'YYYY-MM-DD'
 * @returns {{ra_mj_m2_d: number, daylight_h: number, et0_mm_d: number, cautions: object[]}}
 * @throws {BadInput} for a latitude or temperature that no place has, or a minimum above the maximum
 */
export function dryingOfDay(tminC, tmaxC, lat, on) {
  checkExtremes(tminC, tmaxC);
  const ra = radiationMj(lat, on);
  const et0 = Math.max(0, 0.0023 * ((tminC + tmaxC) / 2 + 17.8) * Math.sqrt(Math.max(0, tmaxC - tminC)) * MM_PER_MJ * ra);
  return { ra_mj_m2_d: ra, daylight_h: (24 / Math.PI) * sunsetAngle(lat, dayOfYear(on)), et0_mm_d: et0, cautions: Math.abs(lat) > LIMITED_BEYOND_LAT ? [HIGH_LATITUDE, WIND, HUMID] : [WIND, HUMID] };
}
