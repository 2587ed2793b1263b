/**
 * Back to a tree on foot: how far, which way by the compass, and which way as one walks, told without a compass. A receiver
 * knows where it is but not how it is held; so the arrow comes from the last metres walked, and without walking there is none.
 */

import { bearingDeg, distanceM } from '../core/geodesy.js';

const LEAST_WALK_M = 5; // below this a course is mostly noise, however good the fixes call themselves; common practice
const SLOWEST_M_S = 0.4; // slower than a climb over rough ground: whoever comes no further than this is standing
const STALE_MS = 10_000; // a receiver at rest goes quiet: what was walked before says nothing of how one stands now
const UNKNOWN_M = 20; // for what tells no accuracy: cautious, and never taken for exact
const TRAIL = 120; // fixes remembered: two minutes of a fix a second

const COMPASS = ['north', 'north-east', 'east', 'south-east', 'south', 'south-west', 'west', 'north-west'];
const TURNS = ['ahead', 'ahead, to the right', 'to the right', 'behind, to the right', 'behind', 'behind, to the left', 'to the left', 'ahead, to the left'];

const radius = (fix) => fix.accuracy_m || UNKNOWN_M;

function eighth(degrees) {
  return Math.round((((degrees % 360) + 360) % 360) / 45) % 8;
}

/** A bearing in words: 'south-west'. */
export function compassWord(degrees) {
  return COMPASS[eighth(degrees)];
}

/** Which way someone is walking, out of the fixes of the last metres. */
export class WalkedCourse {
  #trail = [];

  #gotMs = null;

  /**
   * Take in one fix of the receiver, each in its turn and none twice.
   * @param {object} fix as device.js gives it
   * @param {number} nowMs by this phone's clock
   */
  take(fix, nowMs) {
    this.#trail.push(fix);
    if (this.#trail.length > TRAIL) this.#trail.shift();
    this.#gotMs = nowMs;
  }

  /**
   * The course walked last.
   * @param {number} nowMs
   * @returns {number|null} degrees from true north, from the latest earlier fix that is further away than both accuracies
   *   together; null while standing, or while that much was not walked yet
   */
  courseDeg(nowMs) {
    const latest = this.#trail.at(-1);
    if (!latest || nowMs - this.#gotMs > STALE_MS) return null;
    for (let i = this.#trail.length - 2; i >= 0; i -= 1) {
      const earlier = this.#trail[i];
      const walkedM = distanceM(earlier.lat, earlier.lon, latest.lat, latest.lon);
      if (walkedM >= Math.max(LEAST_WALK_M, radius(earlier) + radius(latest))) {
        const lastedS = Math.abs(Date.parse(latest.fixed_at) - Date.parse(earlier.fixed_at)) / 1000;
        return walkedM >= SLOWEST_M_S * lastedS ? bearingDeg(earlier.lat, earlier.lon, latest.lat, latest.lon) : null;
      }
    }
    return null;
  }
}

/**
 * The way from here to a tree.
 * @param {object} here a fix
 * @param {{lat: number, lon: number, accuracy_m: number|null}} tree
 * @param {number|null} courseDeg which way one is walking
 * @returns {{distance_m: number, bearing_deg: number|null, within_m: number, is_near: boolean, turn: number|null,
 *   turn_word: string|null, accuracy_known: boolean}} within_m: both accuracies together; is_near: no further away than that,
 *   so that no direction can be told; turn: eighths of a circle clockwise from straight ahead, null without a course
 */
export function wayTo(here, tree, courseDeg) {
  const distance = distanceM(here.lat, here.lon, tree.lat, tree.lon);
  const bearing = bearingDeg(here.lat, here.lon, tree.lat, tree.lon);
  const within = radius(here) + radius(tree);
  const isNear = distance <= within;
  const turn = isNear || courseDeg === null || bearing === null ? null : eighth(bearing - courseDeg);
  return {
    distance_m: distance,
    bearing_deg: bearing,
    within_m: within,
    is_near: isNear,
    turn,
    turn_word: turn === null ? null : TURNS[turn],
    accuracy_known: Boolean(here.accuracy_m) && Boolean(tree.accuracy_m),
  };
}
