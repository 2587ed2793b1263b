/** A signed leave is locked: its terms change only after it was said that a change is not signed. */

import { touchedTerms } from '../core/leave_terms.js';
import { changedTerms } from '../core/signing.js';
import { listRecords } from '../store.js';
import { ask } from '../ui/dialog.js';
import { html } from '../ui/html.js';
import { showDate } from '../ui/words.js';
import { canSign, contentSha256 } from './signings.js';

/** 'the number, the last day and the area'. @param {string[]} words */
function listed(words) {
  return words.length < 2 ? words.join('') : `${words.slice(0, -1).join(', ')} and ${words.at(-1)}`;
}

/** The signing that stands last. @param {object[]} signings merged records, at least one */
function latest(signings) {
  return signings.reduce((best, one) => ((one.fields.version ?? 0) > (best.fields.version ?? 0) ? one : best));
}

/** Who signed it and when, in a sentence. @param {object[]} signings merged records, at least one */
export function signedWords(signings) {
  const { name, signed_on: on } = latest(signings).fields;
  return `It was signed${name ? ` by ${name}` : ''}${on ? ` on ${showDate(on)}` : ''}.`;
}

/** Whether a changed leave comes back to what was signed last: then the signature stands for it again. */
async function standsAgain(signings, now, site) {
  if (signings.length === 0 || !canSign()) return false;
  const { fields } = latest(signings);
  return changedTerms(fields.letter, now, site).length === 0 && Boolean(fields.letter?.terms) && (await contentSha256(fields)) === fields.content_sha256;
}

/**
 * Before terms of a signed leave are changed: say what becomes of the signature.
 * @param {object[]} signings merged records of the leave @param {object} before its fields @param {object} set fields to be set
 * @param {object} site fields of its site
 * @returns {Promise<object|null>} what to set, with the form as spoken where a signed term is touched, and as signed where it comes back
 *   to what was signed; null: leave it as it was
 */
export async function withoutSignature(signings, before, set, site) {
  const touched = touchedTerms(before, set);
  if (touched.length > 0 && before.form === 'spoken' && !('form' in set) && (await standsAgain(signings, { ...before, ...set }, site))) return { ...set, form: 'signed' };
  if (signings.length === 0 || before.form !== 'signed' || touched.length === 0) return set; // one that is not signed any more has nothing to lose
  const answer = await ask({
    title: 'This leave is signed',
    text: html`<p>${signedWords(signings)} You are changing ${listed(touched)}.</p>
      <p>That makes a new version. What is changed is not signed until it is signed again, and May I? says so. The signed one stays, to be read as it was.</p>`,
    choices: [{ value: 'new', label: 'Make a new version', kind: 'primary' }],
    no: 'Leave it as it was signed',
  });
  return answer === null ? null : { ...set, form: 'spoken' };
}

/**
 * Before the boundary of a site is drawn otherwise: leaves that were signed for the whole of it were signed for the old one.
 * @param {object[]} leaves merged records of the site
 * @returns {Promise<object[]|null>} further changes to save with it; null: leave the boundary as it was
 */
export async function withOldSignatures(leaves) {
  const signed = new Set((await listRecords('signing')).map(({ fields }) => fields.leave));
  const covered = leaves.filter(({ id, fields }) => signed.has(id) && fields.form === 'signed' && !fields.area);
  if (covered.length === 0) return [];
  const many = covered.length > 1;
  const answer = await ask({
    title: many ? 'Signed leaves cover this ground' : 'A signed leave covers this ground',
    text: html`<p>${many ? `${covered.length} leaves were` : 'One leave was'} signed for the whole of this site as it was drawn then. What was signed stays, to be read as it was.</p>
      <p>If other ground is meant now, ${many ? 'they count' : 'it counts'} as spoken only until signed again.</p>`,
    choices: [{ value: 'other', label: 'Other ground is meant', kind: 'primary' }, { value: 'same', label: 'The same ground, drawn better' }],
    no: 'Leave the boundary as it was',
  });
  if (answer === null) return null;
  return answer === 'same' ? [] : covered.map((leave) => ({ rec: leave.id, type: 'leave', set: { form: 'spoken' }, seen: leave }));
}
