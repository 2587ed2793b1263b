/**
 * An answer of May I? taken apart again: which reason holds for the ground whoever gave leave, and which is whose leave's.
 * It decides nothing and adds nothing: only reasons that stand in the answer are told, each where it belongs.
 */

import { mayDig } from './may_dig.js';

const NO_LEAVE = 'no-leave';
// A leave with one of these does not speak of that day at all.
const NOT_IN_FORCE = new Set(['ended', 'withdrawn', 'not-begun']);

const key = (reason) => `${reason.weight} ${reason.code} ${reason.text}`;
const count = (reasons, weight) => reasons.filter((reason) => reason.weight === weight).length;

/** The nearest to a yes first: fewest that forbid, then fewest that are open, then the one that is good longest. */
function nearestFirst(a, b) {
  const ends = ({ slip }) => slip.ends_on ?? '9999-12-31';
  return count(a.reasons, 'no') - count(b.reasons, 'no') || count(a.reasons, 'ask') - count(b.reasons, 'ask')
    || (ends(a) < ends(b) ? 1 : Number(ends(a) > ends(b)) * -1);
}

/**
 * The reasons of an answer by where they come from.
 * @param {{answer: string, reasons: object[], leave: string|null}} verdict what mayDig gave, perhaps years ago
 * @param {object} input what it was given
 * @returns {{common: object[], leaves: {slip: object, reasons: object[]}[], old: {slip: object, reasons: object[]}[], rest: object[]}}
 *   common: of the ground, the position and the phone; leaves: the leave that counted, or with none better than no all that
 *   are in force, the nearest to a yes first; old: those not in force on that day; rest: what this app cannot place
 */
export function splitAnswer(verdict, input) {
  const told = new Map(verdict.reasons.map((reason) => [key(reason), reason]));
  const placed = new Set();
  const pick = (reasons) => reasons.map(key).filter((one) => told.has(one)).map((one) => {
    placed.add(one);
    return told.get(one);
  });
  const slips = input?.leaves ?? [];
  const ground = slips.length === 0 ? [] : mayDig({ ...input, leaves: [] }).reasons.filter((reason) => reason.code !== NO_LEAVE);
  const ofGround = new Set(ground.map(key));
  const common = pick(ground);
  const counted = verdict.answer === 'no' ? slips : slips.filter((slip) => slip.leave === verdict.leave);
  const groups = counted.map((slip) => ({
    slip, reasons: pick(mayDig({ ...input, leaves: [slip] }).reasons.filter((reason) => !ofGround.has(key(reason)))),
  }));
  groups.sort(nearestFirst);
  const isOld = ({ reasons }) => reasons.some((reason) => reason.weight === 'no' && NOT_IN_FORCE.has(reason.code));
  return {
    common,
    leaves: groups.filter((group) => !isOld(group)),
    old: groups.filter(isOld),
    rest: verdict.reasons.filter((reason) => !placed.has(key(reason))),
  };
}
