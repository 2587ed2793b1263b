/**
 * The ground a leave or a site covers: inside, outside or on the line, and how far to the boundary. Twin of
 * field/core/area.py, held to it by tests/vectors/area.json.
 *
 * Areas are GeoJSON Polygons or MultiPolygons. Rings are unwound, so that longitudes run on past 180 where a ring crosses
 * that line; parts that meet along the 180th meridian are one piece of ground, and the line between them no boundary.
 */

import { BadShape } from './errors.js';
import { metresPerDegree } from './geodesy.js';
import { NearestEdge } from './nearest_edge.js';
import { isObject } from './units.js';

export const INSIDE = 'inside';
export const OUTSIDE = 'outside';
export const ON_LINE = 'on';

const ON_LINE_M = 0.001;
const LINE_180 = 180;
const AGAIN = 'Draw the area again.';

/** Whole turns nearest to an angle. */
const turnsOf = (degrees) => Math.floor(degrees / 360 + 0.5);

const shifted = (ring, byDeg) => (byDeg === 0 ? ring : ring.map(([lon, lat]) => [lon + byDeg, lat]));

function* steps(ring) {
  for (let i = 1; i < ring.length; i += 1) yield [ring[i - 1], ring[i]];
}

function lowHigh(numbers) {
  let low = Infinity;
  let high = -Infinity;
  for (const number of numbers) {
    low = Math.min(low, number);
    high = Math.max(high, number);
  }
  return [low, high];
}

// --- reading --------------------------------------------------------------------------------------------------------

function readVertex(value, where) {
  const [lon, lat] = Array.isArray(value) ? value : [];
  if (typeof lon !== 'number' || typeof lat !== 'number') {
    throw new BadShape('A position of the area is not a longitude and a latitude.', AGAIN, where);
  }
  // So written that NaN is refused too. Longitudes up to 360 are for rings that cross the 180th meridian.
  if (!(Math.abs(lat) <= 90)) {
    throw new BadShape('A latitude of the area must lie between -90 and 90 degrees.', 'Check the latitudes.', where);
  }
  if (!(Math.abs(lon) <= 360)) {
    throw new BadShape('A longitude of the area must lie between -180 and 180 degrees.', 'Check the longitudes.', where);
  }
  return [lon, lat];
}

function readList(value, sentence, where) {
  if (!Array.isArray(value)) throw new BadShape(sentence, AGAIN, where);
  return value;
}

const sameSpot = (a, b) => a[0] === b[0] && a[1] === b[1];

function unwind(given) {
  let turns = 0;
  return given.map(([lon, lat], i) => {
    // A step of more than half the earth is a step over the 180th meridian.
    if (i > 0) turns += Number(given[i - 1][0] - lon > 180) - Number(lon - given[i - 1][0] > 180);
    return [lon + 360 * turns, lat];
  });
}

function readRing(value, where) {
  readList(value, 'A ring of the area is no list of positions.', where);
  if (value.length < 4) throw new BadShape('A ring of the area has fewer than 4 positions.', AGAIN, where);
  const given = value.map((vertex, i) => readVertex(vertex, `${where}[${i}]`));
  const ring = unwind(given);
  if (!sameSpot(ring[0], ring.at(-1))) {
    const roundPole = sameSpot(given[0], given.at(-1));
    throw new BadShape(
      roundPole ? 'A ring of the area goes round a pole.' : 'A ring of the area is open.',
      roundPole ? 'Draw it without the pole.' : 'End it where it began.',
      where,
    );
  }
  if (new Set(ring.map(([lon, lat]) => `${lon} ${lat}`)).size < 3) {
    throw new BadShape('A ring of the area has fewer than 3 different positions.', AGAIN, where);
  }
  const [west, east] = lowHigh(ring.map(([lon]) => lon));
  if (east - west >= 180) {
    throw new BadShape('A ring of the area is wider than half the earth.', 'Check the longitudes.', where);
  }
  const beyond = given.some(([lon]) => Math.abs(lon) > 180);
  const reaches180 = (west <= 180 && east >= 180) || (west <= -180 && east >= -180);
  if (beyond && !reaches180) {
    throw new BadShape('A longitude of the area must lie between -180 and 180 degrees.', 'Check the longitudes.', where);
  }
  return ring.filter((vertex, i) => i === 0 || !sameSpot(vertex, ring[i - 1]));
}

function middleLon(ring) {
  const [west, east] = lowHigh(ring.map(([lon]) => lon));
  return (west + east) / 2;
}

function readPart(value, where) {
  readList(value, 'A part of the area is no list of rings.', where);
  if (value.length === 0) throw new BadShape('The area has no ring.', AGAIN, where);
  const [outer, ...holes] = value.map((ring, i) => readRing(ring, `${where}[${i}]`));
  // A hole is brought into the same run of longitudes as the ring around it.
  return [outer, ...holes.map((hole) => shifted(hole, 360 * turnsOf(middleLon(outer) - middleLon(hole))))];
}

// --- parts that meet along the 180th meridian -----------------------------------------------------------------------

function merged(spans) {
  const joined = [];
  for (const [low, high] of [...spans].sort((a, b) => a[0] - b[0] || a[1] - b[1])) {
    const last = joined.at(-1);
    if (last && low <= last[1]) last[1] = Math.max(last[1], high);
    else joined.push([low, high]);
  }
  return joined;
}

function overlaps(some, others) {
  return some
    .flatMap((a) => others.map((b) => [Math.max(a[0], b[0]), Math.min(a[1], b[1])]))
    .filter(([low, high]) => low < high);
}

/** Twice the area of a ring in square degrees: positive when it runs against the clock. */
function signed(ring) {
  const [lon0, lat0] = ring[0];
  let sum = 0;
  for (const [[lon1, lat1], [lon2, lat2]] of steps(ring)) {
    sum += (lon1 - lon0) * (lat2 - lat0) - (lon2 - lon0) * (lat1 - lat0);
  }
  return sum;
}

/** Where a part runs along the 180th meridian: with its ground on the west side, and on the east. */
function seamSpans(part) {
  const west = [];
  const east = [];
  part.forEach((ring, number) => {
    // The ground is on the left of an outer ring that runs against the clock; holes are the other way about.
    const groundOnLeft = (signed(ring) > 0) === (number === 0);
    for (const [[lon1, lat1], [lon2, lat2]] of steps(ring)) {
      if (lon1 === LINE_180 && lon2 === LINE_180 && lat1 !== lat2) {
        const side = (lat2 > lat1) === groundOnLeft ? west : east;
        side.push([Math.min(lat1, lat2), Math.max(lat1, lat2)]);
      }
    }
  });
  return { west: merged(west), east: merged(east) };
}

/** What is left of an edge along the meridian after its seams are taken out. */
function without(lat1, lat2, seams) {
  let low = Math.min(lat1, lat2);
  const high = Math.max(lat1, lat2);
  const left = [];
  for (const [seamLow, seamHigh] of seams) {
    if (seamHigh <= low || seamLow >= high) continue;
    if (seamLow > low) left.push([low, seamLow]);
    low = Math.max(low, seamHigh);
  }
  if (low < high) left.push([low, high]);
  return left;
}

function makePiece(parts, seams) {
  const edges = [];
  for (const ring of parts.flat()) {
    for (const [[lon1, lat1], [lon2, lat2]] of steps(ring)) {
      if (lon1 === LINE_180 && lon2 === LINE_180 && seams.length > 0) {
        edges.push(...without(lat1, lat2, seams).map(([low, high]) => [LINE_180, low, LINE_180, high]));
      } else {
        edges.push([lon1, lat1, lon2, lat2]);
      }
    }
  }
  const corners = parts.flatMap(([outer]) => outer);
  const [west, east] = lowHigh(corners.map(([lon]) => lon));
  const [south, north] = lowHigh(corners.map(([, lat]) => lat));
  return { parts, edges, seams, bounds: [west, south, east, north], nearest: new NearestEdge(edges) };
}

function joinParts(parts) {
  // Each part is wound so that the meridian, if it touches it, is at 180 and not at -180.
  const wound = parts.map((part) => (
    part[0].some(([lon]) => lon === -LINE_180) ? part.map((ring) => shifted(ring, 360)) : part));
  const touches = wound.map(seamSpans);
  let group = parts.map((_, i) => i);
  const seams = parts.map(() => []);
  for (let i = 0; i < parts.length; i += 1) {
    for (let j = 0; j < i; j += 1) {
      const shared = [...overlaps(touches[i].west, touches[j].east), ...overlaps(touches[j].west, touches[i].east)];
      if (shared.length > 0) {
        seams[i].push(...shared);
        const [old, now] = [group[i], group[j]];
        group = group.map((mark) => (mark === old ? now : mark));
      }
    }
  }
  return [...new Set(group)].map((mark) => {
    const members = group.flatMap((other, i) => (other === mark ? [i] : []));
    return makePiece(members.map((i) => wound[i]), merged(members.flatMap((i) => seams[i])));
  });
}

/**
 * A checked area, ready to be asked.
 * @param {*} geometry GeoJSON Polygon or MultiPolygon. A ring that crosses the 180th meridian may jump from 179 to -179 or
 *   run on to 181.
 * @param {string} where place of the geometry in the input
 * @returns {{pieces: object[]}} for `covers` and `boundaryDistanceM`
 * @throws {BadShape} if it is of another type, or a ring is open, has fewer than 4 positions or fewer than 3 different
 *   ones, holds something that is no position, goes round a pole, or is wider than half the earth
 */
export function readArea(geometry, where = 'area') {
  if (!isObject(geometry)) throw new BadShape('The area is not a Polygon or MultiPolygon.', AGAIN, where);
  const { type, coordinates } = geometry;
  if (type !== 'Polygon' && type !== 'MultiPolygon') {
    const named = typeof type === 'string' ? `"${type}"` : 'something without a type';
    throw new BadShape(`The area must be a Polygon or MultiPolygon, not ${named}.`, AGAIN, `${where}.type`);
  }
  const inside = `${where}.coordinates`;
  readList(coordinates, 'The area has no list of rings.', inside);
  const parts = type === 'Polygon'
    ? [readPart(coordinates, inside)]
    : coordinates.map((part, i) => readPart(part, `${inside}[${i}]`));
  if (parts.length === 0) throw new BadShape('The area has no parts.', AGAIN, inside);
  return { pieces: joinParts(parts) };
}

// --- asking ---------------------------------------------------------------------------------------------------------

/** A longitude in the piece's run of longitudes, on its nearer side. */
function nearLon(piece, lon) {
  const [west, , east] = piece.bounds;
  return lon + 360 * turnsOf((west + east) / 2 - lon);
}

/** Whether a position off the line is within a ring, by the count of edges east of it. */
function inRing(ring, lat, x) {
  let inside = false;
  for (const [[lon1, lat1], [lon2, lat2]] of steps(ring)) {
    if ((lat1 > lat) !== (lat2 > lat) && x < lon1 + ((lat - lat1) * (lon2 - lon1)) / (lat2 - lat1)) inside = !inside;
  }
  return inside;
}

/** The [lon, lat] on an edge that is nearest in the plane of the position. */
function nearestSpot(x, lat, [lon1, lat1, lon2, lat2], northM, eastM) {
  const dx = (lon2 - lon1) * eastM;
  const dy = (lat2 - lat1) * northM;
  const square = dx * dx + dy * dy;
  if (square === 0) return [lon1, lat1];
  const along = Math.min(1, Math.max(0, ((x - lon1) * eastM * dx + (lat - lat1) * northM * dy) / square));
  return [lon1 + along * (lon2 - lon1), lat1 + along * (lat2 - lat1)];
}

function pieceCovers(piece, lat, lon) {
  const [west, south, east, north] = piece.bounds;
  const x = nearLon(piece, lon);
  const [northM, eastM] = metresPerDegree(lat);
  const slackY = ON_LINE_M / northM;
  // At the very pole all longitudes are one spot, and no box can be narrow enough.
  const slackX = eastM > ON_LINE_M ? ON_LINE_M / eastM : 360;
  if (!(x >= west - slackX && x <= east + slackX && lat >= south - slackY && lat <= north + slackY)) return OUTSIDE;
  for (const edge of piece.edges) {
    const [lon1, lat1, lon2, lat2] = edge;
    if ((lat1 < lat - slackY && lat2 < lat - slackY) || (lat1 > lat + slackY && lat2 > lat + slackY)) continue;
    if (x < Math.min(lon1, lon2) - slackX || x > Math.max(lon1, lon2) + slackX) continue;
    const spot = nearestSpot(x, lat, edge, northM, eastM);
    if (Math.hypot((spot[0] - x) * eastM, (spot[1] - lat) * northM) <= ON_LINE_M) return ON_LINE;
  }
  if (x === LINE_180 && piece.seams.some(([low, high]) => lat >= low && lat <= high)) return INSIDE;
  const isIn = piece.parts.some(([outer, ...holes]) => inRing(outer, lat, x) && !holes.some((hole) => inRing(hole, lat, x)));
  return isIn ? INSIDE : OUTSIDE;
}

/**
 * Whether a position is on the ground of an area.
 * @param {{pieces: object[]}} area what `readArea` gave
 * @param {number} lat degrees, checked
 * @param {number} lon degrees, checked
 * @returns {'inside'|'outside'|'on'} 'on' within 1 mm of the line
 */
export function covers(area, lat, lon) {
  const got = area.pieces.map((piece) => pieceCovers(piece, lat, lon));
  if (got.includes(INSIDE)) return INSIDE;
  return got.includes(ON_LINE) ? ON_LINE : OUTSIDE;
}

/**
 * The shortest distance from a position to the boundary of an area, from either side.
 * @param {{pieces: object[]}} area what `readArea` gave
 * @param {number} lat degrees, checked
 * @param {number} lon degrees, checked
 * @returns {number} metres, never negative; 0 on the line. How right it is stands in nearest_edge.js.
 *   Where parts overlap, it is the part whose boundary is farthest from a position inside it that counts.
 */
export function boundaryDistanceM(area, lat, lon) {
  const found = area.pieces.map((piece) => pieceCovers(piece, lat, lon));
  const around = area.pieces.filter((_, i) => found[i] === INSIDE);
  if (around.length > 0) return Math.max(...around.map((piece) => piece.nearest.distanceM(lat, lon)));
  if (found.includes(ON_LINE)) return 0;
  return Math.min(...area.pieces.map((piece) => piece.nearest.distanceM(lat, lon)));
}

/**
 * Whether a position lies in a piece that was left out of an area, and on none of its ground.
 * @param {{pieces: object[]}} area what `readArea` gave
 * @param {number} lat degrees, checked
 * @param {number} lon degrees, checked
 */
export function inHole(area, lat, lon) {
  if (covers(area, lat, lon) !== OUTSIDE) return false;
  return area.pieces.some((piece) => {
    const x = nearLon(piece, lon);
    return piece.parts.some(([outer, ...holes]) => inRing(outer, lat, x) && holes.some((hole) => inRing(hole, lat, x)));
  });
}

const asRead = new WeakMap(); // geometry -> area: a map asks the same ground again at every fix

/**
 * Where a position is to an area as it is kept, in one call.
 * @param {object} geometry GeoJSON; must not be changed after it was asked once
 * @param {number} lat degrees, checked
 * @param {number} lon degrees, checked
 * @returns {{covers: boolean, edge_m: number}} covers: inside or on the line; edge_m: metres to the boundary
 * @throws {BadShape} as `readArea`
 */
export function placeInArea(geometry, lat, lon) {
  if (!isObject(geometry) || !asRead.has(geometry)) {
    const area = readArea(geometry);
    asRead.set(geometry, area);
  }
  const area = asRead.get(geometry);
  return { covers: covers(area, lat, lon) !== OUTSIDE, edge_m: boundaryDistanceM(area, lat, lon) };
}
