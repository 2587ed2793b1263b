/** The record of one day's weather at one place: its name, and the days that such records tell. Twin of field/core/weather_day.py. */

import { plusDays } from './dates.js';
import { nameId } from './name_id.js';

export const COLDEST_C = -90; // as field/core/weather.py has them
export const HOTTEST_C = 60;

/**
 * The id of the record of a day at a place: the same on every phone, so that they meet in one record.
 * @param {string} place id of the garden or site
 * @param {string} dayOn 'YYYY-MM-DD'
 * @returns {string} a name-based UUID, version 5: RFC 9562, section 5.5
 */
export function weatherDayId(place, dayOn) {
  return nameId(`fellside:weather:${place}:${dayOn}`);
}

const degrees = (value) => (typeof value === 'number' ? value : null);
const inRange = (value) => value >= COLDEST_C && value <= HOTTEST_C;

/** Whether the two can be the lowest and the highest of a day; one of them may be null. */
export function canBe(low, high) {
  if (low === null && high === null) return false;
  return inRange(low ?? high) && inRange(high ?? low) && (low ?? high) <= (high ?? low);
}

/**
 * The days that the records of one place tell, each once.
 * @param {{id: string, fields: object}[]} records merged weather_day records of the place, deleted ones left out, in any order.
 *   Of two that tell of one day the one that is named after it counts
 * @returns {Map<string, {low: number|null, high: number|null}>} 'YYYY-MM-DD' -> the day, in order
 */
export function daysTold(records) {
  const found = new Map();
  for (const { id, fields } of records) {
    const on = fields.day_on;
    const [low, high] = [degrees(fields.tmin_c), degrees(fields.tmax_c)];
    if (typeof on !== 'string' || !canBe(low, high)) continue;
    const isNamed = () => id === weatherDayId(fields.site, on);
    if (!found.has(on) || isNamed()) found.set(on, { low, high });
  }
  return new Map([...found].sort(([a], [b]) => (a < b ? -1 : 1)));
}

/** Whether both of a day are known: what sums go by, and what is missing otherwise. @param {{low: number|null, high: number|null}|undefined} day */
export const isWhole = (day) => day !== undefined && day.low !== null && day.high !== null;

/**
 * The runs of days, of a span, that are not whole: their lowest or highest is not known.
 * @param {Map<string, {low: number|null, high: number|null}>} days of `daysTold`
 * @param {string} from @param {string} until both inclusive
 * @returns {[string, string][]} first and last day of each run
 */
export function missingRuns(days, from, until) {
  const runs = [];
  for (let on = from, last = null; on <= until; on = plusDays(on, 1)) {
    if (isWhole(days.get(on))) last = null;
    else if (last === null) runs.push((last = [on, on]));
    else last[1] = on;
  }
  return runs;
}
