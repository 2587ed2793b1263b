/** The versions of a leave that were signed on the glass, as a list: who signed which when, and whether it stands. */

import { html } from './html.js';
import { icon } from './icons.js';
import { stateMark } from './state.js';
import { showDate, showInstant } from './words.js';

/**
 * How one signed version stands.
 * @param {{intact: boolean|null, differs: string[]}} signing as hill/signings.js reads it @param {boolean} isNewest
 * @returns {{word: string, kind: string}} for `stateMark`
 */
export function signingState({ intact, differs }, isNewest = true) {
  if (intact === null) return { word: 'cannot be checked by this address', kind: 'ask' };
  if (!intact) return { word: 'altered after signing', kind: 'bad' };
  if (!isNewest) return { word: 'an earlier version', kind: 'quiet' };
  if (differs.length > 0) return { word: 'the leave was changed since', kind: 'ask' };
  return { word: 'stands as it was signed', kind: 'good' };
}

/** What changed in a leave since a version was signed, or nothing. @param {string[]} differs */
export function changedSince(differs) {
  return differs.length > 0 && html`<div class="caution changed-since">${icon('warn')}<div><p class="strong">The leave was changed since it was signed.</p>
    <ul class="plain-list">${differs.map((words) => html`<li>${words}</li>`)}</ul><p>What was signed stays readable as it was. Have the new terms signed as well.</p></div></div>`;
}

/**
 * @param {{record: object, intact: boolean|null, signed: object|null, differs: string[]}[]} signings of one leave, the newest first
 * @returns {import('./html.js').Safe}
 */
export function signedList(signings) {
  if (signings.length === 0) return html`<p class="muted">Nothing was signed on the glass for this leave yet.</p>`;
  const fieldsOf = ({ signed, record }) => signed ?? record.fields; // of an altered one, what was signed
  const newest = fieldsOf(signings[0]).version;
  const entry = (one) => {
    const fields = fieldsOf(one);
    const twins = signings.filter((other) => fieldsOf(other).version === fields.version).length > 1;
    return html`<li><a class="entry" href="#/signed/${one.record.id}"><span class="entry-icon">${icon('sign')}</span><span class="entry-main">
      <span class="entry-title">Version ${fields.version ?? 'not known'}, signed by ${fields.name ?? 'a name not told'}</span>
      ${stateMark(signingState(one, fields.version === newest))}
      <span class="entry-under">${[twins ? showInstant(fields.signed_at) : showDate(fields.signed_on), fields.place, twins && 'signed on two phones apart'].filter(Boolean).join(' · ')}</span></span>${icon('forward')}</a></li>`;
  };
  return html`${changedSince(signings[0].differs)}<ul class="entries signed-list">${signings.map(entry)}</ul>`;
}
