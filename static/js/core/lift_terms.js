/** Which terms a lift had to keep, and what of them nobody noted as done. Twin of field/core/lift_terms.py. */

import { isObject } from './units.js';

const texts = (value) => (Array.isArray(value) ? [...new Set(value.filter((text) => typeof text === 'string'))] : []);

/**
 * The terms that stood for a lift, in their order: those shown beside the answer before it, else those of the leave. An
 * answer that said no has none of its own.
 * @param {object} lift its fields @param {string|null} leaveId the leave it is logged under
 * @param {object|null} leave its fields; null: not known
 * @returns {string[]}
 */
export function termsOfLift(lift, leaveId, leave) {
  const { answer } = lift;
  if (isObject(answer)) {
    if (Array.isArray(answer.keep)) return texts(answer.keep);
    const { verdict } = answer;
    if (isObject(verdict) && verdict.answer !== 'no' && (verdict.leave ?? null) === leaveId) return texts(verdict.keep);
  }
  return texts(leave?.conditions);
}

/** Those terms of a lift that are not ticked as kept. */
export function termsNotTicked(lift, leaveId, leave) {
  const ticked = texts(lift.kept_conditions);
  return termsOfLift(lift, leaveId, leave).filter((term) => !ticked.includes(term));
}

/** Whether nobody noted the hole of a lift as filled; every letter asks for that. */
export const isHoleOpen = (lift) => lift.hole_filled !== true;
