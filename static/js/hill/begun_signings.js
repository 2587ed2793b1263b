/** Signings that were begun and not ended: after the app was killed at the gate, ink on the glass is found again. */

import { sameValue } from '../core/changed.js';
import { hasInk } from '../core/strokes.js';
import { draftKeys, dropDraft, getDraft, getRecord, recordsWhere, saveDraft } from '../store.js';

const KEY = /^sign-([0-9a-f-]{36})(-strokes|-paper)?$/; // as the screen Sign names its drafts
const OPEN_MS = 2 * 3_600_000; // own rule: a letter only opened, and nothing written in it, was not begun for ever

const keysOf = (leave) => ['', '-strokes', '-paper'].map((part) => `sign-${leave}${part}`);

/** Whether anything lies in the drafts of one leave that somebody would miss. */
async function isBegun(leave, keys) {
  const [form, strokes] = await Promise.all([getDraft(`sign-${leave}`), getDraft(`sign-${leave}-strokes`)]);
  if (hasInk(strokes ?? [])) {
    const signed = await recordsWhere('signing', 'leave', leave);
    return !signed.some(({ fields }) => sameValue(fields.strokes, strokes)); // killed between the saving and the clearing away
  }
  if (keys.includes(`sign-${leave}-paper`) || form?.values) return true;
  return form?.step === 'letter' && Math.abs(Date.now() - (form.at ?? 0)) < OPEN_MS;
}

/**
 * The signings that were begun on this phone.
 * @returns {Promise<{leave: string, site_name: string|null, who: string|null}[]>} who: the landholder's name
 */
export async function begunSignings() {
  const keys = await draftKeys('sign-');
  const leaves = [...new Set(keys.map((key) => KEY.exec(key)?.[1]).filter(Boolean))];
  const found = await Promise.all(leaves.map(async (id) => {
    const leave = await getRecord(id);
    if (!leave || leave.fields.deleted || !(await isBegun(id, keys))) return null;
    const [site, holder] = await Promise.all([leave.fields.site, leave.fields.landholder].map((rec) => (rec ? getRecord(rec) : null)));
    return { leave: id, site_name: site?.fields.name ?? null, who: holder?.fields.name ?? null };
  }));
  return found.filter(Boolean);
}

/**
 * Put a begun signing away.
 * @param {string} leave @returns {Promise<() => Promise<any>>} brings it back
 */
export async function putSigningAway(leave) {
  const keys = keysOf(leave);
  const values = await Promise.all(keys.map(getDraft));
  await Promise.all(keys.map(dropDraft));
  return () => Promise.all(keys.map((key, i) => (values[i] === null ? null : saveDraft(key, values[i]))));
}
