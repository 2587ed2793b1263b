/**
 * Which season a sighting of an event belongs to, and which of several counts: the rule of `event_date` in field/core/windows.py.
 * The seasons come from home: field/core/sightings.py.
 */

import { daysBetween, plusDays } from './dates.js';

const REACH_DAYS = 120; // an event belongs to the season whose usual date is within so many days
const ABOUT_DAYS = 21; // so long before and after it is expected about now; common practice
const FIRST_COUNTS = ['bud_swell', 'bud_break', 'frost']; // the careful side of each: of the others the last counts

/** Whether of several sightings in one season the first one counts. */
export const firstCounts = (event) => FIRST_COUNTS.includes(event);

/**
 * The season a day belongs to.
 * @param {{usual: string, from: string, until: string}[]} seasons of one event
 * @returns {object|null} null: it is far from all of them
 */
export function seasonOf(seasons, on) {
  const [near = null] = [...seasons].sort((a, b) => Math.abs(daysBetween(a.usual, on)) - Math.abs(daysBetween(b.usual, on)));
  return near !== null && Math.abs(daysBetween(near.usual, on)) <= REACH_DAYS ? near : null;
}

/** Whether an event of that season is expected about that day. */
export const isAbout = ({ from, until }, on) => plusDays(from, -ABOUT_DAYS) <= on && on <= plusDays(until, ABOUT_DAYS);

/**
 * Of the days on which an event was seen those of one season, and the one that counts.
 * @param {string} event @param {string[]} days @param {{usual: string}} season
 * @returns {{days: string[], counts: string|null}} days: the earliest first
 */
export function sightingsIn(event, days, { usual }) {
  const found = days.filter((day) => Math.abs(daysBetween(usual, day)) <= REACH_DAYS).sort();
  return { days: found, counts: (firstCounts(event) ? found[0] : found.at(-1)) ?? null };
}
