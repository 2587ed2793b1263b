/** The journal between this phone and home: what is to be sent, and taking an answer in, in one transaction. */

import { forget, isWithheld, readBlanks, sameChange } from '../core/blank.js';
import { isSuspect, readStamp, receive } from '../core/hlc.js';
import { ask, read, write } from './db.js';
import { newId } from './ids.js';
import { CHANGE_STORES, issueAnew, mergeAgain, metaIn, putMetaIn, putOp, writerIn } from './issue.js';
import { announce } from './listen.js';
import { markMissing, PHOTO_STORES } from './photos.js';

const MOST_BYTES = 900 * 1024; // of one batch: home takes 1 MiB, and the frame around it needs room
const TOKEN_BYTES = 32; // as home's own
const EMPTY_SYNC = { epoch: null, cursor: 0, have: {}, pack: null, backed_up_to: 0 };

/** The keys of one device's changes from a number on. */
function fromSeq(dev, seq) {
  return IDBKeyRange.bound([dev, seq], [dev, Infinity]);
}

/** The keys of one device's changes that home does not have. */
export function unsentRange(dev, have) {
  return fromSeq(dev, (have?.[dev] ?? 0) + 1);
}

/** Every device of which a change is known here. @returns {Promise<string[]>} */
export async function devicesIn(tx) {
  const ops = tx.objectStore('ops');
  const devices = [];
  for (let cursor = await ask(ops.openKeyCursor()); cursor;) {
    devices.push(cursor.key[0]);
    cursor = await ask(ops.openKeyCursor(IDBKeyRange.lowerBound([cursor.key[0], Infinity], true)));
  }
  return devices;
}

/** For every device known here the highest number up to which nothing is missing. */
export async function vectorIn(tx) {
  const ops = tx.objectStore('ops');
  const vector = {};
  for (const dev of await devicesIn(tx)) {
    const highest = (await ask(ops.openKeyCursor(fromSeq(dev, 0), 'prev'))).key[1];
    const number = await ask(ops.count(fromSeq(dev, 0)));
    vector[dev] = highest === number ? highest : await unbroken(ops, dev);
  }
  return vector;
}

async function unbroken(ops, dev) {
  const keys = await ask(ops.getAllKeys(fromSeq(dev, 1)));
  const gap = keys.findIndex(([, seq], i) => seq !== i + 1);
  return gap < 0 ? keys.length : gap;
}

/** The name under which this phone writes its changes; made on first need. @returns {Promise<string>} */
export function deviceId() {
  return write(['meta'], async (tx) => (await writerIn(tx)).dev);
}

/** Write from here on under a new name; what was written under the old one stays and is sent like any other's. */
export function takeNewName() {
  return write(['meta'], (tx) => putMetaIn(tx, 'writer', { dev: newId(), seq: 0 }));
}

/** What this phone knows of every device: {device: number}. */
export function knownVector() {
  return read(['ops'], vectorIn);
}

/** Where sync stands: {epoch, cursor, have, pack, backed_up_to}. */
export async function syncPlace() {
  return (await read(['meta'], (tx) => metaIn(tx, 'sync'))) ?? EMPTY_SYNC;
}

/** Ask home for everything once more at the next sync, to compare; nothing is lost or sent twice by it. */
export function startAfresh() {
  return write(['meta'], async (tx) => {
    const place = (await metaIn(tx, 'sync')) ?? EMPTY_SYNC;
    await putMetaIn(tx, 'sync', { ...place, epoch: null, cursor: 0 });
  });
}

/**
 * The next changes to send: every change of the journal that home does not have, this phone's own first.
 * @param {Record<string, number>} have home's numbers
 * @param {number} limit at most so many
 * @returns {Promise<object[]>}
 */
export function changesToSend(have, limit) {
  return read(['ops', 'meta'], async (tx) => {
    const own = (await metaIn(tx, 'writer'))?.dev ?? null;
    const devices = Object.keys(await vectorIn(tx)).sort((a, b) => Number(b === own) - Number(a === own));
    const batch = [];
    let bytes = 0;
    for (const dev of devices) {
      const rows = await ask(tx.objectStore('ops').getAll(unsentRange(dev, have), limit - batch.length));
      for (const { op } of rows) {
        if (isWithheld(op)) continue; // never the change itself: another phone has it whole
        bytes += new TextEncoder().encode(JSON.stringify(op)).length + 1;
        if (batch.length > 0 && bytes > MOST_BYTES) return batch;
        batch.push(op);
      }
      if (batch.length >= limit) return batch;
    }
    return batch;
  });
}

/** Put a change into the journal as decided at home, and among the held ones or out of them. */
function putDecided(tx, op, suspect, held) {
  const store = tx.objectStore('held');
  return Promise.all([
    putOp(tx, op, { suspect, held }),
    ask(held === null ? store.delete([op.dev, op.seq]) : store.put({ dev: op.dev, seq: op.seq, op, why: held })),
  ]);
}

/** The rows of the journal under some names, in order; undefined where there is none. */
function rowsOf(tx, names) {
  const ops = tx.objectStore('ops');
  return Promise.all(names.map(({ dev, seq }) => ask(ops.get([dev, seq]))));
}

/** Home's word on what was sent. @returns {Promise<Set<string>>} ids of the records that change by it */
async function applyResults(tx, results) {
  const named = results.filter(({ dev, seq }) => typeof dev === 'string' && Number.isInteger(seq));
  const rows = await rowsOf(tx, named);
  const changed = named
    .map(({ s, why = null, clock_suspect: suspect = false }, i) => {
      const held = s === 'held' || s === 'bad' ? (why ?? 'Home could not apply this change.') : why;
      return { row: rows[i], suspect, held };
    })
    .filter(({ row, suspect, held }) => row && (held !== row.held || suspect !== row.suspect));
  await Promise.all(changed.map(({ row, suspect, held }) => putDecided(tx, row.op, suspect, held)));
  return new Set(changed.map(({ row }) => row.rec));
}

/**
 * A change arrived under a name under which this phone holds another one: this phone, or that one, is a copy. What was
 * written here since then is written anew under a new name.
 */
async function mendFork(tx, dev, fromNumber, arrived, at) {
  const rows = await ask(tx.objectStore('ops').getAll(fromSeq(dev, fromNumber)));
  const ours = rows.filter((row) => {
    const theirs = arrived.get(`${dev} ${row.seq}`);
    return !theirs || !sameChange(theirs, row.op);
  });
  if ((await writerIn(tx)).dev === dev) await putMetaIn(tx, 'writer', { dev: newId(), seq: 0 });
  return issueAnew(tx, ours, at);
}

/** Mend every fork that what arrived shows. @returns {Promise<Set<string>>} ids of the records touched */
async function mendForks(tx, entries, rows, at) {
  const first = new Map();
  entries.forEach(({ op }, i) => {
    if (rows[i] && !sameChange(rows[i].op, op)) {
      first.set(op.dev, Math.min(op.seq, first.get(op.dev) ?? op.seq));
    }
  });
  const arrived = new Map(first.size > 0 ? entries.map(({ op }) => [`${op.dev} ${op.seq}`, op]) : []);
  const touched = new Set();
  for (const [dev, seq] of first) for (const rec of await mendFork(tx, dev, seq, arrived, at)) touched.add(rec);
  return touched;
}

const FORGETTING = 'forgetting';

/** What was forgotten so far, and by this answer. @returns {Promise<{all: Map<string, Set<string>>, newly: Map<string, Set<string>>, files: string[]}>} */
async function forgottenIn(tx, entries) {
  const known = await ask(tx.objectStore('records').index('type').getAll(FORGETTING));
  const come = entries.filter(({ op, held = null }) => op.type === FORGETTING && held === null && op.set);
  return {
    all: readBlanks([...known.map((record) => record.fields.blanks), ...come.map(({ op }) => op.set.blanks)]),
    newly: readBlanks(come.map(({ op }) => op.set.blanks)),
    files: come.flatMap(({ op }) => (Array.isArray(op.set.files) ? op.set.files : [])),
  };
}

/** Let go of everything that names a person who was forgotten. @returns {Promise<string[]>} the records touched */
async function forgetIn(tx, { all, newly, files }) {
  for (const rec of newly.keys()) {
    for (const row of await ask(tx.objectStore('ops').index('rec').getAll(rec))) {
      const less = forget(row.op, all);
      if (less !== row.op) await putDecided(tx, less, row.suspect, row.held);
    }
  }
  for (const row of await ask(tx.objectStore('set_aside').getAll())) {
    if (newly.has(row.op.rec)) await ask(tx.objectStore('set_aside').delete([row.dev, row.seq]));
  }
  for (const key of await ask(tx.objectStore('drafts').getAllKeys())) {
    if ([...newly.keys()].some((rec) => key.includes(rec))) await ask(tx.objectStore('drafts').delete(key));
  }
  await ask(tx.objectStore('packs').clear()); // its slips name them; the new one follows in the same sync
  await ask(tx.objectStore('meta').delete('pack_head'));
  for (const sha256 of files) {
    for (const store of ['photos', 'photo_facts', 'thumbs']) await ask(tx.objectStore(store).delete(sha256));
  }
  return [...newly.keys()];
}

/** Take in the changes of others. @returns {Promise<{touched: Set<string>, fresh: number}>} */
async function applyOps(tx, told, at) {
  const forgotten = await forgottenIn(tx, told);
  const entries = forgotten.all.size === 0 ? told : told.map((entry) => ({ ...entry, op: forget(entry.op, forgotten.all) }));
  const names = entries.map(({ op }) => op);
  let rows = await rowsOf(tx, names);
  const touched = await mendForks(tx, entries, rows, at);
  if (touched.size > 0) rows = await rowsOf(tx, names); // some of ours have left their old names

  const now = at.getTime();
  const writer = await writerIn(tx);
  const writes = [];
  let clock = (await metaIn(tx, 'clock')) ?? { ms: 0, count: 0 };
  let fresh = 0;
  let copied = false;
  entries.forEach(({ op, clock_suspect: suspect = false, held = null }, i) => {
    const stamp = readStamp(op.hlc);
    if (stamp && !suspect && !isSuspect(stamp, now)) clock = receive(clock, stamp, now);
    const row = rows[i];
    // Of a change that is told in part home's copy counts: what this phone may see has changed, to more or to less.
    const told = op.blanked || row?.op.blanked;
    if (row && row.suspect === suspect && row.held === held && !told) return;
    writes.push(putDecided(tx, op, suspect, held));
    touched.add(op.rec);
    if (row) return;
    fresh += 1;
    copied ||= op.dev === writer.dev;
  });
  // Someone else has written under this phone's name: from here on it uses a new one.
  if (copied) writes.push(putMetaIn(tx, 'writer', { dev: newId(), seq: 0 }));
  writes.push(putMetaIn(tx, 'clock', clock));
  await Promise.all(writes);
  if (forgotten.newly.size > 0) for (const rec of await forgetIn(tx, forgotten)) touched.add(rec);
  return { touched, fresh };
}

/** Home lacks changes that it had: it was put back to an earlier day. What is kept here of them is told, and goes home again. */
async function notePutBackIn(tx, had, has, at) {
  let changes = 0;
  let from = null;
  for (const [dev, upto] of Object.entries(had)) {
    const first = (has[dev] ?? 0) + 1;
    if (first > upto) continue;
    const rows = await ask(tx.objectStore('ops').getAll(IDBKeyRange.bound([dev, first], [dev, upto])));
    for (const { op } of rows) {
      if (isWithheld(op)) continue;
      changes += 1;
      if (typeof op.wall === 'string' && (from === null || op.wall < from)) from = op.wall;
    }
  }
  if (changes > 0) await putMetaIn(tx, 'home_put_back', { at: at.toISOString(), changes, from });
}

/**
 * Take home's answer in: its changes, its word on ours, and the place reached, all in one transaction.
 * @param {object} answer of POST /api/sync, checked for its shape
 * @returns {Promise<{fresh: number, new_epoch: boolean}>} fresh: changes not known before
 */
export async function applyAnswer(answer) {
  const types = new Set();
  const done = await write([...CHANGE_STORES, ...PHOTO_STORES, 'drafts', 'packs'], async (tx) => {
    types.clear();
    const at = new Date();
    const before = (await metaIn(tx, 'sync')) ?? EMPTY_SYNC;
    const touched = await applyResults(tx, answer.results ?? []);
    const taken = await applyOps(tx, answer.ops ?? [], at);
    const merged = await mergeAgain(tx, new Set([...touched, ...taken.touched]));
    for (const { type } of merged) types.add(type);
    await markMissing(tx, answer.blobs_missing ?? []);
    await putMetaIn(tx, 'sync', {
      epoch: answer.epoch,
      cursor: answer.cursor,
      have: answer.have,
      pack: answer.pack ?? null,
      backed_up_to: answer.backed_up_to ?? 0,
    });
    const isNew = before.epoch !== null && before.epoch !== answer.epoch;
    if (isNew) await notePutBackIn(tx, before.have, answer.have, at);
    return { fresh: taken.fresh, new_epoch: isNew };
  });
  announce({ types: [...types] });
  return done;
}

/**
 * Write this phone's unsent changes anew under a new name: home said that their name is taken.
 * @param {Record<string, number>} have home's numbers
 */
export async function renameUnsent(have) {
  await write(CHANGE_STORES, async (tx) => {
    const { dev } = await writerIn(tx);
    const rows = await ask(tx.objectStore('ops').getAll(unsentRange(dev, have)));
    await putMetaIn(tx, 'writer', { dev: newId(), seq: 0 });
    await mergeAgain(tx, await issueAnew(tx, rows, new Date()));
  });
  announce({ types: [] });
}

/**
 * From now on this phone may only record: the pictures, plans and forms that it kept of others go. Its changes are told
 * anew by home, with less in them; what home has not got yet stays until it has.
 */
async function becomeRecorderIn(tx) {
  for (const fact of await ask(tx.objectStore('photo_facts').getAll())) {
    if (!fact.home) continue;
    for (const store of ['photo_facts', 'photos']) await ask(tx.objectStore(store).delete(fact.sha256));
  }
  const kept = new Set(await ask(tx.objectStore('photo_facts').getAllKeys()));
  for (const sha256 of await ask(tx.objectStore('thumbs').getAllKeys())) {
    if (!kept.has(sha256)) await ask(tx.objectStore('thumbs').delete(sha256));
  }
  for (const key of await ask(tx.objectStore('drafts').getAllKeys())) {
    if (!/^(mark|lift)/.test(key)) await ask(tx.objectStore('drafts').delete(key));
  }
  for (const store of ['packs', 'set_aside']) await ask(tx.objectStore(store).clear());
  await ask(tx.objectStore('meta').delete('pack_head'));
}

/**
 * Keep what home said that this phone may do; with it goes, in the same transaction, what it may not have any more.
 * @param {*} role home's word: full or record; anything else says nothing
 * @param {string} token by which home was asked: paired anew meanwhile, the phone goes by the newer word
 */
export async function keepRole(role, token) {
  if (!['full', 'record'].includes(role)) return;
  const changed = await write(['photo_facts', 'photos', 'thumbs', 'packs', 'drafts', 'set_aside', 'meta'], async (tx) => {
    const identity = await metaIn(tx, 'identity');
    if (identity?.token !== token || (identity.role ?? 'full') === role) return false;
    if (role === 'record') await becomeRecorderIn(tx);
    await putMetaIn(tx, 'identity', { ...identity, role });
    return true;
  });
  if (changed) announce({ types: [] });
}

/**
 * The token that a phone takes which had to take a new name; kept before home is told, so that a lost answer costs nothing.
 * @param {string} device its new name
 * @returns {Promise<string>} the same for the same name
 */
export function tokenToTake(device) {
  return write(['meta'], async (tx) => {
    const kept = await metaIn(tx, 'token_to_take');
    if (kept?.device === device) return kept.token;
    const random = crypto.getRandomValues(new Uint8Array(TOKEN_BYTES));
    const token = btoa(String.fromCharCode(...random)).replaceAll('+', '-').replaceAll('/', '_').replaceAll('=', '');
    await putMetaIn(tx, 'token_to_take', { device, token });
    return token;
  });
}

/**
 * From now on this phone shows a token of its own.
 * @param {string} shown the one until now: paired anew meanwhile, the phone keeps what it got then
 * @returns {Promise<boolean>} whether it was taken
 */
export async function takeToken(shown, { device, token }) {
  const taken = await write(['meta'], async (tx) => {
    const identity = await metaIn(tx, 'identity');
    if (identity?.token !== shown) return false;
    await putMetaIn(tx, 'identity', { ...identity, device, token });
    await putMetaIn(tx, 'was_copied', { at: new Date().toISOString(), name: identity.name ?? null });
    return true;
  });
  if (taken) announce({ types: [] });
  return taken;
}
