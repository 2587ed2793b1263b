/**
 * A change with some of its values left out: what it was is still known by its name, stamp and fields.
 *
 * A blanked change holds null where a value stood and says which fields those are and why. Two copies of one change are
 * the same if they are equal once what either leaves out is left out of both. Twin of field/sync/blank.py.
 */

import { canonicalText } from './merge.js';

export const WITHHELD = 'withheld'; // home has the whole of it, and does not tell it to this phone

/** The fields that a change does not tell. @returns {string[]} */
export function blankedFields(op) {
  return Array.isArray(op.blanked?.fields) ? op.blanked.fields : [];
}

/** Whether a change is a copy that home gave with something left out: it must never be sent as the change. */
export function isWithheld(op) {
  return op.blanked?.why === WITHHELD;
}

function bare(op, gone) {
  const { blanked, ...rest } = op;
  return { ...rest, set: Object.fromEntries(Object.entries(op.set).map(([name, value]) => [name, gone.has(name) ? null : value])) };
}

/** Whether two copies of one name are the same change, as far as both tell it. */
export function sameChange(one, other) {
  if (!one.blanked && !other.blanked) return canonicalText(one) === canonicalText(other);
  if (!one.set || !other.set) return one.dev === other.dev && one.seq === other.seq;
  const gone = new Set([...blankedFields(one), ...blankedFields(other)]);
  return canonicalText(bare(one, gone)) === canonicalText(bare(other, gone));
}

/** Of two copies of one change the one that tells more. */
export function fuller(one, other) {
  if (!one.set || !other.set) return one.set ? one : other;
  return blankedFields(other).length < blankedFields(one).length ? other : one;
}
