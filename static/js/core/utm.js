/**
 * UTM and MGRS: zones with their exceptions, bands, squares; from positions and back. Twin of field/core/utm.py.
 * Both cover 80 degrees south to 84 north; beyond, the polar grid (UPS) takes over, which is not written or read here.
 */

import { BadInput } from './errors.js';
import { wrapLon } from './geodesy.js';
import { Projection, WGS84 } from './mercator.js';
import { HUNDRED_KM, centreOf, cut, readFigures, showFigures, spotsOf, squareFor } from './squares.js';

const SOUTH_END = -80;
const NORTH_END = 84;
const BANDS = 'CDEFGHJKLMNPQRSTUVWX'; // 8 degrees each from 80 S; X has 12
const COLUMNS = ['ABCDEFGH', 'JKLMNPQR', 'STUVWXYZ']; // of zones 1, 4 ...; 2, 5 ...; 3, 6 ... (NGA.STND.0037, 3-2)
const ROWS = 'ABCDEFGHJKLMNPQRSTUV'; // from the equator in zones of odd number, five on in the others
const ROWS_M = 2000000; // after which the rows begin again
const SOUTH_NORTHING_M = 10000000; // what the equator is called south of it
const MOST_UTM_SQUARE_M = 1000; // figures filled up with more zeros would look like a place
// References are also written a little beyond the edge of their zone, so that a sheet keeps one grid.
const ZONE_OVERLAP_M = 100000;
const BAND_SLACK = 0.01; // degrees: a kilometre, the coarsest square shown in UTM
/** What is said where UTM and MGRS end. */
export const POLAR = 'Near the poles UPS takes the place of UTM and MGRS, and it is not used here.';
/** What to do there. */
export const POLAR_CURE = 'Give latitude and longitude.';

/** The number of the UTM zone, 1 to 60, with the exceptions of Norway and Svalbard (NGA.STND.0037, 3-1). */
export function zoneFor(lat, lon) {
  const east = lon >= 180 ? -180 : lon;
  if (lat >= 56 && lat < 64 && east >= 3 && east < 12) return 32;
  if (lat >= 72 && east >= 0 && east < 42) {
    if (east < 9) return 31;
    if (east < 21) return 33;
    return east < 33 ? 35 : 37;
  }
  return Math.min(Math.floor((east + 180) / 6) + 1, 60); // a hair west of 180 the sum is 360
}

/** The letter of the latitude band; the position must lie in the covered range. */
export function bandFor(lat) {
  return BANDS[Math.min(Math.floor((lat - SOUTH_END) / 8), BANDS.length - 1)];
}

function isCovered(lat) {
  return lat >= SOUTH_END && lat <= NORTH_END;
}

/**
 * Zone, band, easting and northing of a position.
 * @param {number} lat degrees, WGS 84
 * @param {number} lon degrees
 * @returns {[number, string, number, number]} metres; south of the equator northings count from 10 000 km below it
 * @throws {BadInput} beyond 80 south or 84 north, where UPS takes over
 */
export function toUtm(lat, lon) {
  if (!isCovered(lat)) throw new BadInput(POLAR, POLAR_CURE, 'position.lat');
  const [zone, band] = [zoneFor(lat, lon), bandFor(lat)];
  // By the band, not by the sign: a hair south of the equator the sum in it is already that of band N.
  return [zone, band, ...projection(zone, band < 'N').toGrid(lat, lon)];
}

/**
 * Zone and band, easting and northing in whole metres, '30U 494256 6034807'; null near the poles.
 * @param {number|null} accuracyM figures below the coarsest square not larger are zeros (at most three)
 */
export function showUtm(lat, lon, accuracyM = null) {
  if (!isCovered(lat)) return null;
  const [zone, band, east, north] = toUtm(lat, lon);
  const side = squareFor(accuracyM, 1, MOST_UTM_SQUARE_M);
  const figures = (metres, count) => String(cut(metres, side) * side).padStart(count, '0');
  return `${zone}${band} ${figures(east, 6)} ${figures(north, 7)}`;
}

/**
 * An MGRS reference, '30UVF9425634807'; null near the poles.
 * @param {number|null} accuracyM the square shown is the coarsest not larger
 */
export function showMgrs(lat, lon, accuracyM = null) {
  if (!isCovered(lat)) return null;
  const [zone, band, east, north] = toUtm(lat, lon);
  const column = COLUMNS[(zone - 1) % 3][cut(east, HUNDRED_KM) - 1];
  const row = ROWS[(cut(north, HUNDRED_KM) + rowShift(zone)) % ROWS.length];
  const figures = showFigures(east, north, squareFor(accuracyM)).join('');
  return `${String(zone).padStart(2, '0')}${band}${column}${row}${figures}`;
}

/**
 * [lat, lon] of the centre of a square in UTM.
 * @param {number} zone 1 to 60
 * @param {string} letter the band, or 'NORTH' or 'SOUTH' for the half of the earth; a single N or S is always the band
 * @param {{east_m: number, north_m: number, side_m: number}} square of one metre or less
 * @throws {BadInput} if there is no such zone or band, or the place does not lie in it
 */
export function readUtm(zone, letter, square) {
  checkZone(zone, letter);
  const isSouth = letter === 'SOUTH' || (letter.length === 1 && letter < 'N');
  const { east_m: east, north_m: north } = square;
  if (!(east >= 100000 && east <= 900000 && north >= 0 && north <= SOUTH_NORTHING_M)) {
    throw new BadInput(
      'That easting or northing lies outside its zone.',
      'An easting has six figures before the point, a northing up to seven; the easting comes first.',
      'position',
    );
  }
  const [lat, lon] = projection(zone, isSouth).fromGrid(...centreOf(square));
  if (letter.length === 1 && !bandTouches(letter, lat, BAND_SLACK)) {
    throw new BadInput(
      `That northing does not lie in band ${letter}.`,
      'The letter is the latitude band; for a half of the earth write north or south in full.',
      'position',
    );
  }
  checkInZone(zone, [[lat, lon]]);
  return [lat, lon];
}

/**
 * [lat, lon, side in metres] of the centre of the square that an MGRS reference names.
 * @param {number} zone 1 to 60
 * @param {string} band a capital
 * @param {string} letters the two of the 100 km square
 * @param {string} figures what follows them
 * @throws {BadInput} if there is no such zone, band or square, or as `readFigures`
 */
export function readMgrs(zone, band, letters, figures) {
  checkZone(zone, band);
  const column = COLUMNS[(zone - 1) % 3].indexOf(letters[0]);
  const row = ROWS.indexOf(letters[1]);
  if (column < 0 || row < 0) {
    throw new BadInput(`There is no square ${letters} in zone ${zone}.`, 'Check the two letters after the zone.', 'position');
  }
  const within = readFigures(figures);
  const grid = projection(zone, band < 'N');
  const first = ((row - rowShift(zone) + ROWS.length) % ROWS.length) * HUNDRED_KM;
  for (let north = first; north < SOUTH_NORTHING_M; north += ROWS_M) {
    const square = {
      east_m: (column + 1) * HUNDRED_KM + within.east_m, north_m: north + within.north_m, side_m: within.side_m,
    };
    const spots = spotsOf(square).map((spot) => grid.fromGrid(...spot));
    if (spots.some(([lat]) => bandTouches(band, lat, 1e-5))) {
      checkInZone(zone, spots);
      return [...grid.fromGrid(...centreOf(square)), square.side_m];
    }
  }
  throw new BadInput(
    `Square ${letters} of zone ${zone} does not lie in band ${band}.`, 'Check zone, band and letters.', 'position',
  );
}

function projection(zone, isSouth) {
  return new Projection(WGS84, 0, zone * 6 - 183, 0.9996, 500000, isSouth ? SOUTH_NORTHING_M : 0); // NGA.STND.0037, 2-1
}

function rowShift(zone) {
  return zone % 2 ? 0 : 5;
}

function bandTouches(band, lat, slack) {
  const south = SOUTH_END + 8 * BANDS.indexOf(band);
  return south - slack <= lat && lat <= (band === 'X' ? NORTH_END : south + 8) + slack;
}

function checkZone(zone, band) {
  if (!(zone >= 1 && zone <= 60)) throw new BadInput(`There is no zone ${zone}.`, 'Zones are numbered 1 to 60.', 'position');
  if (['A', 'B', 'Y', 'Z'].includes(band)) throw new BadInput(POLAR, POLAR_CURE, 'position');
  if (band.length === 1 && !BANDS.includes(band)) {
    throw new BadInput(`There is no band ${band}.`, 'Bands are lettered C to X, without I and O.', 'position');
  }
  if (band === 'X' && [32, 34, 36].includes(zone)) {
    throw new BadInput(`There is no zone ${zone} in band X.`, 'Its neighbours take its place there.', 'position');
  }
}

/** Refuse a place so far from its zone that one of the two must be a slip; the wide northern ones count as wide. */
function checkInZone(zone, spots) {
  const isNear = ([lat, lon]) => {
    const beyond = Math.abs(wrapLon(lon - (zone * 6 - 183))) - (lat >= 55 ? 6 : 3);
    return beyond * 111320 * Math.cos((lat * Math.PI) / 180) <= ZONE_OVERLAP_M;
  };
  if (!spots.some(isNear)) {
    throw new BadInput(`That place does not lie in zone ${zone}.`, 'Check the zone and the easting.', 'position');
  }
}
