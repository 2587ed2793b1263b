/**
 * Hybrid logical clock: stamps that rise on one device whatever its clock does, and sort as text.
 *
 * A stamp is '<12 hex ms>-<4 hex counter>-<device>'. Twin of field/sync/hlc.py, held to it by tests/vectors/hlc.json.
 * Source: Kulkarni et al. 2014, "Logical Physical Clocks" (Buffalo technical report 2014-04).
 */

const MOST_MS = 2 ** 48 - 1;
const MOST_COUNT = 0xffff;
const STAMP = /^([0-9a-f]{12})-([0-9a-f]{4})-(.+)$/;
/** A stamp further ahead of one's own clock than this does not carry that clock along. */
export const AHEAD_MS = 10 * 60 * 1000;
/** 2024-01-01T00:00:00Z: no clock of a running app shows less, unless it is wrong. */
export const EARLIEST_MS = 1704067200000;

/** Bring a clock reading into 48 bits; a reading that is no number counts as 0: a save never fails for the clock. */
function inRange(ms) {
  return Number.isFinite(ms) ? Math.min(MOST_MS, Math.max(0, Math.floor(ms))) : 0;
}

/** A full counter runs over into the next millisecond; at the very end of time it stays. */
function carry(ms, count) {
  if (count <= MOST_COUNT) return { ms, count };
  return ms < MOST_MS ? { ms: ms + 1, count: 0 } : { ms, count: MOST_COUNT };
}

/**
 * The clock after one change of this device.
 * @param {{ms: number, count: number}} clock
 * @param {number} nowMs what the device's own clock says, milliseconds since 1970
 * @returns {{ms: number, count: number}} always greater than `clock`, save at the very end of the 48 bits
 */
export function tick(clock, nowMs) {
  const ms = Math.max(clock.ms, inRange(nowMs));
  return carry(ms, ms === clock.ms ? clock.count + 1 : 0);
}

/**
 * The clock after seeing another device's stamp. A suspect stamp must not be given here: see `isSuspect`.
 * @param {{ms: number, count: number}} clock
 * @param {{ms: number, count: number}} seen
 * @param {number} nowMs
 * @returns {{ms: number, count: number}} greater than both
 */
export function receive(clock, seen, nowMs) {
  const ms = Math.max(clock.ms, seen.ms, inRange(nowMs));
  if (ms === clock.ms && ms === seen.ms) return carry(ms, Math.max(clock.count, seen.count) + 1);
  if (ms === clock.ms) return carry(ms, clock.count + 1);
  if (ms === seen.ms) return carry(ms, seen.count + 1);
  return { ms, count: 0 };
}

/**
 * Write a stamp.
 * @param {{ms: number, count: number}} clock
 * @param {string} device
 * @returns {string}
 */
export function writeStamp({ ms, count }, device) {
  return `${ms.toString(16).padStart(12, '0')}-${count.toString(16).padStart(4, '0')}-${device}`;
}

/**
 * Read a stamp.
 * @param {string} stamp
 * @returns {{ms: number, count: number, dev: string}|null} null when it is none
 */
export function readStamp(stamp) {
  const got = STAMP.exec(stamp);
  return got && { ms: Number.parseInt(got[1], 16), count: Number.parseInt(got[2], 16), dev: got[3] };
}

/**
 * Whether a stamp's clock is not to be believed: over ten minutes ahead of one's own, or before 2024.
 * @param {{ms: number}} seen
 * @param {number} nowMs
 * @returns {boolean}
 */
export function isSuspect(seen, nowMs) {
  return seen.ms > inRange(nowMs) + AHEAD_MS || seen.ms < EARLIEST_MS;
}
