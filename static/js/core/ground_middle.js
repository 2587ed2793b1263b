/** A position in the middle of an area, on its ground: what a letter names the place by. Twin of field/core/ground_middle.py. */

import { wrapLon } from './geodesy.js';

/** The centroid of a ring and its signed area, in degrees; of a ring without ground its first corner. */
function centroid(ring) {
  const [lon0, lat0] = ring[0];
  let [total, x, y] = [0, 0, 0];
  for (let i = 1; i < ring.length; i += 1) {
    const [[x1, y1], [x2, y2]] = [ring[i - 1], ring[i]];
    const cross = (x1 - lon0) * (y2 - lat0) - (x2 - lon0) * (y1 - lat0);
    total += cross;
    x += (x1 + x2 - 2 * lon0) * cross;
    y += (y1 + y2 - 2 * lat0) * cross;
  }
  return total === 0 ? [lon0, lat0, 0] : [lon0 + x / (3 * total), lat0 + y / (3 * total), total / 2];
}

/** The longitudes at which a ring crosses a parallel: an even number of them. */
function crossings(ring, lat) {
  const found = [];
  for (let i = 1; i < ring.length; i += 1) {
    const [[x1, y1], [x2, y2]] = [ring[i - 1], ring[i]];
    if ((y1 > lat) !== (y2 > lat)) found.push(x1 + ((lat - y1) / (y2 - y1)) * (x2 - x1));
  }
  return found;
}

/** The item for which `size` is largest; of equal ones the first. */
function largest(items, size) {
  return items.reduce((best, one) => (size(one) > size(best) ? one : best));
}

/**
 * The centroid of the largest part; where that lies in a hole or outside, the middle of the widest stretch of ground on its
 * parallel. Reckoned in longitude and latitude: for naming a place, not for measuring.
 * @param {{pieces: object[]}} area what `readArea` of area.js gave
 * @returns {{lat: number, lon: number}} degrees, on the ground of the area
 */
export function middleOf(area) {
  const part = largest(area.pieces.flatMap((piece) => piece.parts), ([outer]) => Math.abs(centroid(outer)[2]));
  const [lon, lat] = centroid(part[0]);
  const cuts = part.flatMap((ring) => crossings(ring, lat)).sort((a, b) => a - b);
  const stretches = cuts.flatMap((west, i) => (i % 2 === 0 ? [[west, cuts[i + 1]]] : []));
  if (stretches.length === 0 || stretches.some(([west, east]) => west <= lon && lon <= east)) return { lat, lon: wrapLon(lon) };
  const [west, east] = largest(stretches, ([from, to]) => to - from);
  return { lat, lon: wrapLon((west + east) / 2) };
}
