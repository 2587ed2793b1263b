/**
 * Photos: originals by their hash, never read through an index or for a list; small pictures in a store of their own;
 * and beside them what home has, so that nothing large is read to count.
 */

import { ask, read, readRow, write } from './db.js';
import { askHome, askHomeBytes, hasToken, HomeError } from './home.js';
import { announce } from './listen.js';

export const PHOTO_STORES = ['photos', 'photo_facts', 'thumbs'];
const SMALL_TYPE = 'image/jpeg';
const PREVIEW_WAIT_MS = 8000;
const ORIGINAL_WAIT_MS = 30_000;
const SMALL_ENOUGH = 128 * 1024; // a photo that is hardly larger than its small picture goes itself
const REST_MS = 30_000; // after home did not answer, lists do not knock again for each of their pictures

let restUntil = 0;

/** Keep one photo in this transaction over PHOTO_STORES; home: it came from there, and waits for nothing. */
export async function keepPhoto(tx, { sha256, bytes, type, thumb = null, home = false }, at) {
  const facts = tx.objectStore('photo_facts');
  const known = await ask(facts.get(sha256));
  if (thumb) await ask(tx.objectStore('thumbs').put({ sha256, bytes: thumb, type: SMALL_TYPE }));
  if (known) return;
  await ask(tx.objectStore('photos').put({ sha256, bytes, type }));
  await ask(facts.put({ sha256, type, size: bytes.byteLength, home, kept_at: at.toISOString() }));
}

/** Make room: small pictures of photos that home has can be fetched again. Unsent work is never touched. */
export function makeRoom() {
  return write(['photo_facts', 'photos', 'thumbs'], async (tx) => {
    const unsent = new Set((await ask(tx.objectStore('photo_facts').getAll())).filter((fact) => !fact.home).map((fact) => fact.sha256));
    for (const sha256 of await ask(tx.objectStore('thumbs').getAllKeys())) {
      if (!unsent.has(sha256)) await ask(tx.objectStore('thumbs').delete(sha256));
    }
  });
}

/**
 * Keep what just came from home. It is never counted as waiting, not for a moment: the quiet line would say that home lacks it.
 * @param {{sha256: string, bytes: ArrayBuffer, type: string}} photo
 * @returns {Promise<boolean>} false: there is no room for it on this phone
 */
export async function keepOfHome(photo) {
  try {
    await write(PHOTO_STORES, async (tx) => {
      await keepPhoto(tx, { ...photo, home: true }, new Date());
      const fact = await ask(tx.objectStore('photo_facts').get(photo.sha256));
      if (!fact.home) await ask(tx.objectStore('photo_facts').put({ ...fact, home: true }));
    });
  } catch (fault) {
    if (fault.code !== 'full') throw fault;
    return false;
  }
  announce({ types: [] });
  return true;
}

/** Photos that home does not have yet, smallest first. @returns {Promise<{sha256: string, size: number, type: string}[]>} */
export async function photosToSend() {
  const facts = await read(['photo_facts'], (tx) => ask(tx.objectStore('photo_facts').getAll()));
  return facts.filter((fact) => !fact.home).sort((a, b) => a.size - b.size);
}

/** Under which life of home something was told it: one that was put back from a backup may have lost it. */
async function lifeIn(tx) {
  return String((await ask(tx.objectStore('meta').get('sync')))?.value?.epoch);
}

/** Photos that home lacks, and whose small picture it has not been given yet, smallest first. @returns {Promise<string[]>} */
export function smallToSend() {
  return read(['photo_facts', 'thumbs', 'meta'], async (tx) => {
    const life = await lifeIn(tx);
    const small = new Set(await ask(tx.objectStore('thumbs').getAllKeys()));
    const facts = await ask(tx.objectStore('photo_facts').getAll());
    return facts.filter((fact) => !fact.home && fact.small_sent !== life && fact.size > SMALL_ENOUGH && small.has(fact.sha256))
      .sort((a, b) => a.size - b.size).map((fact) => fact.sha256);
  });
}

/** The small picture kept here, and only that. @returns {Promise<ArrayBuffer|null>} */
export async function getOwnSmall(sha256) {
  return (await readRow('thumbs', sha256))?.bytes ?? null;
}

/** Note that home was given the small picture of a photo. */
export function markSmallSent(sha256) {
  return write(['photo_facts', 'meta'], async (tx) => {
    const fact = await ask(tx.objectStore('photo_facts').get(sha256));
    if (fact) await ask(tx.objectStore('photo_facts').put({ ...fact, small_sent: await lifeIn(tx) }));
  });
}

/** Note that home holds a photo whole; only after home said so. */
export async function markAtHome(sha256) {
  await write(['photo_facts'], async (tx) => {
    const fact = await ask(tx.objectStore('photo_facts').get(sha256));
    if (fact) await ask(tx.objectStore('photo_facts').put({ ...fact, home: true }));
  });
  announce({ types: [] });
}

/** In an answer's transaction: home lacks these after all (put back from an older copy), so they wait again. */
export async function markMissing(tx, hashes) {
  for (const sha256 of hashes) {
    const fact = await ask(tx.objectStore('photo_facts').get(sha256));
    if (fact?.home) await ask(tx.objectStore('photo_facts').put({ ...fact, home: false, twice: null }));
  }
}

/** Whether a record says which file is its own: every field may be unknown, and one such must not close a whole page. */
function isNamed(sha256) {
  return typeof sha256 === 'string' && sha256 !== '';
}

async function fetchFromHome(path, waitMs, { rests = true } = {}) {
  if ((rests && Date.now() < restUntil) || !(await hasToken())) return null;
  try {
    const got = await askHomeBytes(path, { waitMs });
    // A sign-in page of some other network answers 200 with a page: that is no picture.
    return got.type.startsWith('text/') ? null : got;
  } catch (fault) {
    if (!(fault instanceof HomeError)) throw fault;
    // Out of reach is an ordinary state: the picture is simply not there yet.
    if (fault.code === 'away') restUntil = Date.now() + REST_MS;
    return null;
  }
}

/**
 * What home has of a photo; nothing of it is fetched.
 * @param {string} sha256
 * @returns {Promise<{size: number|null}|null>} size: bytes, null while home does not have it whole; null: home was not reached
 */
export async function askAboutPhoto(sha256) {
  if (!isNamed(sha256) || !(await hasToken())) return null;
  try {
    const { headers } = await askHome(`/api/blob/${sha256}`, { method: 'HEAD', waitMs: PREVIEW_WAIT_MS });
    const size = Number(headers.get('Upload-Offset') ?? Number.NaN);
    return { size: headers.get('Upload-Complete') === '?1' && Number.isSafeInteger(size) ? size : null };
  } catch (fault) {
    if (!(fault instanceof HomeError)) throw fault;
    return fault.status === 404 ? { size: null } : null;
  }
}

/**
 * The original of a photo: kept here, or else from home if it can be reached.
 * @param {string} sha256
 * @param {number} [waitMs] for all of it
 * @returns {Promise<{bytes: ArrayBuffer, type: string}|null>}
 */
export async function getPhoto(sha256, waitMs = ORIGINAL_WAIT_MS) {
  if (!isNamed(sha256)) return null;
  const row = await readRow('photos', sha256);
  if (row) return { bytes: row.bytes, type: row.type };
  return fetchFromHome(`/api/blob/${sha256}`, waitMs, { rests: false }); // one that a person asked for
}

/** Whether the original is kept on this phone; asked without reading it. @returns {Promise<boolean>} */
export async function isKeptHere(sha256) {
  return isNamed(sha256) && Boolean(await readRow('photo_facts', sha256));
}

/** The original kept on this phone, and only that. @returns {Promise<ArrayBuffer|null>} */
export async function getOwnBytes(sha256) {
  return isNamed(sha256) ? (await readRow('photos', sha256))?.bytes ?? null : null;
}

/**
 * The small picture of a photo: kept here, or else home's preview, which is then kept.
 * @param {string} sha256
 * @returns {Promise<{bytes: ArrayBuffer, type: string}|null>} null: none here and home not reached, or no picture can be made
 */
export async function getThumb(sha256) {
  if (!isNamed(sha256)) return null;
  const row = await readRow('thumbs', sha256);
  if (row) return { bytes: row.bytes, type: row.type };
  const got = await fetchFromHome(`/api/blob/${sha256}/preview`, PREVIEW_WAIT_MS);
  if (!got || !got.type.startsWith('image/')) return null;
  try {
    await write(['thumbs'], (tx) => ask(tx.objectStore('thumbs').put({ sha256, ...got })));
  } catch (fault) {
    if (fault.code !== 'full') throw fault; // no room to keep it: it is shown now and fetched again next time
  }
  return got;
}
