/**
 * Distances and bearings on the ground, in metres and degrees, on WGS 84. Twin of field/core/geodesy.py.
 *
 * Only the plane of the two radii is here: right to 1 cm below 5 km and 0.1 m below 20 km, up to 75 degrees of
 * latitude. Beyond, the same formula goes on and grows worse (1 m in 50 km, a few per cent across a continent): good
 * enough to say 'far away', and never used to say 'inside'.
 */

import { BadInput } from './errors.js';
import { isMissing } from './units.js';

const WGS84_A_M = 6378137.0; // NGA.STND.0036, defining parameter
const WGS84_F = 1 / 298.257223563; // NGA.STND.0036, defining parameter
const WGS84_E2 = WGS84_F * (2 - WGS84_F);
const RADIANS = Math.PI / 180;

/** Up to here the formula keeps its promise. */
export const NEAR_M = 20000;

function readDegrees(value, limit, name, where) {
  if (isMissing(value)) throw new BadInput(`The ${name} is missing.`, 'Take a position first.', where);
  if (typeof value !== 'number') throw new BadInput(`The ${name} is not a number.`, 'Give it in decimal degrees.', where);
  if (!(Math.abs(value) <= limit)) { // so written that NaN is refused too
    throw new BadInput(
      `The ${name} must lie between -${limit} and ${limit} degrees.`,
      'Check the position: latitude first, then longitude.',
      where,
    );
  }
  return value;
}

/**
 * A position, checked.
 * @param {*} lat degrees, -90 to 90
 * @param {*} lon degrees, -180 to 180
 * @param {string} where its place in the input
 * @returns {[number, number]} lat, lon
 * @throws {BadInput} if one is missing, no number, or out of range
 */
export function readPosition(lat, lon, where = 'position') {
  return [readDegrees(lat, 90, 'latitude', `${where}.lat`), readDegrees(lon, 180, 'longitude', `${where}.lon`)];
}

/** A longitude, or a difference of two, brought into -180 to 180 degrees. */
export function wrapLon(lon) {
  if (lon >= -180 && lon <= 180) return lon;
  const wrapped = lon % 360;
  if (wrapped > 180) return wrapped - 360;
  return wrapped < -180 ? wrapped + 360 : wrapped;
}

/**
 * How many metres one degree is at a latitude.
 * @param {number} lat degrees
 * @returns {[number, number]} northwards, eastwards
 */
export function metresPerDegree(lat) {
  const sinLat = Math.sin(lat * RADIANS);
  const w2 = 1 - WGS84_E2 * sinLat * sinLat;
  const n = WGS84_A_M / Math.sqrt(w2);
  return [(n * (1 - WGS84_E2)) / w2 * RADIANS, n * Math.cos(lat * RADIANS) * RADIANS];
}

/**
 * The distance between two positions along the ellipsoid; how right it is stands at the top of this file.
 * @param {number} lat1 degrees
 * @param {number} lon1 degrees
 * @param {number} lat2 degrees
 * @param {number} lon2 degrees
 * @returns {number} metres, never negative
 */
export function distanceM(lat1, lon1, lat2, lon2) {
  const [northM, eastM] = metresPerDegree((lat1 + lat2) / 2);
  return Math.hypot((lat2 - lat1) * northM, wrapLon(lon2 - lon1) * eastM);
}

/**
 * The bearing at the first position towards the second: the middle one, turned back by half of how far the meridians
 * run together.
 * @returns {number|null} degrees clockwise from true north, 0 up to 360; null when both are the same spot. Within 0.01
 *   degrees below 20 km, up to 75 degrees of latitude.
 */
export function bearingDeg(lat1, lon1, lat2, lon2) {
  const middle = (lat1 + lat2) / 2;
  const [northM, eastM] = metresPerDegree(middle);
  const dLon = wrapLon(lon2 - lon1);
  const north = (lat2 - lat1) * northM;
  const east = dLon * eastM;
  if (north === 0 && east === 0) return null;
  const bearing = Math.atan2(east, north) / RADIANS - (dLon * Math.sin(middle * RADIANS)) / 2;
  return ((bearing % 360) + 360) % 360;
}
