/** Sync: when it runs, what it tells the quiet line, and pairing. How changes travel is in sync/exchange.js. */

import { endedWords, otherAddress } from './core/home_told.js';
import { getIdentity, counts, getMeta, knownVector, onStoreChange, setIdentity, setMeta } from './store.js';
import { askHomeJson, HomeError } from './store/home.js';
import { exchange, fetchPack, hello } from './sync/exchange.js';
import { learnKeptTwice } from './sync/kept_twice.js';
import { takeOwnToken } from './sync/own_token.js';
import { nameToPairUnder } from './sync/pair_name.js';
import { sendPhotos } from './upload.js';

const LOCK = 'fellside-sync';
const EVERY_MS = 3 * 60 * 1000;
const AFTER_SAVE_MS = 1500; // several saves in a row are one sync
const KNOCK_MS = 15_000; // while something waits and home is away: a small question this often for a while,
const KNOCKS_IN_A_ROW = 12; // then ever more seldom, down to EVERY_MS
const PAIR_WAIT_MS = 15_000;
const NAMES_WAIT_MS = 8000;
const NAMES_GOOD_MS = 12 * 60 * 60 * 1000;
const CLOCK_WORTH_SAYING_S = 120;
const MOST_ROUNDS = 5;
// Each of these is an ordinary state on the hill or at a stranger's network, not a trouble to alarm anyone with.
const AWAY = new Set(['away', 'not-home']);
const LET_OUT = new Set(['unpaired', 'shut-out']);

let state = {
  phase: 'idle', unsent_changes: 0, unsent_photos: 0, held: 0, conflicts: 0,
  last_ok_at: null, trouble: null, clock_offset_s: null, photo_bytes: null, next_try_at: null,
};
const listeners = new Set();
let running = null;
let following = null; // the one more that was asked for while it ran
let savedMeanwhile = false;
let countings = 0;

function publish(part) {
  state = { ...state, ...part };
  for (const listener of [...listeners]) listener(state);
}

/** Count anew what waits; whoever follows sync is told. */
export const recount = () => refresh().catch((fault) => publish({ trouble: { code: fault.code ?? 'fault', text: fault.message } }));

async function refresh() {
  countings += 1;
  const mine = countings;
  const [number, at, offset] = await Promise.all([counts(), getMeta('last_sync_at'), getMeta('clock_offset_s')]);
  if (mine !== countings) return; // one that began later, and so knows more, tells it
  publish({
    unsent_changes: number.changes_unsent,
    unsent_photos: number.photos_unsent,
    held: number.held,
    conflicts: number.conflicts,
    last_ok_at: at,
    clock_offset_s: offset !== null && Math.abs(offset) > CLOCK_WORTH_SAYING_S ? offset : null,
  });
}

/**
 * Follow sync. Called at once with the present state, then at every change.
 * @param {(state: {phase: 'idle'|'asking'|'sending'|'pack'|'photos'|'away'|'unpaired', unsent_changes: number,
 *   unsent_photos: number, held: number, conflicts: number, last_ok_at: string|null, trouble: {code: string, text: string}|null,
 *   clock_offset_s: number|null, photo_bytes: {sent: number, of: number}|null, next_try_at: number|null}) => any} listener
 *   next_try_at: while home is away and something waits, when it is asked for again by itself (ms)
 *   clock_offset_s: how far this phone's clock is ahead of home's, only when over two minutes
 * @returns {() => void} stops following
 */
export function onSyncState(listener) {
  listeners.add(listener);
  listener(state);
  return () => listeners.delete(listener);
}

/**
 * The address that home wants to be opened at, where this phone uses another; as home told it, now or at the last sync.
 * @param {{ask: boolean}} options ask: ask home now, also before pairing
 * @returns {Promise<{address: string, can_go: boolean}|null>} of `otherAddress`; null also while home is away
 */
export async function homeElsewhere({ ask }) {
  try {
    const told = ask ? (await hello()).home : await getMeta('home_told');
    return otherAddress(told, globalThis.location.origin);
  } catch (fault) {
    if (fault instanceof HomeError) return null;
    throw fault;
  }
}

/** When home and this phone last had everything of each other. @returns {Promise<string|null>} instant, null: never */
export function lastSync() {
  return getMeta('last_sync_at');
}

/**
 * Keep what the devices of the house are called, so that it can be said on the hill too.
 * @param {{device: string, name: string}[]} devices of /api/devices
 */
export async function keepDeviceNames(devices) {
  const known = Object.fromEntries(Object.keys(await knownVector()).map((dev) => [dev, null])); // asked for, nameless
  await setMeta('device_names', { at: Date.now(), names: { ...known, ...Object.fromEntries(devices.map((one) => [one.device, one.name])) } });
}

/** What the devices are called. @returns {Promise<Map<string, string>>} those without a name left out */
export async function deviceNames() {
  return new Map(Object.entries((await getMeta('device_names'))?.names ?? {}).filter(([, name]) => name));
}

async function learnDeviceNames() {
  const kept = await getMeta('device_names');
  const strangers = Object.keys(await knownVector()).filter((dev) => !Object.hasOwn(kept?.names ?? {}, dev));
  if (strangers.length === 0 && Math.abs(Date.now() - (kept?.at ?? 0)) < NAMES_GOOD_MS) return;
  try {
    await keepDeviceNames((await askHomeJson('/api/devices', { waitMs: NAMES_WAIT_MS })).devices ?? []);
  } catch (fault) {
    // A comfort that is missing until the next sync: all that mattered is home already.
    if (!(fault instanceof HomeError)) throw fault;
  }
}

async function oneRound(proto) {
  savedMeanwhile = false;
  await exchange(proto, (phase) => publish({ phase }));
  await setMeta('last_sync_at', new Date().toISOString());
  publish({ phase: 'pack' });
  await fetchPack();
  publish({ phase: 'photos' });
  return sendPhotos({
    pause: () => savedMeanwhile, // words go before pictures, also those written while pictures were on their way
    onProgress: (sent, of) => publish({ photo_bytes: { sent, of } }),
  });
}

async function run() {
  if ((await getIdentity()) === null) {
    publish({ phase: 'unpaired' });
    return { ok: false, text: 'This phone is not paired with home yet. Everything is kept on it.' };
  }
  publish({ phase: 'asking' });
  let photos = null;
  try {
    const home = await hello();
    await setMeta('clock_offset_s', home.offset_s);
    await setMeta('home_told', home.home);
    for (let round = 0; round < MOST_ROUNDS; round += 1) {
      photos = await oneRound(home.proto);
      await takeOwnToken();
      if (!savedMeanwhile) break;
    }
    if (photos.fault) throw photos.fault;
    await learnDeviceNames();
    await learnKeptTwice();
    publish({ phase: 'idle', trouble: null });
    return { ok: true, text: 'Home has everything.' };
  } catch (fault) {
    const phase = AWAY.has(fault.code) ? 'away' : LET_OUT.has(fault.code) ? 'unpaired' : 'idle';
    const ended = fault.code === 'away' ? endedWords(await getMeta('home_told'), Date.now()) : null;
    const trouble = ended === null ? { code: fault.code ?? 'fault', text: fault.message } : { code: 'certificate', text: ended };
    publish({ phase, trouble: fault.code === 'away' && ended === null ? null : trouble });
    // What is no answer of home and no fault of the store is a fault of ours: it must be seen, not worded away.
    if (!(fault instanceof HomeError) && fault.name !== 'StoreError') throw fault;
    return { ok: false, text: trouble.text };
  } finally {
    publish({ photo_bytes: null });
    await refresh();
  }
}

async function runLocked() {
  if (!navigator.locks) return run();
  return navigator.locks.request(LOCK, { ifAvailable: true }, (lock) =>
    lock ? run() : { ok: false, text: 'Another window of Fellside is syncing just now.' },
  );
}

function syncOnce() {
  if (!running) {
    running = runLocked().finally(() => {
      running = null;
    });
  }
  return running;
}

/**
 * Sync now. If a sync runs already, one more follows it, and its end is what is given: the one that runs may have
 * asked home before that happened which the caller wants to see. A sync cut short leaves nothing half done.
 * @returns {Promise<{ok: boolean, text: string}>} text: one sentence for the person who asked
 */
export function syncNow() {
  if (!running) return syncOnce();
  if (!following) {
    const next = () => {
      following = null;
      return syncOnce();
    };
    following = running.then(next, next);
  }
  return following;
}

/** Whether a sync runs in this window. */
export function syncRuns() {
  return running !== null;
}

/** Ask the browser not to empty this store when the phone runs short; it decides by itself, and is asked until it agrees. */
async function keepForGood() {
  if ((await getIdentity()) === null || !navigator.storage?.persist) return;
  const kept = (await navigator.storage.persisted()) || (await navigator.storage.persist());
  await setMeta('kept_for_good', kept);
}

/**
 * Keep this phone and home together while the app is open: at the start, when it comes into sight, when a network
 * appears, after a save, and every few minutes. Nothing runs while it is hidden.
 * @returns {() => void} stops it
 */
export function startSync() {
  let afterSave = null;
  const go = () => {
    if (document.visibilityState === 'visible') syncOnce().catch((fault) => globalThis.reportError?.(fault));
  };
  const stopStore = onStoreChange((what) => {
    recount();
    if (!what?.unsent) return;
    savedMeanwhile = true;
    clearTimeout(afterSave);
    // On the hill each save would wake the radio in vain: after home was out of reach, the other occasions do.
    if (state.phase !== 'away' && state.phase !== 'unpaired') afterSave = setTimeout(go, AFTER_SAVE_MS);
  });
  const timer = setInterval(go, EVERY_MS);
  let knocking = null;
  let knocks = 0;
  const stopKnocking = () => {
    clearTimeout(knocking);
    knocking = null;
    if (state.next_try_at !== null) publish({ next_try_at: null });
  };
  const knock = async () => {
    knocking = null;
    knocks += 1;
    try {
      await hello();
      go();
    } catch (fault) {
      if (!(fault instanceof HomeError)) throw fault; // still away: asked again, and the line says so already
      knockLater();
    }
  };
  function knockLater() {
    const wanted = state.phase === 'away' && state.unsent_changes + state.unsent_photos > 0 && document.visibilityState === 'visible';
    if (!wanted) return stopKnocking();
    if (knocking !== null) return undefined;
    const wait = Math.min(EVERY_MS, KNOCK_MS * 2 ** Math.max(0, knocks - KNOCKS_IN_A_ROW));
    knocking = setTimeout(() => knock().catch((fault) => globalThis.reportError?.(fault)), wait);
    publish({ next_try_at: Date.now() + wait });
    return undefined;
  }
  // By itself it is asked again soon, if someone looks at the app: what waits should not wait for them to ask.
  const stopState = onSyncState(({ phase }) => {
    if (phase === 'idle') knocks = 0;
    if (phase === 'away' || knocking !== null) knockLater();
  });
  const afresh = () => {
    knocks = 0;
    knockLater();
    go();
  };
  document.addEventListener('visibilitychange', afresh);
  globalThis.addEventListener('online', afresh);
  recount();
  go();
  keepForGood().catch((fault) => globalThis.reportError?.(fault));
  return () => {
    stopStore();
    stopState();
    stopKnocking();
    clearInterval(timer);
    clearTimeout(afterSave);
    document.removeEventListener('visibilitychange', afresh);
    globalThis.removeEventListener('online', afresh);
  };
}

async function pairBy(proof, name) {
  await hello();
  const device = await nameToPairUnder();
  const json = { ...proof, device, name: name.trim() };
  const said = await askHomeJson('/api/pair', { json, waitMs: PAIR_WAIT_MS, open: true });
  if (typeof said?.token !== 'string') throw new HomeError('not-home');
  const identity = {
    device: said.device ?? device, token: said.token, name: name.trim(), role: said.role ?? 'full', paired_at: new Date().toISOString(),
  };
  await setIdentity(identity);
  publish({ phase: 'idle', trouble: null });
  await keepForGood();
  return typeof said.like === 'string' ? { ...identity, like: said.like } : identity;
}

/**
 * Pair this phone with home. What is kept on it already stays and goes home at the next sync, also when it is paired anew.
 * @param {string} code from home's screen
 * @param {string} name what this phone is called there
 * @returns {Promise<{device: string, token: string, name: string, role: string, paired_at: string, like?: string}>} role: full or
 *   record; like: another name that home offers, since some other phone is called alike
 * @throws {HomeError} with home's own sentence for a wrong or used code; away, not-home
 */
export function pair(code, name) {
  return pairBy({ code: code.trim() }, name);
}

/** Pair this phone or desk by the owner's passphrase in place of a code; it is signed in then. As `pair`. */
export function pairByPassphrase(passphrase, name) {
  return pairBy({ passphrase }, name);
}
