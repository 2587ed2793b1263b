/** A position that was typed: where it is, how sure its figures make it, and what this phone knows of that spot. */

import { bearingDeg, metresPerDegree } from '../core/geodesy.js';
import { BadInput } from '../core/errors.js';
import { readPosition } from '../core/gridref.js';
import { margin, metresBetween, siteAt } from './ground_facts.js';
import { compassWord } from './way_back.js';
import { showDistance } from '../ui/words.js';

/** What is said under a field for a position. */
export const TYPED_HINT = 'Degrees, a grid reference, MGRS or UTM: 54.4609 -3.0886, or NY 2953 0782';
const SHARE_68 = Math.sqrt(0.68 / Math.PI); // of a square's side: a circle that holds 68 % of the square
// Figures are copied more easily than they are known: no map and no receiver in a hand vouches for less. Common practice.
const LEAST_M = 5;

/** The longer side of the cell that the last figures of a position in degrees name, in metres; null where it cannot be told. */
function cellM(text, lat) {
  if (/[0-9]e[-+][0-9]/i.test(text)) return null; // a power of ten, as programs write it
  const numbers = text.match(text.includes('.') ? /[0-9]*\.?[0-9]+/g : /[0-9]+(?:,[0-9]+)?/g) ?? [];
  const parts = numbers.length / 2;
  if (![1, 2, 3].includes(parts)) return null;
  const unitOf = (number) => 60 ** (1 - parts) / 10 ** (/[.,]([0-9]+)$/.exec(number)?.[1].length ?? 0);
  const coarsest = Math.max(unitOf(numbers[parts - 1]), unitOf(numbers[2 * parts - 1]));
  return coarsest * Math.max(...metresPerDegree(lat));
}

/** As readPosition; where a single sign or letter is named as the fault, it is said first that the whole is no position. */
function read(text) {
  try {
    return readPosition(text);
  } catch (fault) {
    if (!(fault instanceof BadInput) || !fault.message.startsWith("'")) throw fault;
    throw new BadInput(`That is no position in any notation read here: ${fault.message}`, 'Write it as 54.4609 -3.0886, or as NY 2953 0782.', fault.where);
  }
}

/**
 * Read a typed position.
 * @param {string} text in any notation of core/gridref.js
 * @returns {{lat: number, lon: number, notation: string, figures_m: number|null, accuracy_m: number|null}} figures_m: the
 *   68 % radius of the square that its figures name; accuracy_m: the same, but never under 5 m; null where neither can be told
 * @throws {BadInput} with one sentence and its cure
 */
export function readTyped(text) {
  const { lat, lon, notation, square_m: squareM } = read(text);
  const side = squareM ?? cellM(text, lat);
  const figures = side === null ? null : side * SHARE_68;
  return { lat, lon, notation, figures_m: figures, accuracy_m: figures === null ? null : Math.max(LEAST_M, figures) };
}

/** How sure a typed position is where the person says so: never surer than its figures can be. */
export function saidAccuracy(typed, saidM) {
  if (saidM === null) return typed.accuracy_m;
  return Math.max(saidM, typed.figures_m ?? 0);
}

/** '340 m north-east of here'. @param {{lat: number, lon: number}} from @param {{lat: number, lon: number}} to */
export function wayWords(from, to, of = 'of here') {
  const bearing = bearingDeg(from.lat, from.lon, to.lat, to.lon);
  const metres = metresBetween(from, to);
  return bearing === null || metres < 1 ? `just ${of === 'of here' ? 'here' : 'there'}` : `${showDistance(metres)} ${compassWord(bearing)} ${of}`;
}

/** Which site a position is on, in words, and where its accuracy leaves that open. @param {object[]} sites merged records */
export function siteWords(sites, place) {
  const { site, near } = siteAt(sites, { ...place, accuracy_m: 0 });
  const name = (one) => one.fields.name ?? 'an unnamed site';
  if (site) return `On ${name(site)}`;
  if (!near) return 'On no site kept here';
  const away = showDistance(near.distance_m);
  if (near.distance_m <= margin(place)) return `Perhaps on ${name(near.site)}: ${away} outside it by its figures`;
  return `On no site: ${name(near.site)} is ${away} away`;
}
