/**
 * Boxes around pieces of ground, and the least distance to them: what tells in a moment which of thousands of sites are
 * worth measuring. A box never says 'inside'; it only says 'not nearer than'.
 */

import { RADIANS } from './geodesy.js';

// The least radius of curvature of WGS 84 is a(1 - e²) = 6 335 439 m, in the meridian at the equator; a little less, so that
// what a sphere leaves out can never make a box seem farther than it is.
const LEAST_RADIUS_M = 6_270_000;
const FAR_M = 10_000_000; // beyond a quarter of the earth, distances themselves are told only roughly
const ROOM_DEG = 1e-6; // for the millimetre within which a position is on a line, up to the pole's last metres

/**
 * The boxes of an area, one a piece.
 * @param {{pieces: {bounds: number[]}[]}} area what `readArea` gave
 * @returns {[number, number, number, number][]} west, south, east, north in degrees; longitudes may run on past 180
 */
export function boxesOf(area) {
  return area.pieces.map(({ bounds: [west, south, east, north] }) => [
    west - ROOM_DEG, Math.max(-90, south - ROOM_DEG), east + ROOM_DEG, Math.min(90, north + ROOM_DEG),
  ]);
}

/**
 * Metres that the ground within a box is away at the least; 0 within the box, never more than 10 000 km.
 * @param {[number, number, number, number]} box
 * @param {number} lat degrees
 * @param {number} lon degrees
 */
export function leastMetres([west, south, east, north], lat, lon) {
  const northDeg = lat < south ? south - lat : Math.max(0, lat - north);
  // How far the longitude is past either side, the shorter way round.
  const past = (((lon - east) % 360) + 360) % 360;
  const before = (((west - lon) % 360) + 360) % 360;
  const within = past === 0 || before === 0 || past + before > 360;
  const eastDeg = within ? 0 : Math.min(past, before, 90);
  // To a meridian the way is asin(cos lat sin dLon); a quarter turn off and more, it is that to the pole.
  const across = Math.asin(Math.cos(lat * RADIANS) * Math.sin(eastDeg * RADIANS));
  return Math.min(FAR_M, LEAST_RADIUS_M * Math.max(northDeg * RADIANS, across));
}
