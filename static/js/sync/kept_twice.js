/** Which photos home keeps twice, here and in a good backup: only those may ever be let go on this phone. */

import { getMeta, setMeta } from '../store.js';
import { askHomeJson, HomeError } from '../store/home.js';
import { markTwice, perhapsTwice } from '../store/room.js';

const AT_ONCE = 500;
const WAIT_MS = 15_000;
const GOOD_MS = 6 * 60 * 60 * 1000; // home makes a backup a day
const ASKED = 'kept_twice_asked_at';

/**
 * Ask home about the photos of which it is not known yet.
 * @param {{now?: boolean}} [options] now: also when it was asked not long ago
 * @returns {Promise<void>}
 * @throws {HomeError} only when asked for now
 */
export async function learnKeptTwice({ now = false } = {}) {
  const askedAt = await getMeta(ASKED);
  if (!now && Math.abs(Date.now() - (askedAt ?? 0)) < GOOD_MS) return;
  const hashes = await perhapsTwice();
  try {
    for (let at = 0; at < hashes.length; at += AT_ONCE) {
      const asked = hashes.slice(at, at + AT_ONCE);
      const { kept_twice: told } = await askHomeJson('/api/kept-twice', { json: { sha256: asked }, waitMs: WAIT_MS });
      if (!Array.isArray(told)) throw new HomeError('not-home');
      await markTwice(asked.filter((one) => told.includes(one)));
    }
    if (hashes.length > 0) await setMeta(ASKED, Date.now());
  } catch (fault) {
    // By itself it is a comfort: an older home does not know the question, and what is not known stays on the phone.
    if (now || !(fault instanceof HomeError)) throw fault;
  }
}
