/** How long a box may last between two waterings, as a range: twin of field/core/drying.py. Never an order to water. */

import { BadInput } from './errors.js';
import { ADDED, checkBox, DEPTH, waterRange } from './mix.js';
import { fixed, plainNumber } from './rounded.js';

const COEFFICIENTS = { fresh: [0.3, 0.6], recovering: [0.8, 1.2], vigorous: [1.5, 3] };
const STATE_WORDS = { fresh: 'freshly lifted, in shade', recovering: 'recovering', vigorous: 'growing strongly' };
const GUARD = 0.5;
const THIRSTY = 4;
const LOOK_DAYS = 7;
const MOST_CANOPY_CM = 2000;

const WEIGH = { code: 'weigh-and-feel', text: 'This is an expectation and no order to water: weigh the box, and feel the mix a finger deep.' };
const BARE_MIX = { code: 'bare-mix', text: 'For about two months after potting most of the loss is from the bare mix and not through the leaves: a cover of moss or bark lengthens it (Beeson 2012, HortScience 47:264).' };
const BARE_TREE = { code: 'bare-tree', text: 'At this time of year the tree should stand bare: it uses far less than this says, and the box dries by its open top alone. It may still dry out in wind and frost, and too much water rots resting roots.' };
const NO_DRYING = { code: 'no-drying', text: 'By this reckoning the air takes nothing that day; wind still dries a box.' };
const LOOK_WEEKLY = { code: 'look-weekly', text: 'Look at the box once a week all the same.' };
const IS_THIRSTY = { code: 'thirsty', text: 'This kind is thirsty: expect the shorter end (common practice, no source).' };

/** The states of a tree, with their words. */
export const STATES = Object.entries(STATE_WORDS);

/** The depth of a square box half as deep as it is wide. */
export const usualDepthCm = (boxL) => Math.cbrt(2000 * boxL) / 2;

const intervalOf = (available, use) => (use[0] > 0 ? [available[0] / use[1], available[1] / use[0]] : null);

/**
 * How many days a box may last on days like this one; ranges are [lowest, highest].
 * @param {{material: object, share: number}[]} parts of `readParts` in mix.js
 * @param {number} boxL inside volume @param {number} canopyCm across the crown; 0 for none
 * @param {number} et0 reference evapotranspiration of the day, mm
 * @param {{state?: string|null, depth_cm?: number|null, moisture_1_5?: number|null, is_bare?: boolean}} [told] state: of STATES,
 *   null: not told, and the range spans all; depth_cm: of the mix; moisture_1_5: how thirsty the kind is by its card
 * @throws {BadInput} for a box, crown, state or figure that cannot be, or a mix whose water is not known
 */
export function boxDrying(parts, boxL, canopyCm, et0, { state = null, depth_cm: depth = null, moisture_1_5: moisture = null, is_bare: isBare = false } = {}) {
  checkBox(boxL, depth);
  if (!(canopyCm >= 0 && canopyCm <= MOST_CANOPY_CM)) throw new BadInput(`A crown ${plainNumber(canopyCm)} cm across is none.`, 'Give centimetres, 0 to 2000.', 'canopy_cm');
  if (!(et0 >= 0 && et0 <= 100)) throw new BadInput('That much water no air takes in a day.', 'Give mm a day.', 'et0_mm_d');
  if (state !== null && !Object.hasOwn(COEFFICIENTS, state)) throw new BadInput('That is no state of a tree.', `Known are: ${Object.keys(COEFFICIENTS).join(', ')}.`, 'state');
  const deep = depth ?? usualDepthCm(boxL);
  const water = waterRange(parts, deep);
  if (water === null) {
    const names = parts.filter(({ material }) => material.water_pct === null).map(({ material }) => material.words).join(', ');
    throw new BadInput(`How much water it holds was not found for ${names}.`, 'Leave it out, or weigh a wet and a dry box instead.', 'mix');
  }
  const box = boxL / 1000 / (deep / 100);
  const crown = (Math.PI / 4) * (canopyCm / 100) ** 2;
  const [area, areaOf] = crown > box ? [crown, 'crown'] : [box, 'box'];
  const available = water.map((pct) => ((boxL * pct) / 100) * GUARD);
  const uses = Object.fromEntries(Object.entries(COEFFICIENTS).map(([name, range]) => [name, range.map((one) => one * et0 * area)]));
  const use = state === null ? [uses.fresh[0], uses.vigorous[1]] : uses[state];
  const interval = intervalOf(available, use);
  return {
    area_m2: area, area_of: areaOf, available_l: available, use_l_d: use, interval_d: interval,
    by_state: Object.fromEntries(Object.entries(uses).map(([name, one]) => [name, intervalOf(available, one)])),
    why: reasons({ state, depth, deep, area, areaOf, water, et0 }), cautions: mind({ state, parts, moisture, interval, isBare }),
  };
}

function reasons({ state, depth, deep, area, areaOf, water, et0 }) {
  const [low, high] = (state === null ? [COEFFICIENTS.fresh[0], COEFFICIENTS.vigorous[1]] : COEFFICIENTS[state]).map((one) => fixed(one, 1));
  const how = state === null
    ? `How the tree does was not told, so this spans everything from freshly lifted (${low}) to strong (${high}).`
    : `A tree that is ${STATE_WORDS[state]} uses ${low} to ${high} times that (common practice, no source).`;
  return [
    { code: 'air', text: `A day like this takes ${fixed(et0, 1)} mm from short grass, as many litres from a square metre (FAO-56, from temperatures alone).` },
    { code: 'area', text: `It is reckoned over ${fixed(area, 2)} m², ${areaOf === 'crown' ? 'the crown' : 'the open top of the box'}, the larger of crown and box.` },
    { code: 'state', text: how },
    { code: 'holds', text: `The drained mix holds ${fixed(water[0], 0)} to ${fixed(water[1], 0)} % of its volume in water, the mix is ${fixed(deep, 0)} cm deep${depth === null ? ', taken as half the side of the box' : ''}; half of that is used before watering (common practice).` },
  ];
}

function mind({ state, parts, moisture, interval, isBare }) {
  const said = [WEIGH];
  if (isBare) said.push(BARE_TREE);
  if (interval === null) said.push(NO_DRYING);
  else if (interval[1] > LOOK_DAYS) said.push(LOOK_WEEKLY);
  if (moisture !== null && moisture >= THIRSTY && !isBare) said.push(IS_THIRSTY);
  if (state === null || state === 'fresh') said.push(BARE_MIX);
  said.push(DEPTH);
  if (parts.length > 1) said.push(ADDED);
  return said;
}
