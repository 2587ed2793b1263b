/**
 * Distances and bearings on the ground, in metres and degrees, on WGS 84. Twin of field/core/geodesy.py.
 *
 * Distances go straight through space and are then bent onto the ground: right to 1 mm below 20 km and 0.1 m below
 * 200 km, at every latitude. Beyond, half a per cent up to a quarter of the earth: good enough to say 'far away'.
 */

import { BadInput } from './errors.js';
import { isMissing } from './units.js';

const WGS84_A_M = 6378137.0; // NGA.STND.0036, defining parameter
const WGS84_F = 1 / 298.257223563; // NGA.STND.0036, defining parameter
const WGS84_E2 = WGS84_F * (2 - WGS84_F);
const MEAN_RADIUS_M = 6371008.8; // (2a + b) / 3 of WGS 84
export const RADIANS = Math.PI / 180;

/** Nobody walks farther to get back onto a piece of ground: beyond, no distance is told. */
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
 * Where a position on the ellipsoid is in space: metres from the middle of the earth to 0, 0; to 0, 90 east; to the pole.
 * @param {number} lat degrees
 * @param {number} lon degrees, may be wound further than 180
 * @returns {[number, number, number]}
 */
export function placeInSpace(lat, lon) {
  const sinLat = Math.sin(lat * RADIANS);
  const n = WGS84_A_M / Math.sqrt(1 - WGS84_E2 * sinLat * sinLat);
  const out = n * Math.cos(lat * RADIANS);
  return [out * Math.cos(lon * RADIANS), out * Math.sin(lon * RADIANS), n * (1 - WGS84_E2) * sinLat];
}

/** The way along the ground between two positions, from the straight line between them in space. @param {number} straightM */
export function arcM(straightM) {
  return 2 * MEAN_RADIUS_M * Math.asin(Math.min(1, straightM / (2 * MEAN_RADIUS_M)));
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
  if (lat1 === lat2 && lon1 === lon2) return 0;
  const [x1, y1, z1] = placeInSpace(lat1, lon1);
  const [x2, y2, z2] = placeInSpace(lat2, lon2);
  return arcM(Math.hypot(x2 - x1, y2 - y1, z2 - z1));
}

/**
 * The bearing at the first position towards the second: the direction of the straight line between them in space, seen
 * from the ground at the first.
 * @returns {number|null} degrees clockwise from true north, 0 up to 360; null when both are the same spot. Within 0.01
 *   degrees below 20 km, at every latitude but the pole itself.
 */
export function bearingDeg(lat1, lon1, lat2, lon2) {
  if (lat1 === lat2 && wrapLon(lon2 - lon1) === 0) return null;
  const [x1, , z1] = placeInSpace(lat1, 0);
  const [x2, y2, z2] = placeInSpace(lat2, lon2 - lon1); // the meridian of the first is the plane of x and z
  const sinLat = Math.sin(lat1 * RADIANS);
  const cosLat = Math.cos(lat1 * RADIANS);
  const north = (z2 - z1) * cosLat - (x2 - x1) * sinLat;
  const bearing = Math.atan2(y2, north) / RADIANS;
  return ((bearing % 360) + 360) % 360;
}
