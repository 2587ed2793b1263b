/**
 * How far a position is from the nearest of many edges, in space: true at every latitude, and over the 180th meridian.
 * Twin of field/core/nearest_edge.py, which says how it is done and how right it is.
 */

import { arcM, placeInSpace, RADIANS } from './geodesy.js';

const SURE_M = 0.001; // edges are halved until the distance is known to this
const WIDEST_M = 6399594; // a²/b, the greatest radius of curvature of WGS 84
const SIZE = 8; // numbers a chord: start, step to the end, square of its length, greatest way off it

/** The chord between two places in space, put down in `out`, its first number in the place `at`. */
function putChord(out, at, start, end, dLat, dLon) {
  const dx = end[0] - start[0];
  const dy = end[1] - start[1];
  const dz = end[2] - start[2];
  const north = Math.abs(dLat) * RADIANS;
  const east = Math.abs(dLon) * RADIANS;
  const radius = Math.min(WIDEST_M, Math.max(Math.hypot(start[0], start[1]), Math.hypot(end[0], end[1])) + WIDEST_M * north);
  [out[at], out[at + 1], out[at + 2]] = start;
  out[at + 3] = dx;
  out[at + 4] = dy;
  out[at + 5] = dz;
  out[at + 6] = dx * dx + dy * dy + dz * dz;
  out[at + 7] = (WIDEST_M * north * (north + 2 * east) + radius * east * east) / 8;
}

/** The straight way in space from a position to an edge, or `best` where the edge does not come nearer. */
function closestM([lon1, lat1, lon2, lat2], here, best) {
  const chord = new Float64Array(SIZE);
  const pieces = [[lon1, lat1, placeInSpace(lat1, lon1), lon2, lat2, placeInSpace(lat2, lon2)]];
  let nearest = best;
  while (pieces.length > 0) {
    const [lonA, latA, start, lonB, latB, end] = pieces.pop();
    putChord(chord, 0, start, end, latB - latA, lonB - lonA);
    const [x, y, z] = [chord[0] - here[0], chord[1] - here[1], chord[2] - here[2]];
    const down = -(x * chord[3] + y * chord[4] + z * chord[5]);
    const along = down <= 0 ? 0 : Math.min(1, down / chord[6]);
    const chordM = Math.hypot(x + along * chord[3], y + along * chord[4], z + along * chord[5]);
    if (chordM - chord[7] >= nearest - SURE_M) continue;
    const spot = placeInSpace(latA + along * (latB - latA), lonA + along * (lonB - lonA));
    nearest = Math.min(nearest, Math.hypot(spot[0] - here[0], spot[1] - here[1], spot[2] - here[2]));
    if (chordM - chord[7] >= nearest - SURE_M) continue;
    const [lat, lon] = [(latA + latB) / 2, (lonA + lonB) / 2];
    const middle = placeInSpace(lat, lon);
    pieces.push([lon, lat, middle, lonB, latB, end], [lonA, latA, start, lon, lat, middle]);
  }
  return nearest;
}

/** Edges that can be asked how far a position is from them; made ready when they are asked first. */
export class NearestEdge {
  #edges;

  #chords = null;

  #mostBendM = 0;

  /** @param {[number, number, number, number][]} edges lon, lat, lon, lat in degrees, longitudes unwound */
  constructor(edges) {
    this.#edges = edges;
  }

  #makeReady() {
    const chords = new Float64Array(this.#edges.length * SIZE);
    this.#edges.forEach(([lon1, lat1, lon2, lat2], i) => {
      putChord(chords, i * SIZE, placeInSpace(lat1, lon1), placeInSpace(lat2, lon2), lat2 - lat1, lon2 - lon1);
      this.#mostBendM = Math.max(this.#mostBendM, chords[i * SIZE + 7]);
    });
    this.#chords = chords;
  }

  /**
   * The shortest distance from a position to any of the edges.
   * @param {number} lat degrees, checked
   * @param {number} lon degrees, checked
   * @returns {number} metres along the ground, never negative; within 2 mm up to 20 km and 0.1 m up to 200 km, at every
   *   latitude; farther off within 0.5 % up to 10 000 km
   */
  distanceM(lat, lon) {
    if (this.#chords === null) this.#makeReady();
    const c = this.#chords;
    const here = placeInSpace(lat, lon);
    const [px, py, pz] = here;
    const room = 2 * this.#mostBendM + SURE_M;
    const found = [];
    let shortest2 = Infinity;
    let limit2 = Infinity;
    for (let i = 0; i < c.length; i += SIZE) {
      let ax = c[i] - px;
      let ay = c[i + 1] - py;
      let az = c[i + 2] - pz;
      const down = -(ax * c[i + 3] + ay * c[i + 4] + az * c[i + 5]);
      if (down > 0) { // the nearest spot is not the first end; so the chord has a length
        const along = down < c[i + 6] ? down / c[i + 6] : 1;
        ax += along * c[i + 3];
        ay += along * c[i + 4];
        az += along * c[i + 5];
      }
      const away2 = ax * ax + ay * ay + az * az;
      if (away2 <= limit2) {
        found.push([away2, i / SIZE]);
        if (away2 < shortest2) {
          shortest2 = away2;
          limit2 = (Math.sqrt(away2) + room) ** 2;
        }
      }
    }
    const close = found.filter(([away2]) => away2 <= limit2).sort((a, b) => a[0] - b[0] || a[1] - b[1]);
    return arcM(close.reduce((best, [, number]) => closestM(this.#edges[number], here, best), Infinity));
  }
}
