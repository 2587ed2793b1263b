/**
 * Making changes inside a running transaction: the next number and stamp, the change itself, the merged record.
 *
 * Everything here takes the transaction it runs in, over the stores CHANGE_STORES, and awaits only its requests.
 */

import { tick, writeStamp } from '../core/hlc.js';
import { baseFor, canonicalText, mergeRecord } from '../core/merge.js';
import { ask, StoreError } from './db.js';
import { noteGroundIn } from './ground.js';
import { newId, offsetText } from './ids.js';

export const CHANGE_STORES = ['ops', 'records', 'conflicts', 'meta', 'held', 'set_aside'];
const FORM = 1; // of a change, its field "v"
const MOST_TEXT = 900 * 1024; // home takes requests of up to 1 MiB; one change must fit in one
const HOME_ALONE = 'forgetting'; // home writes these for the owner, and takes none from a phone; here one would lift what went
const HALVES = /[\ud800-\udbff][\udc00-\udfff]|[\ud800-\udfff]/g;

/** Read a meta value in this transaction; null when there is none. */
export async function metaIn(tx, key) {
  return (await ask(tx.objectStore('meta').get(key)))?.value ?? null;
}

/** Write a meta value in this transaction. */
export function putMetaIn(tx, key, value) {
  return ask(tx.objectStore('meta').put({ key, value }));
}

/**
 * Check and clean what a screen wants saved, before any transaction.
 * @param {{rec?: string, type: string, set: object, seen?: object}} change seen: the merged record as the person saw it
 * @returns {{rec: string, type: string, set: object, seen: object|null}} of plain JSON values
 */
export function prepare({ rec = null, type, set, seen = null }) {
  if (typeof type !== 'string' || type === '' || set === null || typeof set !== 'object' || Array.isArray(set)) {
    throw new StoreError('bad-change', 'There is nothing in this that could be saved.');
  }
  if (type === HOME_ALONE) throw new StoreError('bad-change', 'A person is forgotten at home, on their page; no phone changes that.');
  const text = JSON.stringify(set, (key, value) => {
    if (typeof value === 'number' && !Number.isFinite(value)) {
      throw new StoreError('bad-change', `“${key}” is not a number that can be saved.`);
    }
    // Half of a character pair (a cut emoji) and NUL are no text to home: it would be refused with all sent beside it.
    return typeof value === 'string' ? value.replaceAll('\0', '').replace(HALVES, (found) => (found.length === 2 ? found : '\ufffd')) : value;
  });
  if (new TextEncoder().encode(text).length > MOST_TEXT) {
    throw new StoreError('bad-change', 'This is too much for one record. Make it shorter, or its boundary simpler.');
  }
  return { rec: rec ?? newId(), type, set: JSON.parse(text), seen };
}

/** Who writes on this phone: the name under which changes are numbered. Made on first need. */
export async function writerIn(tx) {
  const known = await metaIn(tx, 'writer');
  if (known) return known;
  const writer = { dev: newId(), seq: 0 };
  await putMetaIn(tx, 'writer', writer);
  return writer;
}

/** The next change's name, number and stamp; kept at once, in the same transaction as the change. */
async function nextName(tx, at) {
  const { dev, seq } = await writerIn(tx);
  const clock = tick((await metaIn(tx, 'clock')) ?? { ms: 0, count: 0 }, at.getTime());
  await putMetaIn(tx, 'writer', { dev, seq: seq + 1 });
  await putMetaIn(tx, 'clock', clock);
  return { dev, seq: seq + 1, hlc: writeStamp(clock, dev) };
}

/** Put one row into the journal. */
export function putOp(tx, op, { suspect = false, held = null } = {}) {
  return ask(tx.objectStore('ops').put({ dev: op.dev, seq: op.seq, rec: op.rec, op, suspect, held }));
}

/**
 * Merge records anew from the journal. All are asked for at once: a phone answers one by one far more slowly.
 * @param {IDBTransaction} tx
 * @param {Iterable<string>} recs ids
 * @returns {Promise<object[]>} the merged records; one of which nothing is left is not among them
 */
export async function mergeAgain(tx, recs) {
  // A held change may name no record at all; asking the index for that would give every row there is.
  const ids = [...recs].filter((rec) => typeof rec === 'string');
  const [records, conflicts] = [tx.objectStore('records'), tx.objectStore('conflicts')];
  const index = tx.objectStore('ops').index('rec');
  const rows = await Promise.all(ids.map((id) => ask(index.getAll(id))));
  const merged = rows.map((some) => mergeRecord(some.filter((row) => row.held === null)));
  await Promise.all(merged.flatMap((record, i) => {
    const disputed = record !== null && Object.keys(record.conflicts).length > 0;
    return [
      ask(record ? records.put(record) : records.delete(ids[i])),
      ask(disputed ? conflicts.put({ id: ids[i] }) : conflicts.delete(ids[i])),
    ];
  }));
  await noteGroundIn(tx, ids, merged);
  return merged.filter((record) => record !== null);
}

function valueOf(record, name) {
  return (name === 'deleted' ? record.deleted : record.fields[name]) ?? null;
}

/** The fields that really differ from what was seen: a form saved whole must not speak for fields it did not touch. */
function changedFields(set, seen) {
  if (!seen) return set;
  const names = Object.keys(set).filter(
    (name) => Object.hasOwn(seen.conflicts, name) || canonicalText(set[name]) !== canonicalText(valueOf(seen, name)),
  );
  return Object.fromEntries(names.map((name) => [name, set[name]]));
}

/**
 * Make one change and merge its record.
 * @param {IDBTransaction} tx
 * @param {{rec: string, type: string, set: object, seen: object|null}} change of `prepare`
 * @param {Date} at
 * @returns {Promise<boolean>} false when nothing in it differed from what was there
 */
export async function issueChange(tx, change, at) {
  const current = (await ask(tx.objectStore('records').get(change.rec))) ?? null;
  const seen = change.seen ?? current;
  const set = changedFields(change.set, seen);
  if (Object.keys(set).length === 0) return false;
  const op = {
    ...(await nextName(tx, at)),
    wall: wallText(at),
    tz: offsetText(at),
    rec: change.rec,
    type: change.type,
    set,
    base: baseFor(seen, set),
    v: FORM,
  };
  await putOp(tx, op);
  await mergeAgain(tx, [change.rec]);
  return true;
}

/** A clock gone mad must not stop a save: years outside 0001 to 9999 are written as the first instant of 1970. */
function wallText(at) {
  const year = at.getUTCFullYear();
  return year >= 1 && year <= 9999 ? at.toISOString() : new Date(0).toISOString();
}

/**
 * Write changes anew under this phone's present name, because their own name was taken by others.
 * @param {IDBTransaction} tx
 * @param {object[]} rows of the journal, oldest first; they leave it and are set aside as they were
 * @param {Date} at
 * @returns {Promise<Set<string>>} ids of the records touched
 */
export async function issueAnew(tx, rows, at) {
  const renamed = new Map();
  const touched = new Set();
  for (const { op } of rows) {
    const name = await nextName(tx, at);
    const base = Object.fromEntries(
      Object.entries(op.base).map(([field, stamps]) => [field, stamps.map((stamp) => renamed.get(stamp) ?? stamp)]),
    );
    renamed.set(op.hlc, name.hlc);
    await ask(tx.objectStore('set_aside').put({ dev: op.dev, seq: op.seq, op, as: { dev: name.dev, seq: name.seq } }));
    await ask(tx.objectStore('ops').delete([op.dev, op.seq]));
    await putOp(tx, { ...op, ...name, base });
    touched.add(op.rec);
  }
  return touched;
}
