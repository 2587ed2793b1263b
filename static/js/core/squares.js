/**
 * What grid references have in common: figures that name a square, and how large a square fits an accuracy. Figures are cut
 * off, never rounded. Twin of field/core/squares.py.
 */

import { BadInput } from './errors.js';
import { readMeasure } from './units.js';

export const HUNDRED_KM = 100000;
const TOUCH_M = 1e-6; // a value this close below a whole metre is that metre: the last bits of arithmetic are no place
/** Shown where nobody knows how good a position is. Common practice. */
export const UNKNOWN_SQUARE_M = 10;
const FIGURES_CURE = 'Give the same number of figures eastwards and northwards, as in NN 166 712.';

/** [easting, northing] of the middle of a square {east_m, north_m, side_m}. */
export function centreOf(square) {
  return [square.east_m + square.side_m / 2, square.north_m + square.side_m / 2];
}

/** Corners, middles of the sides and centre of a square. */
export function spotsOf(square) {
  const steps = [0, square.side_m / 2, square.side_m];
  return steps.flatMap((east) => steps.map((north) => [square.east_m + east, square.north_m + north]));
}

/**
 * The side of the coarsest square that is not larger than an accuracy: 1, 10, 100 ... metres.
 * @param {number|null} accuracyM metres; null is not known, and gives a ten metre square
 * @param {number} leastM the finest square the notation can vouch for
 * @param {number} mostM the coarsest it can write
 * @returns {number} metres
 * @throws {BadInput} if the accuracy is no measure
 */
export function squareFor(accuracyM, leastM = 1, mostM = HUNDRED_KM) {
  const known = readMeasure(accuracyM, 'The accuracy of a position', 'accuracy_m');
  let side = known === null ? UNKNOWN_SQUARE_M : 1;
  while (known !== null && side * 10 <= known && side < mostM) side *= 10;
  return Math.min(Math.max(side, leastM), mostM);
}

/** How many whole squares of a side fit below a number of metres. */
export function cut(metres, sideM) {
  return Math.floor((metres + TOUCH_M) / sideM);
}

/** The figures of a spot within its 100 km square, eastwards and northwards; empty for that square itself. */
export function showFigures(eastM, northM, sideM) {
  const whole = HUNDRED_KM / sideM;
  const count = String(whole).length - 1;
  if (count === 0) return ['', ''];
  return [eastM, northM].map((metres) => String(cut(metres, sideM) % whole).padStart(count, '0'));
}

/**
 * The square that the figures after the letters name, within its 100 km square.
 * @param {string} text figures in one block or in two of equal length; blanks and commas between them
 * @returns {{east_m: number, north_m: number, side_m: number}}
 * @throws {BadInput} if something else stands among them, or they are too many, uneven or in more than two blocks
 */
export function readFigures(text) {
  const stray = /[^0-9 ,]/u.exec(text);
  if (stray) {
    throw new BadInput(`There is a '${stray[0]}' among the figures of the grid reference.`, FIGURES_CURE, 'position');
  }
  const blocks = text.match(/[0-9]+/g) ?? [];
  const figures = blocks.join('');
  if (figures.length % 2 || blocks.length > 2 || (blocks.length === 2 && blocks[0].length !== blocks[1].length)) {
    throw new BadInput('The figures of the grid reference are uneven.', FIGURES_CURE, 'position');
  }
  if (figures.length > 10) {
    throw new BadInput(
      'The grid reference has more than ten figures.', 'Ten figures already name a square metre.', 'position',
    );
  }
  const count = figures.length / 2;
  const side = 10 ** (5 - count);
  return { east_m: Number(figures.slice(0, count)) * side, north_m: Number(figures.slice(count)) * side, side_m: side };
}
