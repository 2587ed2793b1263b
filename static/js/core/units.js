/** Numbers with units: reading them with care, and showing them short. Twin of field/core/units.py. */

import { BadInput } from './errors.js';

const LARGEST = 1e300; // beyond lies no measure of anything, and infinity

/** Whether a value is not known: null, or not there at all. */
export function isMissing(value) {
  return value === null || value === undefined;
}

/** Whether a value is a set of named facts. */
export function isObject(value) {
  return value !== null && typeof value === 'object' && !Array.isArray(value);
}

/**
 * A measured number, or null where it is not known.
 * @param {*} value what was given
 * @param {string} name what it is, with its article: 'The girth'
 * @param {string} where its place in the input
 * @returns {number|null} finite, 0 or more
 * @throws {BadInput} for text, a truth value, a number that is not finite or is negative
 */
export function readMeasure(value, name, where) {
  if (isMissing(value)) return null;
  if (typeof value !== 'number') throw new BadInput(`${name} is not a number.`, 'Give a number, or leave it empty.', where);
  if (!(value >= -LARGEST && value <= LARGEST)) {
    throw new BadInput(`${name} is not a usable number.`, 'Give a number, or leave it empty.', where);
  }
  if (value < 0) throw new BadInput(`${name} is negative.`, 'Give 0 or more, or leave it empty.', where);
  return value;
}

/** A counted number, or null where it is not known; as `readMeasure`, and a fraction is refused as well. */
export function readCount(value, name, where) {
  const number = readMeasure(value, name, where);
  if (number !== null && !Number.isSafeInteger(number)) {
    throw new BadInput(`${name} is not a whole number.`, 'Give a whole number, or leave it empty.', where);
  }
  return number;
}

/** The nearest whole number, halves upwards. */
export function roundHalfUp(number) {
  return Math.floor(number + 0.5);
}

/** A distance in short words: 'less than 1 m', '12 m', '1.4 km'. @param {number} metres */
export function showDistance(metres) {
  if (metres < 1) return 'less than 1 m';
  const whole = roundHalfUp(metres);
  if (whole < 1000) return `${whole} m`;
  const tenths = roundHalfUp(metres / 100);
  return tenths < 100 ? `${Math.floor(tenths / 10)}.${tenths % 10} km` : `${roundHalfUp(metres / 1000)} km`;
}

/** The size of a part of a tree in whole millimetres: '240 mm'. @param {number} mm */
export function showLength(mm) {
  return `${roundHalfUp(mm)} mm`;
}
