/** Reading what this phone keeps: records, the pack, counts, drafts, small settings. */

import { ask, read, readRow, write } from './db.js';
import { announce } from './listen.js';
import { devicesIn, unsentRange, vectorIn } from './journal.js';
import { dropSpare } from './room.js';

const LEAVE_TYPES = new Set(['site', 'leave', 'consent', 'ground_check', 'signing']); // of lifts the phone's own count is taken
const HEAD = 'pack_head';
const ROOM_FOR_DRAFT = 20 * 1024 * 1024; // a few photos
let packHeld = null; // {hash, pack}: a pack is large, and every screen asks for it
let headHeld = null; // {hash, head}

/** A small value kept for screens and for sync. @returns {Promise<any>} null when there is none */
export async function getMeta(key) {
  return (await readRow('meta', key))?.value ?? null;
}

/** Keep a small value. */
export function setMeta(key, value) {
  return write(['meta'], (tx) => ask(tx.objectStore('meta').put({ key, value })));
}

/** Who this phone is at home. @returns {Promise<{device: string, token: string, name: string, paired_at: string}|null>} */
export function getIdentity() {
  return getMeta('identity');
}

/** Keep who this phone is at home. */
export async function setIdentity(identity) {
  await setMeta('identity', identity);
  announce({ types: [] });
}

/** A merged record, also a deleted one. @returns {Promise<object|null>} */
export function getRecord(id) {
  return readRow('records', id);
}

/** All merged records of a type, deleted ones left out. @returns {Promise<object[]>} */
export async function listRecords(type) {
  const rows = await read(['records'], (tx) => ask(tx.objectStore('records').index('type').getAll(type)));
  return rows.filter((record) => !record.deleted);
}

/** The merged records of a type that were deleted. @returns {Promise<object[]>} */
export async function listDeleted(type) {
  const rows = await read(['records'], (tx) => ask(tx.objectStore('records').index('type').getAll(type)));
  return rows.filter((record) => record.deleted);
}

/** The records of a type whose field has a value; null also finds those where it was never set. */
export async function recordsWhere(type, field, value) {
  return (await listRecords(type)).filter((record) => (record.fields[field] ?? null) === value);
}

/** Every change to a record that takes part, as it was written; the oldest first by its stamp. @returns {Promise<object[]>} */
export async function changesOf(id) {
  const rows = await read(['ops'], (tx) => ask(tx.objectStore('ops').index('rec').getAll(id)));
  return rows.filter((row) => row.held === null).map((row) => row.op).sort((a, b) => (a.hlc < b.hlc ? -1 : 1));
}

/** Records of which two people wrote the same field without having seen each other. */
export function listConflicts() {
  return read(['records', 'conflicts'], async (tx) => {
    const ids = await ask(tx.objectStore('conflicts').getAllKeys());
    return Promise.all(ids.map((id) => ask(tx.objectStore('records').get(id))));
  });
}

/** Changes that could not be applied, with the reason. @returns {Promise<{op: object, why: string}[]>} */
export async function listHeld() {
  const rows = await read(['held'], (tx) => ask(tx.objectStore('held').getAll()));
  return rows.map(({ op, why }) => ({ op, why }));
}

/** The last pack from home. @returns {Promise<object|null>} shared by all who ask: not to be changed */
export async function getPack() {
  const [hash] = await read(['packs'], (tx) => ask(tx.objectStore('packs').getAllKeys()));
  if (hash === undefined) return null;
  if (packHeld?.hash !== hash) packHeld = { hash, pack: (await readRow('packs', hash))?.pack ?? null };
  return packHeld.pack;
}

/** Keep a pack in place of the one before. */
export async function putPack(hash, pack) {
  await write(['packs', 'meta'], async (tx) => {
    await ask(tx.objectStore('packs').clear());
    await ask(tx.objectStore('packs').put({ hash, pack, kept_at: new Date().toISOString() }));
    await ask(tx.objectStore('meta').put({ key: HEAD, value: { hash, ...headOf(pack) } }));
  });
  announce({ types: [], pack: true });
}

const headOf = (pack) => ({ paired_phones: pack?.paired_phones ?? null, made_on: pack?.made_on ?? null, ground: pack?.ground ?? null });

/**
 * What an answer needs of the pack at once; a pack of much ground is large, and reading it takes its time.
 * @returns {Promise<{paired_phones: number|null, made_on: string|null, ground: object|null}|null>} null without a pack; shared
 *   by all who ask: not to be changed
 */
export async function packHead() {
  const hash = await packHash();
  if (hash === null) return null;
  if (headHeld?.hash !== hash) {
    const kept = await getMeta(HEAD);
    const isWhole = kept?.hash === hash && kept.ground !== undefined; // else it was kept before there were heads, or such heads
    headHeld = { hash, head: headOf(isWhole ? kept : await getPack()) };
  }
  return headHeld.head;
}

/** The name of the pack kept here, or null. */
export async function packHash() {
  const [hash] = await read(['packs'], (tx) => ask(tx.objectStore('packs').getAllKeys()));
  return hash ?? null;
}

/**
 * Whether the pack's slips are good for this phone: the pack is the one home last told of, and nothing here that bears on
 * leave is still unsent.
 * @returns {Promise<boolean>}
 */
export function packIsCurrent() {
  return read(['packs', 'meta', 'ops'], async (tx) => {
    const [hash] = await ask(tx.objectStore('packs').getAllKeys());
    const sync = (await ask(tx.objectStore('meta').get('sync')))?.value;
    if (!hash || hash !== sync?.pack) return false;
    for (const dev of await devicesIn(tx)) {
      const rows = await ask(tx.objectStore('ops').getAll(unsentRange(dev, sync.have)));
      if (rows.some((row) => LEAVE_TYPES.has(row.op.type))) return false;
    }
    return true;
  });
}

/**
 * What is waiting.
 * @returns {Promise<{changes_unsent: number, photos_unsent: number, held: number, conflicts: number}>}
 */
export function counts() {
  return read(['ops', 'meta', 'photo_facts', 'held', 'conflicts'], async (tx) => {
    const have = (await ask(tx.objectStore('meta').get('sync')))?.value?.have ?? {};
    let unsent = 0;
    for (const dev of Object.keys(await vectorIn(tx))) {
      unsent += await ask(tx.objectStore('ops').count(unsentRange(dev, have)));
    }
    const facts = await ask(tx.objectStore('photo_facts').getAll());
    return {
      changes_unsent: unsent,
      photos_unsent: facts.filter((fact) => !fact.home).length,
      held: await ask(tx.objectStore('held').count()),
      conflicts: await ask(tx.objectStore('conflicts').count()),
    };
  });
}

/** How many photos lie in forms that were not saved yet: they are kept here, but not on their way home. */
export async function photosInForms() {
  const rows = await read(['drafts'], (tx) => ask(tx.objectStore('drafts').getAll()));
  return rows.reduce((sum, { key, value }) => {
    if (key.endsWith('-photos') && Array.isArray(value)) return sum + value.length;
    return key.endsWith('-paper') && value?.sha256 ? sum + 1 : sum;
  }, 0);
}

/** Keep what is being typed, so that it is there again after the app was killed; photos in it may need room. */
export async function saveDraft(key, value) {
  const put = () => write(['drafts'], (tx) => ask(tx.objectStore('drafts').put({ key, value, at: new Date().toISOString() })));
  try {
    await put();
  } catch (fault) {
    if (fault.code !== 'full' || (await dropSpare(ROOM_FOR_DRAFT)).count === 0) throw fault;
    await put();
  }
}

/** What was being typed. @returns {Promise<any>} null when there is none */
export async function getDraft(key) {
  return (await readRow('drafts', key))?.value ?? null;
}

/** The names of the drafts that begin with a word, read without what is in them. @returns {Promise<string[]>} */
export function draftKeys(prefix) {
  return read(['drafts'], (tx) => ask(tx.objectStore('drafts').getAllKeys(IDBKeyRange.bound(prefix, `${prefix}\uffff`))));
}

/** Let a draft go, once it is saved or thrown away. */
export function dropDraft(key) {
  return write(['drafts'], (tx) => ask(tx.objectStore('drafts').delete(key)));
}
