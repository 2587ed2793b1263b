/**
 * Several fixes of one tree and what they amount to; and the collecting of them while someone stands still beside it.
 *
 * What is kept are fixes as the receiver said them, never a mean: home averages the same records by the same rule
 * (core/fix.js, field/core/fix.py) and comes to the same place. Few are kept, spread over the whole stay: a receiver's
 * errors last for minutes, so a hundred fixes of one minute say hardly more than a dozen.
 */

import { averageFixes } from '../core/fix.js';
import { distanceM } from '../core/geodesy.js';

export const APART_MS = 1000; // closer together a receiver only says the same thing twice
export const MOST_KEPT = 12; // of one stay; common practice
const STAY_MS = 10 * 60_000; // fixes closer together than this are of one stay beside the tree

const isWithin = (value, limit) => typeof value === 'number' && Math.abs(value) <= limit;

/** Whether a fix record has a position that can be reckoned with. */
export function hasPosition(fields) {
  return isWithin(fields.lat, 90) && isWithin(fields.lon, 180);
}

/**
 * What several fixes amount to.
 * @param {object[]} fixes each with lat, lon, accuracy_m, height_m; every one with a position
 * @returns {{lat: number, lon: number, accuracy_m: number|null, height_m: number|null, used: number[],
 *   aside: {place: number, off_m: number, why: 'far'|'no-accuracy'}[], half_m: number|null, furthest_m: number|null}|null}
 *   used and place are places in the list; half_m: half of those used lie within this of the mean, furthest_m: all do;
 *   null where fewer than two are used. Null for no fix at all
 */
export function weighFixes(fixes) {
  if (fixes.length === 0) return null;
  const mean = averageFixes(fixes);
  const off = fixes.map((fix) => distanceM(fix.lat, fix.lon, mean.lat, mean.lon));
  const ofUsed = mean.used.map((place) => off[place]).sort((a, b) => a - b);
  const several = ofUsed.length > 1;
  return {
    lat: mean.lat,
    lon: mean.lon,
    accuracy_m: mean.accuracy_m,
    height_m: mean.height_m,
    used: mean.used,
    aside: mean.set_aside.map((place) => ({ place, off_m: off[place], why: mean.accuracy_m !== null && !fixes[place].accuracy_m ? 'no-accuracy' : 'far' })),
    half_m: several ? ofUsed[Math.ceil(ofUsed.length / 2) - 1] : null,
    furthest_m: several ? ofUsed.at(-1) : null,
  };
}

/**
 * Fixes of one tree by stays: those of one source and device that follow each other within ten minutes.
 * @param {object[]} records fix records, in any order
 * @returns {object[][]} the latest stay first; within a stay the earliest fix first; fixes without a time stand alone, last
 */
export function staysOf(records) {
  const timed = records.filter((one) => one.fields.fixed_at).sort((a, b) => a.fields.fixed_at.localeCompare(b.fields.fixed_at));
  const stays = [];
  for (const record of timed) {
    const stay = stays.find((one) => follows(one.at(-1).fields, record.fields));
    if (stay) stay.push(record);
    else stays.push([record]);
  }
  stays.sort((a, b) => b.at(-1).fields.fixed_at.localeCompare(a.at(-1).fields.fixed_at));
  return [...stays, ...records.filter((one) => !one.fields.fixed_at).map((one) => [one])];
}

function follows(before, after) {
  const same = (before.source ?? null) === (after.source ?? null) && (before.platform ?? null) === (after.platform ?? null);
  return same && before.source === 'web-geolocation' && Date.parse(after.fixed_at) - Date.parse(before.fixed_at) <= STAY_MS;
}

/** The fixes of one stay while they come in. What it holds can be put away as a draft and taken up again. */
export class SteadyFix {
  #apartMs;

  /** @param {object|null} draft what `draft()` gave before */
  constructor(draft = null) {
    this.kept = draft?.kept ?? [];
    this.taken = draft?.taken ?? 0; // how many were far enough apart to count, kept or not
    this.#apartMs = draft?.apart_ms ?? APART_MS;
  }

  /** All that is needed to go on after the app was killed. */
  draft() {
    return { kept: this.kept, taken: this.taken, apart_ms: this.#apartMs };
  }

  /**
   * Take in what the receiver said.
   * @param {object} fix as from device.js
   * @returns {boolean} false when it came too soon after the last one
   */
  take(fix) {
    const last = this.kept.at(-1);
    // A clock that was set back must not stop the collecting.
    if (last && Math.abs(Date.parse(fix.fixed_at) - Date.parse(last.fixed_at)) < this.#apartMs) return false;
    this.taken += 1;
    this.kept = [...this.kept, fix];
    if (this.kept.length > MOST_KEPT) this.#thin();
    return true;
  }

  /** Of every two that follow each other the better one stays, and the next are taken half as often. */
  #thin() {
    const radius = (fix) => fix.accuracy_m ?? Infinity;
    this.kept = this.kept.filter((fix, i) => {
      const other = this.kept[i % 2 === 0 ? i + 1 : i - 1];
      if (!other) return true;
      return i % 2 === 0 ? radius(fix) <= radius(other) : radius(fix) < radius(other);
    });
    this.#apartMs *= 2;
  }

  /** Whole seconds from the first to the last kept. */
  lastedS() {
    if (this.kept.length < 2) return 0;
    return Math.round(Math.abs(Date.parse(this.kept.at(-1).fixed_at) - Date.parse(this.kept[0].fixed_at)) / 1000);
  }
}
