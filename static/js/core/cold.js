/** Whether the roots of a boxed tree stand a night's cold: twin of field/core/cold.py, where every figure has its source. */

import { daysBetween } from './dates.js';
import { BadInput } from './errors.js';
import { fixed, plainNumber } from './rounded.js';

export const COLDEST_C = -90;
export const HOTTEST_C = 60;
const NEAR_C = 3;
const SHALLOW_BOX_CM = 15;
const FIRST_YEAR_DAYS = 365;
const UNHARDENED_MONTHS = [8, 9, 10, 11];
const UNHARDENED_MONTHS_SOUTH = [2, 3, 4, 5];

const CONTACT = { code: 'ground-contact', text: 'Set the box on the ground and pack it round: raised, or on stone or metal, it cools from all sides.' };
const SHALLOW = { code: 'shallow-box', text: 'A shallow box freezes through first; count on the shorter time.' };
const UNHARDENED = { code: 'not-hardened', text: 'Before midwinter roots are not hardened yet: pines frozen in late October mostly died of a cold that most of them lived through in January.' };

/** A temperature in words. */
export const degreesWords = (tempC) => `${fixed(tempC, 1).replace(/^-0\.0$/, '0.0')} °C`.replace('.0 ', ' ').replace('-', '−');

function lineFor(card, on, liftedOn) {
  const isFirstYear = liftedOn === null || daysBetween(liftedOn, on) < FIRST_YEAR_DAYS;
  const [told, source] = card.traits[isFirstYear ? 'protect_below_c_year1' : 'protect_below_c_later'];
  let line = told;
  let whose = liftedOn === null ? 'freshly lifted, as its lift is not known' : isFirstYear ? 'in the first year' : 'after the first year';
  const reasons = [];
  if (liftedOn === null) reasons.push({ code: 'lift-not-known', text: `When it was lifted is not known: freshly cut roots are assumed (${source}).` });
  else if (isFirstYear) reasons.push({ code: 'first-year', text: `In the first year after the lift the roots are freshly cut (${source}).` });
  else reasons.push({ code: 'later-years', text: `The lift is more than a year past (${source}).` });
  const young = card.traits.root_kill_young_c;
  if (young && young[0] > line) {
    [line] = young;
    whose = 'with young roots';
    reasons.push({ code: 'young-roots', text: `Young roots of this kind die near ${degreesWords(young[0])} (${young[1]}).` });
  }
  if (card.stands_in) reasons.push({ code: 'stands-in', text: 'This kind has no card of its own: the careful one stands in.' });
  return { line, whose, reasons };
}

/**
 * Whether a night is safe for the roots of a tree in a box.
 * @param {{name: string, stands_in: boolean, traits: object}} card traits: name -> [value, source]
 * @param {number} tminC lowest air temperature of the night, logged or forecast
 * @param {string} on the day that the night belongs to
 * @param {string|null} liftedOn null: not known, the line of the first year holds
 * @param {{south?: boolean, box_depth_cm?: number|null}} [tree]
 * @returns {{answer: 'safe'|'near'|'shelter', line_c: number, reasons: object[], cautions: object[]}}
 * @throws {BadInput} for a temperature that no night has
 */
export function judgeNight(card, tminC, on, liftedOn, { south = false, box_depth_cm: depth = null } = {}) {
  if (!(tminC >= COLDEST_C && tminC <= HOTTEST_C)) throw new BadInput(`A night of ${plainNumber(tminC)} °C was never measured anywhere.`, `Give degrees Celsius between ${COLDEST_C} and ${HOTTEST_C}.`, 'tmin');
  const { line, whose, reasons } = lineFor(card, on, liftedOn);
  const [answer, how] = tminC <= line ? ['shelter', 'is at or below'] : tminC < line + NEAR_C ? ['near', `is less than ${NEAR_C} degrees above`] : ['safe', 'is well above'];
  const said = [{ code: answer, text: `${degreesWords(tminC)} ${how} ${degreesWords(line)}, the line for ${card.name} ${whose}.` }, ...reasons];
  const killing = card.traits.root_kill_c;
  if (killing && tminC <= killing[0]) said.push({ code: 'root-kill', text: `Old roots of this kind were found to die near ${degreesWords(killing[0])} (${killing[1]}).` });
  return { answer, line_c: line, reasons: said, cautions: answer === 'safe' ? [] : cautionsFor(on, south, depth) };
}

function cautionsFor(on, south, depth) {
  const said = [CONTACT];
  if (depth !== null && depth < SHALLOW_BOX_CM) said.push(SHALLOW);
  if ((south ? UNHARDENED_MONTHS_SOUTH : UNHARDENED_MONTHS).includes(Number(on.slice(5, 7)))) said.push(UNHARDENED);
  return said;
}
