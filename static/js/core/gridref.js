/**
 * A position in every notation people use on the hill, and read from any of them. None of it makes a navigation or rescue
 * device. Twin of field/core/gridref.py.
 */

import { readDegrees, showDecimal, showDms } from './degrees.js';
import { BadInput } from './errors.js';
import { readPosition as checkPosition } from './geodesy.js';
import { fromBritish, fromIrish, readBritish, readIrish, showBritish, showIrish } from './national_grid.js';
import { centreOf } from './squares.js';
import { POLAR, POLAR_CURE, readMgrs, readUtm, showMgrs, showUtm } from './utm.js';

const LONGEST = 100;
const CURE = 'Write degrees (54.4609 -3.0886), a grid reference (NY 295 078), MGRS or UTM.';
// What keyboards and web pages put in place of the plain signs.
const PLAIN = [
  [/[−–—‒‐]/g, '-'],
  [/[′’‘´`ʹ]/g, "'"],
  [/[″”“ʺ]/g, '"'],
  [/[º˚]/g, '°'],
  [/[\t\n\r\u00a0\u2007\u2009\u200a\u202f]/g, ' '],
];
const WORDS = { NORTH: 'N', SOUTH: 'S', EAST: 'E', WEST: 'W', DEGREES: '°', DEG: '°' };
const MGRS_LIKE = /^([0-9]{1,2}) ?([A-Z]) ?([A-Z]) ?([A-Z])(?![A-Z])(.*)$/s;
const UTM_LIKE = /^(?:UTM )?(?:ZONE )?([0-9]{1,2}) ?(NORTH|SOUTH|[A-Z])[ ,]+([0-9]{5,}.*)$/s;
const UTM_METRES = /^([0-9]+)(?:\.([0-9]+))? ?(?:M ?E|E|M)?[ ,]+([0-9]+)(?:\.([0-9]+))? ?(?:M ?N|N|M)?$/;
const POLAR_LIKE = /^[ABYZ] ?[A-Z] ?[A-Z] ?[0-9 ]*$/;
const BRITISH_LIKE = /^([A-Z]) ?([A-Z])(?![A-Z])(?=$|.*[0-9])(.*)$/s;
const IRISH_LIKE = /^([A-Z])(?![A-Z])(?=$|.*[0-9])(.*)$/s;
const LABELS = /^LAT(?:ITUDE)?[ :=]*([^A-Z]+?[NS]?)[ ,;]*LON(?:G|GITUDE)?[ :=]*([^A-Z]+[EW]?)$/;

/**
 * A position in every notation, null under each that does not apply there.
 * @param {number} lat degrees, WGS 84
 * @param {number} lon degrees
 * @param {number|null} accuracyM figures name the coarsest square not larger, in steps of ten; null counts as 10 m. The
 *   British and the Irish grid are never shown finer than 10 m
 * @returns {Object<string, string|null>} decimal, dms, utm, mgrs, gb_grid, irish_grid
 * @throws {BadInput} if it is no position, or the accuracy no measure
 */
export function notations(lat, lon, accuracyM = null) {
  checkPosition(lat, lon);
  return {
    decimal: showDecimal(lat, lon, accuracyM),
    dms: showDms(lat, lon, accuracyM),
    utm: showUtm(lat, lon, accuracyM),
    mgrs: showMgrs(lat, lon, accuracyM),
    gb_grid: showBritish(lat, lon, accuracyM),
    irish_grid: showIrish(lat, lon, accuracyM),
  };
}

/**
 * The position that a person typed, in any notation of `notations`.
 * @param {*} text blanks, case, commas and kinds of degree signs do not matter; N, S, E, W stand before or after
 * @returns {{lat: number, lon: number, notation: string, square_m: number|null}} a grid reference names a square: the
 *   position is its centre and square_m its side; null for degrees, which name a point
 * @throws {BadInput} with one sentence, for what can be read in no way or in more than one
 */
export function readPosition(text) {
  const plain = plainText(text);
  for (const read of [asMgrs, asUtm, asPolar, asBritish, asIrish]) {
    const found = read(plain);
    if (found !== null) return found;
  }
  return asDegrees(plain);
}

function plainText(text) {
  if (typeof text !== 'string') throw new BadInput('A position is typed as text.', CURE, 'position');
  const plain = PLAIN.reduce((left, [signs, sign]) => left.replace(signs, sign), text)
    .toUpperCase().replaceAll("''", '"').replace(/ +/g, ' ').replace(/^ | $/g, '');
  if (plain === '') throw new BadInput('No position is given.', CURE, 'position');
  if (plain.length > LONGEST) throw new BadInput('That is too long to be a position.', CURE, 'position');
  return plain;
}

function answer([lat, lon], notation, squareM) {
  return { lat, lon, notation, square_m: squareM };
}

function asMgrs(text) {
  const found = MGRS_LIKE.exec(text);
  if (!found) return null;
  const [lat, lon, sideM] = readMgrs(Number(found[1]), found[2], found[3] + found[4], found[5]);
  return answer([lat, lon], 'mgrs', sideM);
}

function asUtm(text) {
  const found = UTM_LIKE.exec(text);
  if (!found) return null;
  const metres = UTM_METRES.exec(found[3]);
  if (!metres) {
    throw new BadInput(
      'UTM needs an easting and a northing in metres.', 'Write it as in 30U 494256 6034807.', 'position',
    );
  }
  const [, east, eastPlaces = '', north, northPlaces = ''] = metres;
  const sideM = 10 ** -Math.max(eastPlaces.length, northPlaces.length);
  const square = {
    east_m: Number(`${east}.${eastPlaces || 0}`), north_m: Number(`${north}.${northPlaces || 0}`), side_m: sideM,
  };
  return answer(readUtm(Number(found[1]), found[2], square), 'utm', sideM);
}

function asPolar(text) {
  if (POLAR_LIKE.test(text)) throw new BadInput(POLAR, POLAR_CURE, 'position');
  return null;
}

function asBritish(text) {
  const found = BRITISH_LIKE.exec(text);
  if (!found) return null;
  const square = readBritish(found[1] + found[2], found[3]);
  return answer(fromBritish(...centreOf(square)), 'gb_grid', square.side_m);
}

function asIrish(text) {
  const found = IRISH_LIKE.exec(text);
  if (!found) return null;
  const [, letter, rest] = found;
  if ('NSEW'.includes(letter)) {
    if (/[NSEW.°'":+-]/.test(rest)) return null;
    if ((rest.match(/[0-9]/g) ?? []).length < 6) {
      throw new BadInput(
        `${text} may be half of a position in degrees, or a square of the Irish grid.`,
        'Add the other half, or write six figures or more.',
        'position',
      );
    }
  }
  const square = readIrish(letter, rest);
  return answer(fromIrish(...centreOf(square)), 'irish_grid', square.side_m);
}

function asDegrees(typed) {
  let text = typed;
  const labelled = LABELS.exec(text);
  if (labelled) text = `${labelled[1]}${/[A-Z]/.test(labelled[1] + labelled[2]) ? ' ' : '; '}${labelled[2]}`;
  for (const [word, sign] of Object.entries(WORDS)) {
    text = text.replace(new RegExp(`(^|[^A-Z])${word}(?![A-Z])`, 'g'), `$1${sign}`);
  }
  if (/^[0-9]{4,7}(?:\.[0-9]+)?[ ,;]+[0-9]{4,7}(?:\.[0-9]+)?$/.test(text)) {
    throw new BadInput(
      'Those look like an easting and a northing without their grid.',
      'Put the letters of the square or the UTM zone before them.',
      'position',
    );
  }
  const [lat, lon, notation] = readDegrees(text);
  return answer([lat, lon], notation, null);
}
