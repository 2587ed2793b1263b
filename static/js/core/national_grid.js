/**
 * The British National Grid and the Irish Grid. Twin of field/core/national_grid.py, where sources and accuracy are told:
 * up to 5 m from the surveyed grid in Britain, about 1 m in Ireland, so neither is shown finer than ten metres.
 */

import { BadInput } from './errors.js';
import { AIRY, AIRY_MODIFIED, Helmert, Projection, WGS84 } from './mercator.js';
import { HUNDRED_KM, readFigures, showFigures, squareFor } from './squares.js';

const LETTERS = 'ABCDEFGHJKLMNOPQRSTUVWXYZ'; // five rows of five from the north-west; I is not used
const LEAST_SQUARE_M = 10;
const BRITISH_EAST_M = 700000;
const BRITISH_NORTH_M = 1300000;
const IRISH_SIDE_M = 500000;

const BRITISH = new Projection(AIRY, 49, -2, 0.9996012717, 400000, -100000);
const TO_BRITISH = new Helmert(-446.448, 125.157, -542.06, 20.4894, -0.1502, -0.247, -0.8421);
const IRISH = new Projection(AIRY_MODIFIED, 53.5, -8, 1.000035, 200000, 250000);
const FROM_IRISH = new Helmert(482.5, -130.6, 564.6, 8.15, -1.042, -0.214, -0.631);

// The 100 km squares that hold land of Great Britain or the Isle of Man.
const BRITISH_SQUARES = {
  H: 'PTUWXYZ', N: 'ABCDFGHJKLMNORSTUWXYZ', O: 'V', S: 'CDEHJKMNOPRSTUVWXYZ', T: 'AFGLMQRV',
};
const FRENCH_COAST = ['TR', 645000]; // east of this the square holds only France
// Far outside, the projection goes round the earth and gives figures that look like some of the grid.
const BRITISH_BOUNDS = { south: 49, north: 62, west: -10, east: 3 };
const IRISH_WEST = -12;
// Mid-channel between Ireland and Great Britain: latitude, and the longitude that parts the two grids there.
const CHANNEL_LAT = [51.3, 52.2, 53.4, 54.2, 54.8, 55.05, 55.3, 55.5];
const CHANNEL_LON = [-6.0, -5.95, -5.4, -5.2, -5.3, -5.6, -5.95, -6.0];

/** [easting, northing] in metres on the British National Grid, of degrees on WGS 84. */
export function toBritish(lat, lon) {
  return BRITISH.toGrid(...TO_BRITISH.apply(lat, lon, WGS84, AIRY));
}

/** [lat, lon] on WGS 84 of metres on the British National Grid. */
export function fromBritish(eastM, northM) {
  return TO_BRITISH.undo(...BRITISH.fromGrid(eastM, northM), AIRY, WGS84);
}

/** [easting, northing] in metres on the Irish Grid, of degrees on WGS 84. */
export function toIrish(lat, lon) {
  return IRISH.toGrid(...FROM_IRISH.undo(lat, lon, WGS84, AIRY_MODIFIED));
}

/** [lat, lon] on WGS 84 of metres on the Irish Grid. */
export function fromIrish(eastM, northM) {
  return FROM_IRISH.apply(...IRISH.fromGrid(eastM, northM), AIRY_MODIFIED, WGS84);
}

/** The two letters of the 100 km square, null off the grid (0 to 700 km east, 0 to 1300 km north). */
export function britishLetters(eastM, northM) {
  if (!(eastM >= 0 && eastM < BRITISH_EAST_M && northM >= 0 && northM < BRITISH_NORTH_M)) return null;
  const [east, north] = [Math.floor(eastM / HUNDRED_KM), Math.floor(northM / HUNDRED_KM)];
  // The 500 km square at the origin is S: fourth row, third column.
  const first = (3 - Math.floor(north / 5)) * 5 + 2 + Math.floor(east / 5);
  return LETTERS[first] + LETTERS[(4 - (north % 5)) * 5 + (east % 5)];
}

/** The letter of the 100 km square, null off the grid (0 to 500 km both ways). */
export function irishLetter(eastM, northM) {
  if (!(eastM >= 0 && eastM < IRISH_SIDE_M && northM >= 0 && northM < IRISH_SIDE_M)) return null;
  return LETTERS[(4 - Math.floor(northM / HUNDRED_KM)) * 5 + Math.floor(eastM / HUNDRED_KM)];
}

/**
 * A British grid reference, 'NY 2944 0821', or null where that grid does not apply.
 * @param {number} lat degrees
 * @param {number} lon degrees
 * @param {number|null} accuracyM the square shown is the coarsest not larger, and never under 10 m
 */
export function showBritish(lat, lon, accuracyM = null) {
  const { south, north, west, east } = BRITISH_BOUNDS;
  if (!(lat > south && lat < north && lon > west && lon < east) || liesTowardsIreland(lat, lon)) return null;
  const [eastM, northM] = toBritish(lat, lon);
  const letters = britishLetters(eastM, northM);
  if (letters === null || !(BRITISH_SQUARES[letters[0]] ?? '').includes(letters[1])) return null;
  if (letters === FRENCH_COAST[0] && eastM > FRENCH_COAST[1]) return null;
  return join(letters, eastM, northM, accuracyM);
}

/** An Irish grid reference, 'O 1590 3467', or null where that grid does not apply; as `showBritish`. */
export function showIrish(lat, lon, accuracyM = null) {
  if (!liesTowardsIreland(lat, lon)) return null;
  const [eastM, northM] = toIrish(lat, lon);
  const letter = irishLetter(eastM, northM);
  return letter === null ? null : join(letter, eastM, northM, accuracyM);
}

function join(letters, eastM, northM, accuracyM) {
  return [letters, ...showFigures(eastM, northM, squareFor(accuracyM, LEAST_SQUARE_M))].filter(Boolean).join(' ');
}

/**
 * The square that a British grid reference names, in metres on that grid.
 * @param {string} letters two capitals
 * @param {string} figures what follows them
 * @throws {BadInput} if no square has those letters, or as `readFigures`
 */
export function readBritish(letters, figures) {
  if (letters.includes('I')) throw noLetterI(letters);
  const [first, second] = [...letters].map((letter) => LETTERS.indexOf(letter));
  const east = (((first % 5) - 2) * 5 + (second % 5)) * HUNDRED_KM;
  const north = ((3 - Math.floor(first / 5)) * 5 + 4 - Math.floor(second / 5)) * HUNDRED_KM;
  if (britishLetters(east, north) !== letters) {
    throw new BadInput(
      `There is no square ${letters} on the British grid.`, 'Check the two letters, as in NY or SU.', 'position',
    );
  }
  return shifted(readFigures(figures), east, north);
}

/** The square that an Irish grid reference names, in metres on that grid; as `readBritish`, one letter. */
export function readIrish(letter, figures) {
  if (letter === 'I') throw noLetterI(letter);
  const place = LETTERS.indexOf(letter);
  return shifted(readFigures(figures), (place % 5) * HUNDRED_KM, (4 - Math.floor(place / 5)) * HUNDRED_KM);
}

function shifted(square, east, north) {
  return { east_m: east + square.east_m, north_m: north + square.north_m, side_m: square.side_m };
}

function noLetterI(letters) {
  return new BadInput(
    `There is no square ${letters}: grids leave out the letter I.`, 'Perhaps it is a J or a 1.', 'position',
  );
}

/** Whether a position is west of mid-channel, at the latitudes of Ireland. */
function liesTowardsIreland(lat, lon) {
  if (!(lat >= CHANNEL_LAT[0] && lat < CHANNEL_LAT.at(-1) && lon > IRISH_WEST)) return false;
  const i = CHANNEL_LAT.findIndex((edge) => edge > lat) - 1;
  const share = (lat - CHANNEL_LAT[i]) / (CHANNEL_LAT[i + 1] - CHANNEL_LAT[i]);
  return lon < CHANNEL_LON[i] + share * (CHANNEL_LON[i + 1] - CHANNEL_LON[i]);
}
