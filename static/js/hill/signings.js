/** What was signed for a leave on the glass: every version, whether it stands as it was signed, and what changed since. */

import { sameValue } from '../core/changed.js';
import { changedTerms, contentText, termsOf } from '../core/signing.js';
import { changesOf, getPack, getRecord, listRecords } from '../store.js';
import { valueWords } from '../ui/field_words.js';
import { methodWord } from '../ui/words.js';

const TERM_WORDS = {
  landholder: 'Landholder', area: 'Ground', starts_on: 'First day', ends_on: 'Last day', species: 'Kinds', max_girth_mm: 'Girth limit',
  allowance: 'Number', methods: 'Methods', conditions: 'Terms to keep',
};
const NONE = {
  landholder: 'not told', area: 'the whole site', starts_on: 'not told', ends_on: 'no end', species: 'any kind', max_girth_mm: 'no limit',
  allowance: 'no number', methods: 'not agreed', conditions: 'none',
};

/** Whether this page can make and check hashes: browsers allow it only by a secure address. */
export const canSign = () => Boolean(globalThis.crypto?.subtle);

/** The SHA-256 of a signing's content, in hex. @param {object} fields of the record */
export async function contentSha256(fields) {
  const digest = await crypto.subtle.digest('SHA-256', new TextEncoder().encode(contentText(fields)));
  return [...new Uint8Array(digest)].map((byte) => byte.toString(16).padStart(2, '0')).join('');
}

/** What was signed, out of all that was ever written to the record: the first that fits its own hash; else null. */
export async function findSigned(record) {
  for (const { set } of await changesOf(record.id)) {
    if (set.content_sha256 && (await contentSha256(set)) === set.content_sha256) return set;
  }
  return null;
}

function conditionWords(was, is) {
  const [before, now] = [was ?? [], is ?? []];
  const quote = (texts) => texts.map((text) => `“${text}”`).join(', ');
  const out = before.filter((text) => !now.includes(text));
  const added = now.filter((text) => !before.includes(text));
  const said = [out.length > 0 && `no longer ${quote(out)}`, added.length > 0 && `added ${quote(added)}`].filter(Boolean);
  return said.length > 0 ? said.join('; ') : 'in another order';
}

function termWords(name, value, known) {
  if (value === null) return NONE[name];
  if (name === 'methods') return value.map(methodWord).join(', ');
  return valueWords('leave', name, value, known);
}

/** What changed in one term, in words: 'Last day: 31 Mar 2027 when signed, 30 Apr 2027 now'. */
function differWords(name, signed, now, known) {
  const label = TERM_WORDS[name];
  if (name === 'conditions') return `${label}: ${conditionWords(signed[name], now[name])}`;
  const [was, is] = [termWords(name, signed[name] ?? null, known), termWords(name, now[name], known)];
  return was === is ? `${label}: its edge was moved` : `${label}: ${was} when signed, ${is} now`;
}

async function readOne(record, leave, site, known) {
  const checked = canSign();
  const signed = checked ? await findSigned(record) : null;
  const stands = (hash) => hash === record.fields.content_sha256 && hash === signed.content_sha256;
  const intact = checked ? signed !== null && stands(await contentSha256(record.fields)) : null;
  const letter = (signed ?? record.fields).letter;
  const now = termsOf(leave?.fields ?? {}, site?.fields ?? {});
  const differs = leave ? changedTerms(letter, leave.fields, site?.fields ?? {}).map((name) => differWords(name, letter.terms, now, known)) : [];
  return { record, intact, signed, differs };
}

async function knownNames() {
  const [pack, landholders] = await Promise.all([getPack(), listRecords('landholder')]);
  return { pack, names: new Map(landholders.map(({ id, fields }) => [id, fields.name ?? 'a landholder without a name'])) };
}

/** Higher versions first; of two with the same number, which two phones signed apart, the later one. */
function newestFirst(a, b) {
  const [one, other] = [a, b].map(({ record, signed }) => signed ?? record.fields);
  return (other.version ?? 0) - (one.version ?? 0) || String(other.signed_at ?? '').localeCompare(String(one.signed_at ?? ''));
}

/**
 * Every version that was signed for a leave, the newest first.
 * @param {string} leaveId
 * @returns {Promise<{record: object, intact: boolean|null, signed: object|null, differs: string[]}[]>} record: merged; intact: whether it
 *   stands as it was signed, null where this page cannot tell (no secure address); signed: its fields as they were signed, also
 *   of an altered one, null where nothing fits; differs: what of the leave changed since, in words
 */
export async function readSignings(leaveId) {
  const [all, leave, known] = await Promise.all([listRecords('signing'), getRecord(leaveId), knownNames()]);
  const site = leave?.fields.site ? await getRecord(leave.fields.site) : null;
  // One whose leave is in dispute is shown with each leave that it may be of.
  const own = all.filter(({ fields, conflicts }) => fields.leave === leaveId || conflicts.leave?.some(({ value }) => sameValue(value, leaveId)));
  const read = await Promise.all(own.map((record) => readOne(record, leave, site, known)));
  return read.sort(newestFirst);
}

/**
 * One signed version.
 * @param {string} id of the signing
 * @returns {Promise<object|null>} as one of `readSignings`, also a removed one; null where it is not here
 */
export async function readSigning(id) {
  const record = await getRecord(id);
  if (record?.type !== 'signing') return null;
  const leave = record.fields.leave ? await getRecord(record.fields.leave) : null;
  const site = leave?.fields.site ? await getRecord(leave.fields.site) : null;
  return readOne(record, leave, site, await knownNames());
}
