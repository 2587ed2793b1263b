/**
 * One intake from the first file to the last word: what was sent, read, chosen and kept, and how it is taken back.
 * It lives beside the screen, so that sending goes on while another place is open, and all of it but the files' own bytes
 * is written down as it comes, so that it is there again after the app was killed.
 */

import { metresBetween, siteAt } from '../hill/ground_facts.js';
import { dropDraft, getDraft, getMeta, listRecords, saveDraft, setMeta } from '../store.js';
import { askHomeJson, HomeError } from '../store/home.js';
import { syncNow } from '../sync.js';
import { fileMark, HomeWait, sendFiles } from './intake_files.js';

const CHOICES = 'intake'; // drafts
const FILES = 'intake-files';
const LAST = 'intake-last'; // meta: the last intake that was kept, until it is taken back or put away
const READ_WAIT_MS = 900_000; // a whole season's photos take home a while
const KEEP_EVERY_MS = 1500; // while files are sent; a file that is forgotten is found at home by its hash
const MOST_FILES = 10_000; // as home takes them in one call
const SAME_PLACE_M = 0.5;
const NO_PHOTO = new Set(['empty', 'unreadable', 'not-photo-or-track']);
const NO_CLOCK = { clock_offset_s: null, zone: null, clock_photo: null };

/** How surely a place by hand is known: its accuracy is that of what it was told by, never the walk's. */
export const TOLD_WORDS = { tap: ', as near as the tap', figures: ', as near as its figures' };

const byName = new Intl.Collator('en', { numeric: true });
const known = (value) => value !== null && value !== undefined;
const emptyChoices = () => ({ trees: {}, accepted: {}, moved: {}, left: {}, clock: { ...NO_CLOCK }, saving: null });
const emptyFiles = () => ({ sent: [], trouble: [], of: 0, seenBad: [] });

/** What there is of the intake; read by the screen, changed only by the functions here. */
export const intake = {
  ...emptyChoices(),
  ...emptyFiles(), // of: how many files were chosen in all, also those that are not home yet; seenBad: what of the not taken was put away
  found: null, // what home read
  byHash: new Map(), // sha256 -> what home read of it
  last: null,
  run: null, // {step: 'send'|'read'|'save'|'undo', done, of, sent, bytes, name, waits: sentence|null}
  clockSaid: null, // what the last change of the clock did
  rest: [], // files that were chosen and are not home
};

const listeners = new Set();
let opened = null;
let stopper = null;
let keptAt = 0;
let keepTimer = null;

const wait = new HomeWait((fault) => {
  if (intake.run) Object.assign(intake.run, { waits: fault ? fault.message : null, byItself: fault !== null && wait.isByItself(fault) });
  tell('run');
});

function tell(what) {
  for (const listener of [...listeners]) listener(what);
}

/** Be told when something changed: 'run' how far it got, 'all' everything. @returns {() => void} stops it */
export function onIntake(listener) {
  listeners.add(listener);
  return () => listeners.delete(listener);
}

/** Take up what was there when the app was last closed; once. */
export function openIntake() {
  opened ??= (async () => {
    const [choices, files, last] = await Promise.all([getDraft(CHOICES), getDraft(FILES), getMeta(LAST)]);
    Object.assign(intake, choices ?? {}, files ?? {}, { last });
  })();
  return opened;
}

function keepChoices() {
  const { trees, accepted, moved, left, clock, saving } = intake;
  return saveDraft(CHOICES, { trees, accepted, moved, left, clock, saving });
}

function keepFiles() {
  clearTimeout(keepTimer);
  keepTimer = null;
  keptAt = Date.now();
  const { sent, trouble, of, seenBad } = intake;
  return saveDraft(FILES, { sent, trouble, of, seenBad });
}

/** Write down what was sent, soon: a list of thousands is not written anew for each file. */
function keepFilesSoon() {
  if (keepTimer !== null) return;
  keepTimer = setTimeout(keepFiles, Math.max(0, keptAt + KEEP_EVERY_MS - Date.now()));
}

// --- what is seen of a file ---

/** A file that home could make nothing of: no photo, and no walk with anything in it. */
function isRefused(one) {
  return 'points' in one
    ? one.points + (one.waypoints ?? 0) + (one.routes ?? 0) === 0
    : (one.trouble ?? []).some((t) => NO_PHOTO.has(t.code));
}

export const goodPhotos = () => (intake.found?.photos ?? []).filter((one) => !isRefused(one));
export const goodTracks = () => (intake.found?.tracks ?? []).filter((one) => !isRefused(one));
export const nameOf = (one) => one.file ?? one.name;
const isFresh = (one) => !one.known && !intake.left[one.sha256];

/** Everything that is not taken, with its sentence. @returns {{name: string, text: string}[]} */
export function badFiles() {
  const read = [...(intake.found?.photos ?? []), ...(intake.found?.tracks ?? [])].filter(isRefused)
    .map((one) => ({ name: nameOf(one), text: one.trouble.map((t) => t.text).join(' ') || 'It cannot be read.' }));
  const other = (intake.found?.trouble ?? []).map((one) => ({ name: one.name ?? one.file ?? 'A file', text: one.text ?? one.message }));
  const all = new Map([...intake.trouble, ...other, ...read].map((bad) => [badMark(bad), bad]));
  for (const mark of intake.seenBad) all.delete(mark);
  return [...all.values()];
}

const badMark = ({ name, text }) => `${name}\n${text}`;

/** Put the account of what was not taken away. */
export async function forgetBad() {
  intake.seenBad.push(...badFiles().map(badMark));
  tell('all');
  await keepFiles();
}

/**
 * Where a photo is now: by hand where a person moved it, else as home read it; null without a place. One that is kept is
 * where its record says, also when the camera's clock was told otherwise then.
 */
export function placeOf(one) {
  if (one.known && one.kept && 'place' in one.kept) return one.kept.place;
  const by = intake.moved[one.sha256];
  if (by) return { ...by, placed_by: 'hand' };
  return known(one.lat) ? { lat: one.lat, lon: one.lon, accuracy_m: one.accuracy_m ?? null, placed_by: one.placed_by } : null;
}

/** Whether a photo's place stands to be accepted. */
export const isToAccept = (one) => isFresh(one) && !intake.accepted[one.sha256] && placeOf(one) !== null;

const RECORD_WORDS = { exif: 'photo', track: 'track', hand: 'hand' }; // the record's word: that of a reading

/** Let what is kept already be seen as its records are now. @returns {Promise<boolean>} whether there is any such photo */
export async function followKept() {
  const kept = goodPhotos().filter((one) => one.known && one.kept);
  if (kept.length === 0) return false;
  const records = new Map((await listRecords('photo')).map((record) => [record.id, record.fields]));
  for (const one of kept) {
    const fields = records.get(one.kept.rec);
    if (!fields) continue; // it has not come from home yet
    const place = known(fields.lat) && known(fields.lon)
      ? { lat: fields.lat, lon: fields.lon, accuracy_m: fields.accuracy_m ?? null, placed_by: RECORD_WORDS[fields.placed_by] ?? null } : null;
    one.kept = { ...one.kept, tree: fields.tree ?? null, place, taken_at: fields.taken_at ?? null };
  }
  return true;
}

// --- sending ---

/**
 * Take files in: send them home and have them read.
 * @param {File[]} chosen
 */
export async function take(chosen) {
  const files = chosen.filter((file) => !file.webkitRelativePath?.split('/').some((part) => part.startsWith('.'))); // a folder's own notes
  const room = MOST_FILES - intake.sent.length - intake.rest.length;
  const some = files.slice(0, Math.max(0, room));
  if (some.length < files.length) intake.trouble.push({ name: `${files.length - some.length} files`, text: `More than ${MOST_FILES} at once are too many. Save these first, then take in the rest.` });
  intake.rest.push(...some);
  if (intake.run?.step === 'send') {
    intake.run.of += some.length;
    intake.run.bytes += some.reduce((sum, file) => sum + file.size, 0);
    intake.of += some.length;
  }
  await goOnSending();
}

/** Send what was chosen and is not home yet. */
export async function goOnSending() {
  if (intake.run || intake.rest.length === 0) return;
  const files = [...intake.rest];
  const marks = new Set(intake.sent.flatMap((one) => one.marks));
  const bySha = new Map(intake.sent.map((one) => [one.sha256, one]));
  let first = 0; // files of this run that were home before it
  for (const file of files) if (marks.has(fileMark(file))) first += 1;
  intake.of = Math.max(intake.of, intake.sent.length + files.length - first);
  stopper = new AbortController();
  intake.run = { step: 'send', done: 0, of: files.length, sent: 0, bytes: files.reduce((sum, file) => sum + file.size, 0), name: files[0].name, waits: null };
  tell('all');
  try {
    await keepFiles();
    await sendFiles(intake.rest, {
      wait,
      signal: stopper.signal,
      hasMark: (mark) => marks.has(mark),
      hasBytes: (sha256) => bySha.has(sha256),
      onSent: ({ sha256, name, mark, size, twice }) => {
        marks.add(mark);
        const had = bySha.get(sha256);
        if (had) {
          had.marks.push(mark);
          keepFilesSoon();
          return had.name === name;
        }
        if (twice) return false; // under way under another name
        const one = { sha256, name, size, marks: [mark] };
        bySha.set(sha256, one);
        intake.sent.push(one);
        keepFilesSoon();
        return true;
      },
      onTrouble: (name, text) => {
        if (!intake.trouble.some((one) => one.name === name && one.text === text)) intake.trouble.push({ name, text });
        keepFilesSoon();
      },
      onProgress: (state) => {
        Object.assign(intake.run, state);
        tell('run');
      },
    });
    if (intake.rest.length === 0) intake.of = intake.sent.length;
    await keepFiles();
  } finally {
    const stopped = stopper.signal.aborted;
    intake.run = null;
    stopper = null;
    if (stopped || intake.sent.length === 0) tell('all');
  }
  if (intake.rest.length === 0 && intake.sent.length > 0) await readThem();
}

/** Stop sending, or waiting for home; what is at home stays there. */
export function stop() {
  stopper?.abort();
}

/** Go on now instead of waiting on. */
export function goOnNow() {
  wait.goOn();
}

/** Ask home, and wait for it as long as it takes where it is not in reach. @throws {HomeError} other answers, or stopped */
async function askAndWait(step, of, path, json) {
  stopper = new AbortController();
  intake.run = { step, done: 0, of, sent: 0, bytes: 0, name: '', waits: null };
  tell('run');
  try {
    for (;;) {
      try {
        const got = await askHomeJson(path, { waitMs: READ_WAIT_MS, json });
        wait.reset();
        return got;
      } catch (fault) {
        if (!wait.isWaitedFor(fault)) throw fault;
        await wait.wait(fault, stopper.signal);
        if (stopper.signal.aborted) return null;
      }
    }
  } finally {
    intake.run = null;
    stopper = null;
  }
}

const asked = (files) => files.map(({ sha256, name }) => ({ sha256, name }));

/** Have home read what was sent, and see what a new reading moved. @returns {Promise<boolean>} false: it was not read */
export async function readThem() {
  if (intake.run || intake.sent.length === 0) return false;
  const before = intake.found && new Map(goodPhotos().map((one) => [one.sha256, one]));
  let got = null;
  try {
    got = await askAndWait('read', intake.sent.length, '/api/intake/read', { files: asked(intake.sent), ...intake.clock });
  } finally {
    tell('run');
  }
  if (got === null) return false;
  got.photos.sort((a, b) => byName.compare(nameOf(a), nameOf(b))); // two are sent at once: whichever was home first
  intake.found = got;
  intake.byHash = new Map([...got.photos, ...got.tracks].map((one) => [one.sha256, one]));
  intake.clockSaid = before ? compare(before) : null;
  await findSaved();
  await followKept();
  tell('all');
  return true;
}

/** What is otherwise than before: places that moved are no longer accepted. @returns {{moved: number, placed: number, lost: number}} */
function compare(before) {
  const said = { moved: 0, placed: 0, lost: 0 };
  for (const one of goodPhotos()) {
    const was = before.get(one.sha256);
    if (!was || intake.moved[one.sha256]) continue;
    if (!known(was.lat) && !known(one.lat)) continue;
    if (!known(was.lat)) said.placed += 1;
    else if (!known(one.lat)) said.lost += 1;
    else if (metresBetween(was, one) > SAME_PLACE_M) said.moved += 1;
    else continue;
    delete intake.accepted[one.sha256];
  }
  return said;
}

// --- choosing ---

/**
 * Change what was chosen for photos, and write it down.
 * @param {string[]} hashes
 * @param {{tree?: string, accepted?: boolean, place?: {lat: number, lon: number, accuracy_m: number|null}|null, left?: boolean}} what
 *   tree: its id, '' for none; place: null puts the photo back to where home read it
 */
export async function choose(hashes, what) {
  for (const sha256 of hashes) {
    if ('tree' in what) intake.trees[sha256] = what.tree;
    if (what.tree || what.place || what.accepted) intake.accepted[sha256] = true;
    if (what.accepted === false || what.place === null) delete intake.accepted[sha256];
    if (what.place) intake.moved[sha256] = what.place;
    else if (what.place === null) delete intake.moved[sha256];
    if (what.left === true) intake.left[sha256] = true;
    else if (what.left === false) delete intake.left[sha256];
  }
  tell('choice');
  await keepChoices();
}

/** Set the camera's clock and have the photos placed again. @throws {HomeError} when home refuses it: then it stays as it was */
export async function setClock(clock) {
  const before = intake.clock;
  intake.clock = { ...NO_CLOCK, ...clock };
  let done = false;
  try {
    await keepChoices();
    done = await readThem();
  } finally {
    if (!done) {
      intake.clock = before;
      await keepChoices();
    }
  }
}

/** Let everything of this intake go; what is at home by its hash stays there, unseen. */
export async function startAgain() {
  Object.assign(intake, emptyChoices(), emptyFiles(), { found: null, byHash: new Map(), clockSaid: null, rest: [] });
  clearTimeout(keepTimer);
  keepTimer = null;
  tell('all');
  await Promise.all([dropDraft(CHOICES), dropDraft(FILES)]);
}

// --- keeping, and taking back ---

/** Bring to this phone what home has just written. */
async function fetchBack() {
  await syncNow();
}

/**
 * Keep photos and walks at home.
 * @param {object[]} photos of what home read
 * @param {{sites: object[], siteOfTree: (tree: string|null) => string|null, tagOf: (tree: string) => string}} ground
 */
export async function save(photos, ground) {
  const tracks = goodTracks().filter(isFresh);
  const wanted = photos.map((one) => {
    const tree = intake.trees[one.sha256] || null;
    const place = placeOf(one);
    const site = place ? siteAt(ground.sites, place).site?.id ?? null : null;
    const { lat, lon, accuracy_m } = intake.moved[one.sha256] ?? {};
    return { sha256: one.sha256, name: nameOf(one), tree, site: site ?? ground.siteOfTree(tree), ...(known(lat) ? { place: { lat, lon, accuracy_m } } : {}) };
  });
  const saving = new Set([...wanted, ...tracks].map((one) => one.sha256));
  // Written down before it is asked: when the answer is lost, the next reading tells whether it was kept.
  intake.saving = [...saving];
  await keepChoices();
  intake.run = { step: 'save', done: 0, of: saving.size, sent: 0, bytes: 0, name: '', waits: null };
  tell('run');
  let said;
  try {
    said = await askHomeJson('/api/intake/save', { waitMs: READ_WAIT_MS, json: {
      photos: wanted, tracks: asked(tracks.map((one) => ({ sha256: one.sha256, name: nameOf(one) }))),
      files: asked(intake.sent.filter((one) => !saving.has(one.sha256))), ...intake.clock,
    } });
  } catch (fault) {
    if (!(fault instanceof HomeError) || !wait.isWaitedFor(fault)) {
      intake.saving = null;
      await keepChoices();
    }
    throw fault;
  } finally {
    intake.run = null;
    tell('run');
  }
  intake.trouble.push(...(said.trouble ?? []).map((one) => ({ name: one.name ?? one.file ?? 'A file', text: one.text ?? one.message })));
  await finishSaved(said.saved);
}

/** After a reading: was an intake kept whose answer never came? */
async function findSaved() {
  if (!intake.saving) return;
  const saved = intake.saving.map((sha256) => intake.byHash.get(sha256)).filter((one) => one?.kept)
    .map((one) => ({ sha256: one.sha256, rec: one.kept.rec, type: 'points' in one ? 'track' : 'photo' }));
  if (saved.length > 0) {
    await finishSaved(saved);
    return;
  }
  intake.saving = null;
  await keepChoices();
}

async function finishSaved(saved) {
  const { sent, of, trouble, moved, accepted, left, clock, trees: chosen } = intake;
  const bad = badFiles();
  intake.last = {
    at: new Date().toISOString(),
    saved: saved.map(({ sha256, rec, type }) => ({ rec, type, tree: type === 'photo' ? intake.trees[sha256] || null : null })),
    // what it was made of, so that taking it back gives the review back too
    files: { sent, trouble, of, seenBad: [] },
    choices: { trees: { ...chosen }, accepted: { ...accepted }, moved: { ...moved }, left: { ...left }, clock, saving: null },
  };
  await setMeta(LAST, intake.last);
  const done = new Set(saved.map((one) => one.sha256));
  intake.saving = null;
  for (const one of intake.found?.photos.concat(intake.found.tracks) ?? []) {
    if (!done.has(one.sha256)) continue;
    const place = 'points' in one ? null : placeOf(one);
    one.known = true;
    const { rec } = saved.find((it) => it.sha256 === one.sha256);
    one.kept = { rec, tree: intake.trees[one.sha256] || null, place, taken_at: one.taken_at ?? null };
  }
  if (goodPhotos().some(isFresh) || goodTracks().some(isFresh)) {
    await keepChoices();
  } else {
    await startAgain();
    intake.trouble = bad; // said until it is put away
    if (bad.length > 0) await keepFiles();
  }
  tell('all');
  await fetchBack();
  tell('all');
}

/** Take the last intake back as one act; it is there to be looked over again, unless another one was begun. */
export async function takeBack() {
  const { last } = intake;
  if (!last || intake.run) return;
  intake.run = { step: 'undo', done: 0, of: last.saved.length, sent: 0, bytes: 0, name: '', waits: null };
  tell('run');
  try {
    await askHomeJson('/api/intake/undo', { waitMs: READ_WAIT_MS, json: { saved: last.saved.map(({ rec, type }) => ({ rec, type })) } });
  } finally {
    intake.run = null;
    tell('run');
  }
  intake.last = null;
  await setMeta(LAST, null);
  const its = new Set(last.files.sent.map((one) => one.sha256));
  if (intake.sent.every((one) => its.has(one.sha256))) {
    const newer = { trees: intake.trees, accepted: intake.accepted, moved: intake.moved, left: intake.left };
    Object.assign(intake, last.files, last.choices, { found: null });
    for (const [name, had] of Object.entries(newer)) intake[name] = { ...intake[name], ...had };
    await Promise.all([keepFiles(), keepChoices()]);
  }
  tell('all');
  await fetchBack();
  await readThem();
}

/** Put the account of the last intake away; it can no longer be taken back as one. */
export async function forgetLast() {
  intake.last = null;
  await setMeta(LAST, null);
  tell('all');
}
