/**
 * Local dates and instants: reading them strictly, and the one step between them. Twin of field/core/dates.py.
 *
 * A date is text, 'YYYY-MM-DD', and compares as text. An instant is text in UTC or with an offset, or milliseconds
 * since 1970. Which day an instant falls on depends on the zone of the place.
 */

import { BadInput } from './errors.js';
import { isMissing } from './units.js';

const DATE = /^(\d{4})-(\d{2})-(\d{2})$/;
const INSTANT = /^(\d{4}-\d{2}-\d{2})T(\d{2}):(\d{2})(?::(\d{2})(?:\.(\d{1,9}))?)?(?:(Z)|([+-])(\d{2}):(\d{2}))$/;
const ZONE = /^[A-Za-z][A-Za-z0-9_+-]*(?:\/[A-Za-z0-9_+-]+)*$/;
const MONTHS = [
  'January', 'February', 'March', 'April', 'May', 'June',
  'July', 'August', 'September', 'October', 'November', 'December',
];
const DAY_MS = 86400000;

/** Milliseconds of midnight UTC of a day, NaN when it is no day of the calendar. */
function midnightMs(year, month, day) {
  const at = new Date(0);
  at.setUTCFullYear(year, month - 1, day); // Date.UTC would take the years 0 to 99 for 1900 to 1999
  const same = year >= 1 && at.getUTCFullYear() === year && at.getUTCMonth() === month - 1 && at.getUTCDate() === day;
  return same ? at.getTime() : NaN;
}

function dayMs(day) {
  const [, year, month, date] = DATE.exec(day).map(Number);
  return midnightMs(year, month, date);
}

function dayText(ms) {
  const at = new Date(ms);
  return [
    String(at.getUTCFullYear()).padStart(4, '0'),
    String(at.getUTCMonth() + 1).padStart(2, '0'),
    String(at.getUTCDate()).padStart(2, '0'),
  ].join('-');
}

/**
 * A date, checked.
 * @param {*} value 'YYYY-MM-DD'
 * @param {string} name what it is, with its article
 * @param {string} where its place in the input
 * @returns {string} the same text
 * @throws {BadInput} if it is missing, written otherwise, or no day of the calendar
 */
export function readDate(value, name, where) {
  const cure = 'Give year, month and day, as in 2027-02-14.';
  if (isMissing(value)) throw new BadInput(`${name} is missing.`, cure, where);
  const found = typeof value === 'string' ? DATE.exec(value) : null;
  if (!found) throw new BadInput(`${name} is not written as a date.`, cure, where);
  if (Number.isNaN(dayMs(value))) throw new BadInput(`${name}, ${value}, is no day of the calendar.`, cure, where);
  return value;
}

/** A date as `readDate` gives it, or null where none is given. */
export function findDate(value, name, where) {
  return isMissing(value) ? null : readDate(value, name, where);
}

/**
 * An instant, checked.
 * @param {*} value 'YYYY-MM-DDTHH:MM[:SS[.f]]' with 'Z' or an offset; milliseconds since 1970 pass
 * @param {string} name what it is, with its article
 * @param {string} where its place in the input
 * @returns {number} milliseconds since 1970
 * @throws {BadInput} if it is missing, written otherwise, has no zone, or is no moment of the calendar
 */
export function readInstant(value, name, where) {
  const cure = 'Give date, time and zone, as in 2027-02-14T09:30:00Z.';
  if (isMissing(value)) throw new BadInput(`${name} is missing.`, cure, where);
  if (typeof value === 'number' && Number.isFinite(value)) return value;
  const found = typeof value === 'string' ? INSTANT.exec(value) : null;
  if (!found) throw new BadInput(`${name} is not written as a moment with its zone.`, cure, where);
  const [, day, hour, minute, second = '0', fraction = '', , sign, offsetHour = '0', offsetMinute = '0'] = found;
  readDate(day, name, where);
  const offset = (sign === '-' ? -1 : 1) * (Number(offsetHour) * 60 + Number(offsetMinute)) * 60000;
  const ms = dayMs(day) + ((Number(hour) * 60 + Number(minute)) * 60 + Number(second)) * 1000
    + Number(fraction.padEnd(3, '0').slice(0, 3)) - offset;
  const inCalendar = ms >= midnightMs(1, 1, 1) && ms < midnightMs(9999, 12, 31) + DAY_MS;
  if (Number(hour) > 23 || Number(minute) > 59 || Number(second) > 59 || Number(offsetHour) > 23
    || Number(offsetMinute) > 59 || !inCalendar) {
    throw new BadInput(`${name}, ${value}, is no moment of the calendar.`, cure, where);
  }
  return ms;
}

// Short names that browsers take for zones besides those of IANA are no zones: IST is three different ones.
const SHORT_ZONE = /^[a-z]{3}$/i;
const SHORT_ZONES = new Set(['CET', 'EET', 'EST', 'GMT', 'HST', 'MET', 'MST', 'PRC', 'ROC', 'ROK', 'UCT', 'UTC', 'WET']);
const formats = new Map(); // making one takes far longer than using it

/**
 * A zone, checked.
 * @param {*} value IANA name, 'Europe/London', in any letter case
 * @param {string} where its place in the input
 * @returns {Intl.DateTimeFormat} what tells the local date there
 * @throws {BadInput} if it is missing, no text, or no zone that is known here
 */
export function readZone(value, where = 'zone') {
  const cure = 'Give the name of a zone, as in Europe/London.';
  if (isMissing(value)) throw new BadInput('The zone of the place is missing.', cure, where);
  if (typeof value !== 'string' || !ZONE.test(value)) {
    throw new BadInput('The zone of the place is not the name of a zone.', cure, where);
  }
  if (!formats.has(value)) {
    let format;
    try {
      if (SHORT_ZONE.test(value) && !SHORT_ZONES.has(value.toUpperCase())) throw new RangeError('no zone of IANA');
      if (/^systemv\//i.test(value)) throw new RangeError('no zone of IANA');
      format = new Intl.DateTimeFormat('en-u-ca-iso8601-nu-latn', {
        timeZone: value, year: 'numeric', month: '2-digit', day: '2-digit',
      });
    } catch (fault) {
      if (fault instanceof RangeError) throw new BadInput(`The zone ${value} is not known.`, cure, where);
      throw fault;
    }
    formats.set(value, format);
  }
  return formats.get(value);
}

/**
 * The day an instant falls on at a place.
 * @param {string|number} instant text or milliseconds since 1970
 * @param {string} zone IANA name
 * @returns {string} 'YYYY-MM-DD'
 */
export function localDate(instant, zone) {
  const parts = readZone(zone).formatToParts(readInstant(instant, 'The moment', 'now'));
  const part = (type) => parts.find((one) => one.type === type).value;
  return `${part('year').padStart(4, '0')}-${part('month')}-${part('day')}`;
}

/** How many days the second date is after the first; negative if it is before. */
export function daysBetween(first, second) {
  return Math.round((dayMs(second) - dayMs(first)) / DAY_MS);
}

/** The date so many days later; earlier when negative. */
export function plusDays(day, days) {
  return dayText(dayMs(day) + days * DAY_MS);
}

/** A date in words: '3 February 2027'. @param {string} day 'YYYY-MM-DD' */
export function showDate(day) {
  const [, year, month, date] = DATE.exec(day).map(Number);
  return `${date} ${MONTHS[month - 1]} ${year}`;
}

/** An instant in the one written form: UTC, milliseconds, 'Z'. @param {number} ms since 1970 */
export function instantText(ms) {
  return new Date(ms).toISOString();
}
