/** A mix for a box: litres, mass, and the water and air it may hold. Twin of field/core/mix.py, where every figure has its source. */

import { BadInput } from './errors.js';
import { plainNumber } from './rounded.js';

const SETTLING = 0.1;
const MIX_SPREAD = 0.1;
const SHALLOW_CM = 3.8;
const DEEP_CM = 15.2;
const FALLS = [0.2, 0.42];
const MEASURED_AT_CM = 7.6;
const MOST_BOX_L = 20_000;

export const ADDED = { code: 'cannot-be-added', text: 'The water and air of a mix cannot be added up from its parts: small grains fill the spaces between large ones. Take these as bounds, and weigh a wet and a dry box of your own.' };
export const DEPTH = { code: 'shallow-is-wetter', text: 'The same mix stays wetter in a shallow box than in a deep one: a layer at the bottom stays full.' };

/**
 * The parts of a mix, each with its share of the whole.
 * @param {Record<string, number>} amounts material -> parts by volume; they need not add to 100
 * @param {Record<string, object>} materials of the pack; one that is not there is taken as not known in all it holds
 * @returns {{material: object, share: number}[]} in the order given; none where all are nought
 */
export function readParts(amounts, materials) {
  const told = Object.entries(amounts ?? {}).filter(([, amount]) => typeof amount === 'number' && amount > 0 && Number.isFinite(amount));
  const whole = told.reduce((sum, [, amount]) => sum + amount, 0);
  const strange = (name) => ({ name, words: name.replaceAll('-', ' '), water_pct: null, air_pct: null, total_pct: null, dry_kg_l: null, wet_kg_l: null });
  return told.map(([name, amount]) => ({ material: Object.hasOwn(materials, name) ? materials[name] : strange(name), share: amount / whole }));
}

/**
 * The inside volume of a box in litres.
 * @param {number} lengthMm of a round one its diameter @param {number|null} widthMm null: it is round @param {number} heightMm
 */
export function boxVolumeL(lengthMm, widthMm, heightMm) {
  const area = widthMm === null ? (Math.PI / 4) * lengthMm ** 2 : lengthMm * widthMm;
  return (area * heightMm) / 1e6;
}

function addUp(parts, cell, litres) {
  let [low, high] = [0, 0];
  for (const { material, share } of parts) {
    const told = material[cell];
    if (told === null) return null;
    low += told.low * share * litres;
    high += told.high * share * litres;
  }
  return [low, high];
}

function spread(told, parts) {
  return told === null || parts.length === 1 ? told : [told[0] * (1 - MIX_SPREAD), told[1] * (1 + MIX_SPREAD)];
}

/**
 * By how much a depth changes the water a mix holds, against the depth it is measured at.
 * @returns {[number, number]} the lower and the higher factor
 */
export function depthFactors(depthCm) {
  const at = Math.max(SHALLOW_CM, Math.min(DEEP_CM, depthCm));
  const span = DEEP_CM - SHALLOW_CM;
  const factors = FALLS.map((fall) => (1 - (fall * (at - SHALLOW_CM)) / span) / (1 - (fall * (MEASURED_AT_CM - SHALLOW_CM)) / span));
  return [Math.min(...factors), Math.max(...factors)];
}

/** How much of a drained mix is water, lowest and highest in % of its volume; null when not known. */
export function waterRange(parts, depthCm = null) {
  const told = spread(addUp(parts, 'water_pct', 1), parts);
  if (told === null) return null;
  const [least, most] = depthFactors(depthCm ?? MEASURED_AT_CM);
  const total = addUp(parts, 'total_pct', 1);
  const mostOfAll = total === null ? 100 : total[1];
  return [Math.min(told[0] * least, mostOfAll), Math.min(told[1] * most, mostOfAll)];
}

/** Refuse a volume or depth that no box has. @throws {BadInput} */
export function checkBox(boxL, depthCm) {
  if (!(boxL > 0 && boxL <= MOST_BOX_L)) throw new BadInput(`A box of ${plainNumber(boxL)} L is none.`, `Give its inside volume in litres, up to ${MOST_BOX_L}.`, 'box_l');
  if (depthCm !== null && !(depthCm >= 1 && depthCm <= 300)) throw new BadInput(`A mix ${plainNumber(depthCm)} cm deep is in no box.`, 'Give centimetres, 1 to 300.', 'depth_cm');
}

/**
 * The litres of each part for a box, its mass dry and wet, and its water and air as ranges.
 * @param {{material: object, share: number}[]} parts of `readParts`
 * @param {number} boxL inside volume
 * @param {number|null} [depthCm] of the mix; null: water is told as it is measured, 7.6 cm deep
 * @returns {{litres: [string, number][], dry_kg: number[]|null, wet_kg: number[]|null, water_pct: number[]|null, air_pct: number[]|null, cautions: object[]}}
 * @throws {BadInput} for a volume or depth that no box has
 */
export function planMix(parts, boxL, depthCm = null) {
  checkBox(boxL, depthCm);
  const cautions = [{ code: 'settling', text: '10% more than the box holds is reckoned in, for the mix settles.' }];
  const unknown = parts.filter(({ material }) => material.water_pct === null).map(({ material }) => material.words);
  if (unknown.length > 0) cautions.push({ code: 'not-known', text: `How much water it holds was not found for: ${unknown.join(', ')}.` });
  if (parts.length > 1) cautions.push(ADDED);
  cautions.push(DEPTH);
  return {
    litres: parts.map(({ material, share }) => [material.name, share * boxL * (1 + SETTLING)]),
    dry_kg: addUp(parts, 'dry_kg_l', boxL), wet_kg: addUp(parts, 'wet_kg_l', boxL),
    water_pct: waterRange(parts, depthCm), air_pct: spread(addUp(parts, 'air_pct', 1), parts),
    cautions,
  };
}
