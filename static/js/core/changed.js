/** Only what was really changed may be sent: a field set again to what it was would look like a second opinion. */

/** Whether two plain values are the same, null and "never set" being alike. */
export function sameValue(a, b) {
  return JSON.stringify(a ?? null) === JSON.stringify(b ?? null);
}

/** Lists that mean the same in any order: a form gives them in its own. Conditions are numbered on the paper, and are not among them. */
export const IN_ANY_ORDER = new Set(['species', 'methods']);

/** Whether a field has the same value. */
export function sameField(name, a, b) {
  const plain = (value) => (IN_ANY_ORDER.has(name) && Array.isArray(value) ? [...value].sort() : value);
  return sameValue(plain(a), plain(b));
}

/**
 * The fields of `values` that are not as they were before.
 * @param {object} before fields of the record as it was shown, {} for a new one
 * @param {object} values fields as they shall be
 * @returns {object} possibly empty
 */
export function changedOnly(before, values) {
  return Object.fromEntries(Object.entries(values).filter(([name, value]) => !sameField(name, before[name], value)));
}
