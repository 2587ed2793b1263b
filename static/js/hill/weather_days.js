/** The weather this phone keeps of a place: its days, the next one to note, and the change that keeps one. */

import { daysBetween, plusDays } from '../core/dates.js';
import { weatherDayId } from '../core/weather_day.js';
import { getRecord, listRecords } from '../store.js';
import { lastDaysOf } from './last_days.js';

export const STRIP_DAYS = 14; // shown to be tapped; own rule: what a person may still remember or read off
export const LATELY_DAYS = 30;
const LOOK_BACK_DAYS = 8; // where the first press of plus or minus may begin; own rule

const byName = (a, b) => String(a.fields.name ?? '~').localeCompare(String(b.fields.name ?? '~'));

/** Where weather is kept: the gardens, the main one first, then the sites. @returns {Promise<object[]>} merged records */
export async function listPlaces() {
  const [gardens, sites] = await Promise.all([listRecords('garden'), listRecords('site')]);
  gardens.sort((a, b) => Number(b.fields.is_main === true) - Number(a.fields.is_main === true) || byName(a, b));
  return [...gardens, ...sites.sort(byName)];
}

/**
 * The days kept of a place that its page looks at: this year's, and some before. A station's decades are not read for them.
 * @returns {Promise<Map<string, {low: number|null, high: number|null}>>} as `daysTold`
 */
export function daysOf(place, today) {
  const newYear = `${today.slice(0, 4)}-01-01`;
  return lastDaysOf(place, today, daysBetween(newYear, today) + 1 + STRIP_DAYS);
}

/** One day and those just before it, however long ago. */
export const daysAbout = (place, on) => lastDaysOf(place, on, LOOK_BACK_DAYS);

/** The last day kept of each place, of those lately: Map place -> 'YYYY-MM-DD'. */
export async function lastDays(places, today) {
  const found = await Promise.all(places.map(async ({ id }) => [id, [...(await lastDaysOf(id, today, LATELY_DAYS)).keys()].at(-1)]));
  return new Map(found.filter(([, last]) => last !== undefined));
}

/** The days to be tapped, the latest first. @param {string} today */
export const strip = (today) => Array.from({ length: STRIP_DAYS }, (_, n) => plusDays(today, -n));

/** The day to note next: after one that was just noted the next missing one, else today, else the latest missing one. */
export function nextDay(days, today, after = null) {
  const missing = strip(today).filter((on) => !days.has(on));
  const later = after === null ? undefined : missing.findLast((on) => on > after);
  return later ?? (days.has(today) ? (missing[0] ?? today) : today);
}

/**
 * The change that keeps a day as it was typed, and the one that takes it back.
 * @param {string} place @param {string} on @param {{tmin_c: number|null, tmax_c: number|null}|null} values null: the day is taken away
 * @returns {Promise<{change: object, back: object}>}
 */
export async function dayChange(place, on, values) {
  const rec = weatherDayId(place, on);
  const seen = await getRecord(rec);
  const there = seen !== null && !seen.deleted;
  const change = (set) => ({ rec, type: 'weather_day', set });
  if (values === null) return { change: change({ deleted: true }), back: change({ deleted: false }) };
  const set = { site: place, day_on: on, ...values, how: 'typed', batch: null, ...(seen?.deleted ? { deleted: false } : {}) };
  const before = Object.fromEntries(Object.keys(set).map((name) => [name, name === 'deleted' ? false : (seen?.fields[name] ?? null)]));
  return { change: change(set), back: change(there ? before : { deleted: true }) };
}
