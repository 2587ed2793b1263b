/** The part of House that says whether home is kept twice: the last good backup, what is wrong, and what to do about it. */

import { endedWords, readHomeTold } from '../core/home_told.js';
import { getMeta, setMeta } from '../store.js';
import { askHomeJson } from '../store/home.js';
import { html, render } from '../ui/html.js';
import { icon } from '../ui/icons.js';
import { notice } from '../ui/notice.js';
import { stateMark } from '../ui/state.js';
import { count, here, sayHere, showAgo, showInstant } from '../ui/words.js';

const KEPT = 'house_told'; // {at, told}: what home said last, for where it is out of reach
const WAIT_MS = 8000;
const DAY_MS = 86_400_000;
const OLD_MS = 2 * DAY_MS; // as at home, which makes one each day it runs
const MB = 1_000_000;
const GB = 1_000 * MB;
const LOW_BYTES = 2 * GB; // about a long day's photos; common practice, no source

// Home tells what is wrong as a sentence. What is none of these counts as bad: better one warning too many.
const FAILED = /^The last try failed\.\s*/;
const NONE_SET = /--backups\b/;
const OLDER = /days old\.$/;

const text = (value) => (typeof value === 'string' && value !== '' ? value : null);
const amount = (value) => (Number.isFinite(value) && value >= 0 ? value : null);
const instant = (value) => (text(value) !== null && !Number.isNaN(Date.parse(value)) ? value : null);

/**
 * Read what home says of its backups.
 * @param {any} said the answer of /api/house, or what was kept of one
 * @returns {object|null} the fields of it that are used, null where one is not known; null for anything else than that answer
 */
export function readHouseTold(said) {
  if (typeof said?.backup_ok !== 'boolean') return null;
  return {
    backup_ok: said.backup_ok,
    last_backup_at: instant(said.last_backup_at),
    last_backup_file: text(said.last_backup_file),
    backups_dir: text(said.backups_dir),
    why_not: text(said.why_not),
    free_bytes: amount(said.free_bytes),
    backups_free_bytes: amount(said.backups_free_bytes),
  };
}

/**
 * How the backup stands, as a state with its word, and what is wrong.
 * @param {object} told of `readHouseTold`
 * @param {number} nowMs by home's clock, as well as this phone knows it
 * @param {boolean} isFresh home said it just now; otherwise its age is told by `nowMs`, and nothing newer is known
 * @returns {{kind: 'good'|'ask'|'bad', word: string, why: string|null, isOutdated?: boolean}} isOutdated: good when it was heard
 */
export function backupState(told, nowMs, isFresh) {
  const { last_backup_at: at, why_not: why } = told;
  if (why !== null && FAILED.test(why)) {
    return { kind: 'bad', word: at === null ? 'No backup: the last try failed' : 'The last try failed', why: why.replace(FAILED, '') || null };
  }
  if (at === null) return { kind: 'bad', word: 'No backup yet', why: null };
  const ago = showAgo(at, nowMs);
  if (told.backup_ok) {
    const isOutdated = !isFresh && nowMs - Date.parse(at) > OLD_MS;
    return { kind: isOutdated ? 'ask' : 'good', word: `Backed up ${ago}`, why: null, isOutdated };
  }
  if (why !== null && NONE_SET.test(why)) return { kind: 'ask', word: `Backed up ${ago}, none set for tomorrow`, why: null };
  if (why !== null && OLDER.test(why)) return { kind: 'ask', word: `Backed up ${ago}, none since`, why: null };
  return { kind: 'bad', word: 'No backup to rely on', why };
}

/** What is short of room at home, a sentence each. @param {object} told of `readHouseTold` @returns {string[]} */
export function roomShort(told) {
  const left = (bytes) => (bytes < GB ? `${Math.round(bytes / MB)} MB` : `${Math.round((bytes / GB) * 10) / 10} GB`);
  const short = [];
  if (told.free_bytes !== null && told.free_bytes < LOW_BYTES) short.push(`The disk of the log at home has only ${left(told.free_bytes)} left. Make room before the next photos come in.`);
  if (told.backups_free_bytes !== null && told.backups_free_bytes < LOW_BYTES) short.push(`The disk of the backups has only ${left(told.backups_free_bytes)} left. Make room, or name a folder on another disk.`);
  return short;
}

/**
 * How long home's certificate is still good.
 * @param {{certificate_until: string}|null} home of `readHomeTold`
 * @param {number} nowMs
 * @returns {string|null} null where nothing is known of it, or it has ended
 */
export function certificateWords(home, nowMs) {
  const leftMs = home === null ? 0 : Date.parse(home.certificate_until) - nowMs;
  if (leftMs <= 0) return null;
  const days = Math.floor(leftMs / DAY_MS);
  return days === 0 ? 'ends today' : `good for ${count(days, 'more day', 'more days')}`;
}

function facts(told, word, nowMs, certificate) {
  const { last_backup_at: at, last_backup_file: file, backups_dir: folder } = told;
  const ago = showAgo(at, nowMs);
  return html`<dl class="facts">
    <dt>Last good backup</dt><dd>${at === null ? 'none' : html`${showInstant(at)}${!word.includes(ago) && html`<br><span class="muted">${ago}</span>`}`}</dd>
    ${file !== null && html`<dt>Where</dt><dd>${file}</dd>`}
    ${file === null && folder !== null && html`<dt>It will go to</dt><dd>${folder}</dd>`}
    ${certificate !== null && html`<dt>Certificate of home</dt><dd>${certificate}; home renews it by itself</dd>`}</dl>`;
}

/** From when all of it is, while home says nothing newer. */
function heardWords(at, state) {
  return `What stands here is what it said ${showAgo(at)}, on ${showInstant(at)}.${state.isOutdated ? ' It may have made a newer one since.' : ''}`;
}

function drawTold(told, { at, isFresh, away, home, aheadMs }) {
  const nowMs = Date.now() - aheadMs;
  const state = backupState(told, nowMs, isFresh);
  const cautions = [state.why, ...roomShort(told), endedWords(home, nowMs)].filter((one) => one !== null);
  return html`<p>${stateMark(state)}</p>
    ${!isFresh && away === null && html`<p class="muted" role="status">Asking home … ${heardWords(at, state)}</p>`}
    ${!isFresh && away !== null && html`<p class="caution">${icon('info')}<span>${away} ${heardWords(at, state)}</span></p>`}
    ${cautions.map((one) => html`<p class="caution">${icon('warn')}<span>${one}</span></p>`)}
    ${facts(told, state.word, nowMs, certificateWords(home, nowMs))}
    ${told.backups_dir === null && html`<p>For a backup each day, start Fellside at home with <code class="nowrap">--backups</code> and the name of a folder, best on another disk.</p>`}`;
}

/** The sentence for an answer that did not come. */
function awayWords(trouble) {
  return trouble.code === 'away' ? 'Home is not in reach.' : sayHere(trouble.message);
}

/**
 * Draw the part, ask home, and draw again with what it says.
 * @param {Element} place
 * @param {() => boolean} isClosed whether the screen was left meanwhile
 */
export async function showBackup(place, isClosed) {
  const [kept, told, aheadS] = await Promise.all([getMeta(KEPT), getMeta('home_told'), getMeta('clock_offset_s')]);
  const last = readHouseTold(kept?.told);
  const more = { at: instant(kept?.at), isFresh: false, away: null, home: readHomeTold(told), aheadMs: (Number.isFinite(aheadS) ? aheadS : 0) * 1000 };

  function draw(now, seen) {
    if (isClosed()) return;
    const nothing = seen.away === null ? html`<p role="status">Asking home …</p>` : html`<p class="caution">${icon('info')}<span>${seen.away} This ${here()} has not heard yet whether there is a backup.</span></p>`;
    render(place, html`<h2>Backup at home</h2>${now === null ? nothing : drawTold(now, seen)}`);
  }

  const isKnown = last !== null && more.at !== null;
  draw(isKnown ? last : null, more);
  let fresh;
  try {
    fresh = readHouseTold(await askHomeJson('/api/house', { waitMs: WAIT_MS }));
  } catch (trouble) {
    draw(isKnown ? last : null, { ...more, away: awayWords(trouble) });
    return;
  }
  if (fresh === null) {
    draw(isKnown ? last : null, { ...more, away: 'Home’s answer could not be read. Perhaps Fellside at home is of another version.' });
    return;
  }
  draw(fresh, { ...more, isFresh: true });
  await setMeta(KEPT, { at: new Date().toISOString(), told: fresh })
    .catch((fault) => notice(`What home said is not kept: ${fault.message}`, { kind: 'trouble' }));
}
