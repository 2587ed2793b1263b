/**
 * A change with some of its values left out: what it was is still known by its name, stamp and fields.
 *
 * A blanked change holds null where a value stood and says which fields those are and why. Two copies of one change are
 * the same if they are equal once what either leaves out is left out of both. Twin of field/sync/blank.py.
 */

import { canonicalText } from './merge.js';

export const WITHHELD = 'withheld'; // home has the whole of it, and does not tell it to this phone

export const FORGOTTEN = 'forgotten'; // a person was forgotten: nobody has the whole of it any more

/**
 * A change without what was forgotten; the same change again makes the same one, whoever brings it.
 * @param {object} op
 * @param {Map<string, Set<string>>} blanks of `readBlanks`
 */
export function forget(op, blanks) {
  const fields = blanks.get(op.rec);
  if (!fields || op.set === null || typeof op.set !== 'object' || Array.isArray(op.set)) return op;
  const gone = [...fields].filter((name) => Object.hasOwn(op.set, name) && op.set[name] !== null);
  if (gone.length === 0) return op;
  const all = [...new Set([...blankedFields(op), ...gone])].sort();
  return { ...op, set: { ...op.set, ...Object.fromEntries(all.map((name) => [name, null])) }, blanked: { fields: all, why: isWithheld(op) ? WITHHELD : FORGOTTEN } };
}

/** Which fields of which records were forgotten, out of the `blanks` of forgetting records. @returns {Map<string, Set<string>>} */
export function readBlanks(told) {
  const found = new Map();
  for (const blanks of told) {
    for (const [rec, fields] of Object.entries(blanks !== null && typeof blanks === 'object' && !Array.isArray(blanks) ? blanks : {})) {
      if (!Array.isArray(fields)) continue;
      const named = fields.filter((name) => typeof name === 'string');
      found.set(rec, new Set([...(found.get(rec) ?? []), ...named]));
    }
  }
  return found;
}

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
