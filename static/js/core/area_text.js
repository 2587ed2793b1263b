/** Areas of ground from corners or from GeoJSON text: checked, with one clear sentence when they will not do. */

const MOST_CORNERS = 2000; // enough for any boundary walked or traced; more would make every check on the hill slow

/** What is wrong with an area, in a sentence for the person. */
export class AreaFault extends Error {}

function checkRing(ring, name) {
  if (!Array.isArray(ring) || ring.length < 4) {
    throw new AreaFault(`${name} has too few corners. An area needs three corners, and the first one again at the end.`);
  }
  if (ring.length > MOST_CORNERS) throw new AreaFault(`${name} has ${ring.length} corners. At most ${MOST_CORNERS} can be kept; thin the line first.`);
  ring.forEach((corner, i) => {
    const [lon, lat] = Array.isArray(corner) ? corner : [];
    if (typeof lon !== 'number' || typeof lat !== 'number' || !Number.isFinite(lon) || !Number.isFinite(lat)) {
      throw new AreaFault(`${name}, corner ${i + 1} is not a pair of numbers. Each corner is [longitude, latitude] in degrees.`);
    }
    if (Math.abs(lat) > 90 || Math.abs(lon) > 180) {
      throw new AreaFault(`${name}, corner ${i + 1} lies off the earth: longitude ${lon}, latitude ${lat}. Longitude comes first, both in degrees, not in metres of a grid.`);
    }
  });
  const [first, last] = [ring[0], ring[ring.length - 1]];
  if (first[0] !== last[0] || first[1] !== last[1]) throw new AreaFault(`${name} is not closed. Its last corner must be the same as its first.`);
  const crossing = findCrossing(ring);
  if (crossing) throw new AreaFault(`${name} crosses itself between corner ${crossing[0] + 1} and corner ${crossing[1] + 1}. Put the corners in the order they are walked.`);
  return ring.map(([lon, lat]) => [lon, lat]);
}

/** Which side of a-b the point c lies on: sign of the doubled area of the triangle. */
function side(a, b, c) {
  return Math.sign((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]));
}

/** The numbers of two edges of a closed ring that cross, or null. Edges are compared in plain degrees: sites are small. */
function findCrossing(ring) {
  const last = ring.length - 1;
  for (let i = 0; i < last; i += 1) {
    for (let j = i + 2; j < last; j += 1) {
      if (i === 0 && j === last - 1) continue; // neighbours over the closing corner
      const [a, b, c, d] = [ring[i], ring[i + 1], ring[j], ring[j + 1]];
      if (side(a, b, c) * side(a, b, d) < 0 && side(c, d, a) * side(c, d, b) < 0) return [i, j];
    }
  }
  return null;
}

/**
 * Close corners into an area.
 * @param {{lat: number, lon: number}[]} corners in walking order, the first not repeated
 * @returns {object} GeoJSON Polygon
 * @throws {AreaFault}
 */
export function areaFromCorners(corners) {
  if (corners.length < 3) throw new AreaFault(`An area needs at least three corners; there ${corners.length === 1 ? 'is 1' : `are ${corners.length}`} so far.`);
  const ring = [...corners, corners[0]].map(({ lat, lon }) => [lon, lat]);
  return { type: 'Polygon', coordinates: [checkRing(ring, 'The boundary')] };
}

/**
 * The corners of an area that is one ring without holes; null for any other, which cannot be moved corner by corner.
 * @param {object|null} boundary GeoJSON
 */
export function cornersOf(boundary) {
  if (boundary?.type !== 'Polygon' || boundary.coordinates.length !== 1) return null;
  return boundary.coordinates[0].slice(0, -1).map(([lon, lat]) => ({ lat, lon }));
}

function partsOf(thing) {
  switch (thing?.type) {
    case 'Polygon':
      return [thing.coordinates];
    case 'MultiPolygon':
      return thing.coordinates;
    case 'Feature':
      return partsOf(thing.geometry);
    case 'FeatureCollection':
      return (Array.isArray(thing.features) ? thing.features : []).flatMap(partsOf);
    case 'GeometryCollection':
      return (Array.isArray(thing.geometries) ? thing.geometries : []).flatMap(partsOf);
    default:
      return [];
  }
}

/**
 * Read an area out of GeoJSON text. Points and lines beside it are passed over; areas are taken together.
 * @param {string} text
 * @returns {object} GeoJSON Polygon or MultiPolygon
 * @throws {AreaFault}
 */
export function readAreaText(text) {
  let thing;
  try {
    thing = JSON.parse(text);
  } catch {
    throw new AreaFault('This is not GeoJSON: it cannot be read to its end. Copy the whole text, from its first { to its last }.');
  }
  const parts = partsOf(thing);
  if (parts.length === 0) throw new AreaFault('There is no area in this text. It must hold a Polygon or a MultiPolygon.');
  const checked = parts.map((part, p) => {
    if (!Array.isArray(part) || part.length === 0) throw new AreaFault(`Part ${p + 1} is empty.`);
    const name = parts.length === 1 ? 'The outline' : `The outline of part ${p + 1}`;
    return part.map((ring, r) => checkRing(ring, r === 0 ? name : `Hole ${r} of ${name.toLowerCase()}`));
  });
  return checked.length === 1 ? { type: 'Polygon', coordinates: checked[0] } : { type: 'MultiPolygon', coordinates: checked };
}

const RAD = Math.PI / 180;
const A_M = 6_378_137; // WGS 84
const F = 1 / 298.257223563; // WGS 84
const E2 = F * (2 - F);
const E = Math.sqrt(E2);

/** Metres north of the equator on a sheet that keeps areas true, with the equator at its true length (Snyder 1987, 10-15 to 10-17, 3-12). */
function equalAreaNorth(lat) {
  const sine = Math.sin(lat * RAD);
  return (A_M / 2) * (1 - E2) * (sine / (1 - E2 * sine * sine) - Math.log((1 - E * sine) / (1 + E * sine)) / (2 * E));
}

/** Square metres of one ring on the ellipsoid; within 1 in 10,000 of geodesic edges for a site of some kilometres. */
function ringSquareMetres(ring) {
  const [lon0, lat0] = ring[0];
  const north0 = equalAreaNorth(lat0);
  const corners = ring.map(([lon, lat]) => [A_M * RAD * (((((lon - lon0 + 180) % 360) + 360) % 360) - 180), equalAreaNorth(lat) - north0]);
  let doubled = 0;
  for (let i = 0; i < corners.length - 1; i += 1) doubled += corners[i][0] * corners[i + 1][1] - corners[i + 1][0] * corners[i][1];
  return Math.abs(doubled / 2);
}

/** How large an area is, in hectares, holes left out. */
export function areaHa(boundary) {
  const parts = boundary.type === 'MultiPolygon' ? boundary.coordinates : [boundary.coordinates];
  const squareMetres = parts.reduce((sum, [outline, ...holes]) => sum + ringSquareMetres(outline) - holes.reduce((less, hole) => less + ringSquareMetres(hole), 0), 0);
  return squareMetres / 10_000;
}
