/** Wire for a branch, and when it is looked at: twin of field/core/wire.py, where every figure has its source. */

import { plusDays } from './dates.js';
import { BadInput } from './errors.js';
import { fixed, plainNumber } from './rounded.js';

const SIZES_MM = [1, 1.5, 2, 2.5, 3, 3.5, 4, 5, 6];
const SHARES = { aluminium: [1 / 3, 1 / 2], copper: [1 / 3, 1 / 3] };
const DENSITY_G_CM3 = { aluminium: 2.7, copper: 8.96 };
const LENGTH_TIMES = 1.5;
const ANCHOR_MM = 100;
const ANCHOR_TURNS = 2;
const MOST_BRANCH_MM = 100;
const MOST_LENGTH_MM = 20_000;
const LOOK_DAYS = { fast: 14, medium: 28, slow: 56 };
const WEEKLY_MONTHS = [5, 6, 7];
const WEEKLY_MONTHS_SOUTH = [11, 12, 1];
const REST_MONTHS = [11, 12, 1, 2];
const REST_MONTHS_SOUTH = [5, 6, 7, 8];
const FAST_KINDS = ['willow', 'elm', 'field-maple', 'birch'];
const FAST_UP_TO_WEEKS = 12;
const SLOW_FROM_WEEKS = 30;

const CUT_OFF = { code: 'cut-off', text: 'Take wire off by cutting it, turn by turn; never unwind it, for that breaks buds and bark.' };
const ANGLE = { code: 'angle', text: 'Turns lie at 45 to 60 degrees and never cross; bend a little past the wanted place.' };
const TOO_THICK = { code: 'too-thick', text: 'No stocked wire is thick enough alone: lay two strands side by side, or pull the branch down with a guy line.' };
const TOO_THIN = { code: 'too-thin', text: 'The thinnest stocked wire is thicker than this shoot wants: wait until it is firmer.' };
const SHARE_WORDS = {
  aluminium: "Aluminium holds at a third to a half of the branch's thickness (common practice; one teaching page).",
  copper: "Copper is stiffer, by about 1.7 times (one potter's page): a third of the branch's thickness holds.",
};
const PACE_WORDS = {
  fast: 'This kind grows in fast: a look every 2 weeks.',
  medium: 'This kind grows in at a middling pace: a look every 4 weeks.',
  slow: 'This kind grows in slowly: a look every 8 weeks.',
};

/** What a look along the wire found, and what is to be done then. */
export const BITES = {
  none: { code: 'none', text: 'It marks nothing yet: leave it on, and look again in time.' },
  begins: { code: 'begins', text: 'It begins to mark: cut it off this week. If the branch springs back, wire again beside the old line.' },
  bitten: { code: 'bitten', text: 'It is bitten in: cut it off today, turn by turn. Where bark has closed over it, cut what is free and leave the rest: tearing it out does more harm.' },
};
export const MATERIALS = Object.keys(SHARES);
export const GAUGES_MM = SIZES_MM;

/**
 * Which wire a branch wants; ranges are [lowest, highest].
 * @param {number} branchMm its thickness where the bend will be
 * @param {number} lengthMm of the part to be wired
 * @param {'aluminium'|'copper'} material
 * @param {number|null} [anchorMm] thickness of what it is anchored on; null: not told
 * @returns {{material: string, wanted_mm: number[], sizes_mm: number[], length_mm: number, mass_g: number[], why: object[], cautions: object[]}}
 * @throws {BadInput} for a branch or a material that is none
 */
export function planWire(branchMm, lengthMm, material, anchorMm = null) {
  if (!Object.hasOwn(SHARES, material)) throw new BadInput(`Wire of “${String(material).slice(0, 40)}” is not known here.`, `Known are: ${MATERIALS.join(', ')}.`, 'material');
  if (!(branchMm > 0 && branchMm <= MOST_BRANCH_MM)) throw new BadInput(`A branch ${plainNumber(branchMm)} mm thick is none to wire.`, 'Give millimetres, up to 100.', 'branch_mm');
  if (!(lengthMm > 0 && lengthMm <= MOST_LENGTH_MM)) throw new BadInput(`A branch ${plainNumber(lengthMm)} mm long is none.`, 'Give millimetres, up to 20000.', 'length_mm');
  if (anchorMm !== null && !(anchorMm > 0 && anchorMm <= 1000)) throw new BadInput(`A stem ${plainNumber(anchorMm)} mm thick is none.`, 'Give millimetres, up to 1000.', 'anchor_mm');
  const [low, high] = SHARES[material].map((share) => share * branchMm);
  let sizes = SIZES_MM.filter((size) => low - 1e-9 <= size && size <= high + 1e-9);
  const cautions = [CUT_OFF, ANGLE];
  if (sizes.length === 0) {
    sizes = [SIZES_MM.find((size) => size >= low) ?? SIZES_MM.at(-1)];
    if (low > SIZES_MM.at(-1)) cautions.push(TOO_THICK);
    else if (high < SIZES_MM[0]) cautions.push(TOO_THIN);
  }
  const length = LENGTH_TIMES * lengthMm + (anchorMm === null ? ANCHOR_MM : ANCHOR_TURNS * Math.PI * anchorMm);
  const share = low === high ? `${fixed(low, 1)} mm` : `${fixed(low, 1)} to ${fixed(high, 1)} mm`;
  const anchor = anchorMm === null ? '100 mm for its anchor, whose thickness is not told' : 'two turns round what it is anchored on';
  return {
    material, wanted_mm: [low, high], sizes_mm: sizes, length_mm: length,
    mass_g: [wireMassG(sizes[0], length, material), wireMassG(sizes.at(-1), length, material)],
    why: [
      { code: 'gauge', text: `${SHARE_WORDS[material]} Here that is ${share}.` },
      { code: 'length', text: `Half as much again as the branch is long, and ${anchor}.` },
    ],
    cautions,
  };
}

/** The mass of a length of round wire in grams. */
export function wireMassG(sizeMm, lengthMm, material) {
  return ((Math.PI / 4) * sizeMm ** 2 * lengthMm * DENSITY_G_CM3[material]) / 1000;
}

/**
 * When to look at wire first, and between which days it comes off.
 * @param {{kind: string, traits: object}} card traits: name -> [value, source], with wire_weeks_min and wire_weeks_max
 * @param {string} on 'YYYY-MM-DD', the day it was put on
 * @param {boolean} [south] the place is south of the equator
 */
export function planWireDates(card, on, south = false) {
  const [[least], [most, source]] = [card.traits.wire_weeks_min, card.traits.wire_weeks_max];
  const pace = growthPace(card);
  const countsFrom = growthBegins(on, south);
  const weeks = (number) => plusDays(countsFrom, Math.floor(number * 7 + 1e-9));
  return {
    pace, first_look_on: nextLook(on, pace, south), counts_from: countsFrom, off_from: weeks(least), off_by: weeks(most),
    why: `${PACE_WORDS[pace]} In ${south ? 'November to January' : 'May to July'} it is looked at every week.`,
    source,
  };
}

/** The day from which the weeks of wire count: the day it was put on, in the resting months their end. */
export function growthBegins(on, south = false) {
  let day = on;
  while ((south ? REST_MONTHS_SOUTH : REST_MONTHS).includes(Number(day.slice(5, 7)))) day = `${plusDays(`${day.slice(0, 7)}-01`, 31).slice(0, 7)}-01`;
  return day;
}

/** How fast wire is grown in on a kind: 'fast', 'medium' or 'slow'. */
export function growthPace({ kind, traits }) {
  if (FAST_KINDS.includes(kind) || traits.wire_weeks_max[0] <= FAST_UP_TO_WEEKS) return 'fast';
  return traits.wire_weeks_min[0] >= SLOW_FROM_WEEKS ? 'slow' : 'medium';
}

/** The next day to look at wire: weekly in May to July, else by pace, and never past the start of May. */
export function nextLook(lastOn, pace, south = false) {
  const weekly = south ? WEEKLY_MONTHS_SOUTH : WEEKLY_MONTHS;
  const usual = plusDays(lastOn, LOOK_DAYS[pace]);
  let day = plusDays(lastOn, 7);
  while (day < usual && !weekly.includes(Number(day.slice(5, 7)))) day = plusDays(day, 1);
  return day;
}

/**
 * What wire that is on a branch wants today.
 * @param {object} card as for `planWireDates` @param {string} on the day it was put on
 * @param {[string, string][]} looks day and what was found, of BITES, of every look along it
 * @param {string} today @param {boolean} [south]
 * @returns {{answer: 'bitten'|'begins'|'over'|'look'|'wait', look_on: string, text: string}}
 */
export function judgeWire(card, on, looks, today, south = false) {
  const dates = planWireDates(card, on, south);
  const worse = Object.keys(BITES);
  const isAfter = ([day, found], [otherDay, other]) => (day === otherDay ? worse.indexOf(found) > worse.indexOf(other) : day > otherDay);
  const [lastOn, found] = looks.reduce((last, one) => (last === null || isAfter(one, last) ? one : last), null) ?? [on, 'none'];
  const lookOn = nextLook(lastOn > on ? lastOn : on, dates.pace, south);
  if (found !== 'none') return { answer: found, look_on: lookOn, text: BITES[found].text };
  if (today > dates.off_by) return { answer: 'over', look_on: lookOn, text: 'It has been on longer than its kind allows: cut it off, and wire again if needed.' };
  if (today >= lookOn) return { answer: 'look', look_on: lookOn, text: 'Look along it now, inside of bends first. Where it touches, it comes off.' };
  return { answer: 'wait', look_on: lookOn, text: looks.length > 0 ? BITES.none.text : 'It is on. Look along it in time.' };
}
