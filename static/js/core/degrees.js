/**
 * Latitude and longitude as people write them: decimal degrees, and degrees, minutes and seconds. Degrees name a point, so
 * figures are rounded. Twin of field/core/degrees.py.
 */

import { BadInput } from './errors.js';
import { readPosition as checkPosition } from './geodesy.js';
import { UNKNOWN_SQUARE_M } from './squares.js';
import { readMeasure, roundHalfUp } from './units.js';

const METRES_PER_DEGREE = 111320; // of longitude at the equator, WGS 84: the most a degree can be
const MOST_DECIMALS = 7; // 1 cm
const MOST_SECOND_DECIMALS = 3; // 3 cm
const MARKS = '°\'"';
const CURE = 'Write latitude and longitude as in 54.4609 -3.0886 or 54°27\'39"N 3°05\'19"W.';
const KINDS = ['number', 'sign', 'mark', 'letter', 'comma', 'colon'];
// A power of ten (1E-05) is what programs write; its sign keeps it apart from an E for east.
const TOKEN = /((?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:E[-+][0-9]+)?)|([-+])|([°'"])|([NSEW])|([,;])|(:)/y;

/**
 * 'latitude, longitude' in decimal degrees.
 * @param {number} lat degrees
 * @param {number} lon degrees
 * @param {number|null} accuracyM a unit of the last place is the coarsest power of ten not larger; null counts as 10 m
 */
export function showDecimal(lat, lon, accuracyM = null) {
  const places = placesFor(METRES_PER_DEGREE, accuracyM, MOST_DECIMALS);
  return [lat, lon].map((number) => showNumber(number, places)).join(', ');
}

/** Degrees, minutes and seconds, '54°27′39.24″N 3°05′18.96″W'; as `showDecimal`. */
export function showDms(lat, lon, accuracyM = null) {
  const places = placesFor(METRES_PER_DEGREE / 3600, accuracyM, MOST_SECOND_DECIMALS);
  return `${showSexagesimal(lat, places)}${lat < 0 ? 'S' : 'N'} ${showSexagesimal(lon, places)}${lon < 0 ? 'W' : 'E'}`;
}

function placesFor(unitM, accuracyM, most) {
  const known = readMeasure(accuracyM, 'The accuracy of a position', 'accuracy_m');
  const wantedM = known === null ? UNKNOWN_SQUARE_M : known;
  let places = 0;
  for (let unit = unitM; places < most && unit > wantedM; unit /= 10) places += 1;
  return places;
}

function tailOf(rest, places) {
  return places ? `.${String(rest).padStart(places, '0')}` : '';
}

function showNumber(number, places) {
  const units = roundHalfUp(Math.abs(number) * 10 ** places);
  const sign = number < 0 && units ? '-' : '';
  return `${sign}${Math.floor(units / 10 ** places)}${tailOf(units % 10 ** places, places)}`;
}

function showSexagesimal(number, places) {
  const units = roundHalfUp(Math.abs(number) * 3600 * 10 ** places); // rounded once, so that no 60 seconds can stand
  const seconds = Math.floor(units / 10 ** places);
  const two = (part) => String(part).padStart(2, '0');
  const minutes = Math.floor(seconds / 60);
  return `${Math.floor(minutes / 60)}°${two(minutes % 60)}′${two(seconds % 60)}${tailOf(units % 10 ** places, places)}″`;
}

/**
 * Latitude, longitude and notation ('decimal' or 'dms') of a position in degrees.
 * @param {string} text capitals; minus as '-', marks as ° ' "; without letters the latitude comes first
 * @returns {[number, number, string]}
 * @throws {BadInput} if it cannot be read in one way only, or is out of range
 */
export function readDegrees(text) {
  const tokens = splitTokens(settleCommas(text));
  const letters = tokens.flatMap(([kind], i) => (kind === 'letter' ? [i] : []));
  const [first, second] = letters.length ? halvesByLetter(tokens, letters) : halvesWithoutLetters(tokens);
  let one = readCoordinate(first);
  let two = readCoordinate(second);
  if (one.count !== two.count && !letters.length && [one.count, two.count].includes(1)
    && [one.count, two.count].includes(3)) {
    throw new BadInput('Latitude and longitude are written in two different ways.', CURE, 'position');
  }
  if (one.letter !== null && 'EW'.includes(one.letter)) [one, two] = [two, one];
  if (letters.length && !(['N', 'S'].includes(one.letter) && ['E', 'W'].includes(two.letter))) {
    throw new BadInput('One of the two must be north or south, the other east or west.', CURE, 'position');
  }
  const [lat, lon] = checkPosition(one.degrees, two.degrees, 'position');
  return [lat, lon, one.count === 1 && two.count === 1 ? 'decimal' : 'dms'];
}

function splitTokens(text) {
  const tokens = [];
  let at = 0;
  while (at < text.length) {
    if (text[at] === ' ') {
      at += 1;
      continue;
    }
    TOKEN.lastIndex = at;
    const found = TOKEN.exec(text);
    if (!found) {
      throw new BadInput(`'${String.fromCodePoint(text.codePointAt(at))}' has no place in a position.`, CURE, 'position');
    }
    tokens.push([KINDS[found.slice(1).findIndex((part) => part !== undefined)], found[0]]);
    at = TOKEN.lastIndex;
  }
  return tokens;
}

/** Turn decimal commas into points; refuse where a comma may be either. */
function settleCommas(text) {
  const between = (text.match(/[0-9],(?=[0-9])/g) ?? []).length;
  if (text.includes('.') || between === 0) return text;
  const isChain = /[0-9],[0-9]+,[0-9]/.test(text);
  if (!isChain && (between === 2 || (between === 1 && /[°'"NSEW]/.test(text)))) {
    return text.replace(/([0-9]),(?=[0-9])/g, '$1.');
  }
  throw new BadInput(
    'A comma between two figures may be a decimal comma or part the two numbers.',
    'Write decimals with a point, or put a blank after the comma.',
    'position',
  );
}

function halvesByLetter(tokens, letters) {
  if (letters.length === 1) {
    throw new BadInput('North, south, east or west is given for one of the two numbers only.', CURE, 'position');
  }
  if (letters.length > 2) {
    throw new BadInput('There are more than two letters for north, south, east or west.', CURE, 'position');
  }
  // Either each number follows its letter, or each letter its number.
  const part = letters[0] === 0 ? letters[1] : letters[0] + 1;
  return [tokens.slice(0, part), tokens.slice(part)];
}

function halvesWithoutLetters(tokens) {
  const commas = tokens.flatMap(([kind], i) => (kind === 'comma' ? [i] : []));
  if (commas.length === 1) return [tokens.slice(0, commas[0]), tokens.slice(commas[0] + 1)];
  const numbers = tokens.flatMap(([kind], i) => (kind === 'number' ? [i] : []));
  const degrees = tokens.flatMap(([, word], i) => (word === '°' ? [i - 1] : []));
  if (commas.length || numbers.length < 2) {
    throw new BadInput('That is not one latitude and one longitude.', CURE, 'position');
  }
  let part;
  if (degrees.length === 2) [, part] = degrees;
  else if ([2, 4, 6].includes(numbers.length)) part = numbers[numbers.length / 2];
  else throw new BadInput('It is not clear where the latitude ends and the longitude begins.', CURE, 'position');
  if (part > 0 && tokens[part - 1][0] === 'sign') part -= 1;
  return [tokens.slice(0, part), tokens.slice(part)];
}

/** Degrees with their sign, letter, and how many numbers, of a latitude or a longitude. */
function readCoordinate(tokens) {
  const letter = tokens.find(([kind]) => kind === 'letter')?.[1] ?? null;
  let rest = tokens.filter(([kind]) => kind !== 'letter' && kind !== 'comma');
  let isNegative = letter === 'S' || letter === 'W';
  if (rest.length && rest[0][0] === 'sign') {
    isNegative = rest[0][1] === '-';
    rest = rest.slice(1);
    if (letter !== null) {
      throw new BadInput(`A sign and the letter ${letter} stand at the same number.`, 'Leave out one of them.', 'position');
    }
  }
  const parts = readParts(rest);
  if (!(parts.length >= 1 && parts.length <= 3)) {
    throw new BadInput('That is not one latitude and one longitude.', CURE, 'position');
  }
  ['minutes', 'seconds'].forEach((name, i) => {
    if (parts[i + 1] >= 60) {
      throw new BadInput(`There are 60 ${name} or more.`, 'Minutes and seconds go up to 59.', 'position');
    }
  });
  if (parts.slice(0, -1).some((part) => !Number.isInteger(part))) {
    throw new BadInput('Only the last of degrees, minutes and seconds may have decimals.', CURE, 'position');
  }
  const value = parts.reduce((sum, part, i) => sum + part / 60 ** i, 0);
  return { degrees: isNegative ? -value : value, letter, count: parts.length };
}

function readParts(tokens) {
  const parts = [];
  let wasNumber = false;
  for (const [kind, word] of tokens) {
    if (kind === 'number') {
      parts.push(Number(word));
    } else if (kind === 'mark') {
      if (!wasNumber || MARKS.indexOf(word) !== parts.length - 1) {
        throw new BadInput(`The mark ${word} is not where it belongs.`, CURE, 'position');
      }
    } else if (kind === 'sign' || !wasNumber) {
      throw new BadInput(`'${word}' is not where it belongs.`, CURE, 'position');
    }
    wasNumber = kind === 'number';
  }
  return parts;
}
