/** The last days of the weather kept of a place, each looked up by its name: a station's decades are not read for a week. */

import { plusDays } from '../core/dates.js';
import { daysTold, weatherDayId } from '../core/weather_day.js';
import { getRecord } from '../store.js';

/**
 * @param {string} place id of a garden or site @param {string} today @param {number} count how many days, today among them
 * @returns {Promise<Map<string, {low: number|null, high: number|null}>>} as `daysTold`, the oldest first
 */
export async function lastDaysOf(place, today, count) {
  const ids = Array.from({ length: count }, (_, back) => weatherDayId(place, plusDays(today, -back)));
  const records = await Promise.all(ids.map((id) => getRecord(id)));
  return daysTold(records.filter((one) => one !== null && !one.deleted));
}
