/**
 * A letter signed on the glass: what its hash covers, and what changed since. Twin of field/core/signing.py, held to it by
 * tests/vectors/signing.json. The hash itself is made outside, by the browser's own means.
 */

import { IN_ANY_ORDER } from './changed.js';
import { canonicalText } from './merge.js';
import { isObject } from './units.js';

/** What a signature covers: every field of a signing but the hash itself. Never changed once a letter was signed by it. */
export const CONTENT = [
  'leave', 'version', 'letter', 'strokes', 'name', 'role', 'place', 'lat', 'lon', 'accuracy_m', 'signed_at', 'signed_on', 'zone', 'paper',
];
/** What a landholder agrees to by signing. Note, telephone, withdrawal, entitlement and papers stay free. */
export const TERMS = ['landholder', 'area', 'starts_on', 'ends_on', 'species', 'max_girth_mm', 'allowance', 'methods', 'conditions'];

/**
 * The text whose SHA-256 (of its UTF-8) is the hash of a signing: its CONTENT fields in canonical form, RFC 8785.
 * @param {object} signing fields of the record as they were written; a field that is not there counts as null
 * @returns {string}
 */
export function contentText(signing) {
  return canonicalText(Object.fromEntries(CONTENT.map((name) => [name, signing[name] ?? null])));
}

/**
 * The terms of a leave as they are signed: an empty list is as good as none.
 * @param {object} leave @param {object} site fields of the records
 * @returns {object} a value for each of TERMS, and boundary, the site's own, where the leave is for the whole of it
 */
export function termsOf(leave, site) {
  const plain = (value) => (Array.isArray(value) && value.length === 0 ? null : (value ?? null));
  const terms = Object.fromEntries(TERMS.map((name) => [name, plain(leave[name])]));
  return { ...terms, boundary: terms.area === null ? (site.boundary ?? null) : null };
}

/**
 * Which terms are not as in a letter, in the order of TERMS; a boundary moved since is told as 'area'.
 * @param {*} letter of a signing
 * @param {object} leave @param {object} site fields of the records as they are now
 * @returns {string[]} empty also for a letter that holds no terms: then nobody can tell
 */
export function changedTerms(letter, leave, site) {
  const signed = isObject(letter) ? letter.terms : null;
  if (!isObject(signed)) return [];
  const now = termsOf(leave, site);
  const text = (name, value) => (IN_ANY_ORDER.has(name) && Array.isArray(value) ? value : [value ?? null]).map(canonicalText).sort().join(' ');
  const differs = (name) => text(name, signed[name]) !== text(name, now[name]);
  return TERMS.filter((name) => differs(name) || (name === 'area' && differs('boundary')));
}

/**
 * The version of the next letter of a leave: one above the highest there is.
 * @param {object[]} signings fields of those of this leave
 */
export function nextVersion(signings) {
  return 1 + Math.max(0, ...signings.map(({ version }) => version).filter(Number.isSafeInteger));
}

/** A hash as people compare it: in groups of four. @param {string} hex @returns {string[]} */
export function hashGroups(hex) {
  return typeof hex === 'string' ? (hex.match(/.{1,4}/g) ?? []) : [];
}
