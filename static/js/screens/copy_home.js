/** The part of Copy and room that brings a copy home: chosen or dropped here, sent, and told what of it was new. */

import { getIdentity } from '../store.js';
import { askHomeJson } from '../store/home.js';
import { syncNow } from '../sync.js';
import { uploadBlob } from '../upload.js';
import { ask } from '../ui/dialog.js';
import { html, on, render } from '../ui/html.js';
import { icon } from '../ui/icons.js';
import { count, showInstant } from '../ui/words.js';

const MOST_BYTES = 512 * 1024 * 1024; // home takes no larger file
const TAKE_WAIT_MS = 10 * 60_000;
const HEAD = [0x50, 0x4b, 0x03, 0x04]; // of a zip
const FIRST = 'READ-ME.txt';
const OF_BACKUP = 'This is a backup of Fellside'; // the first words in it
const MOST_LINES = 20;

const both = (changes, photos) => `${count(changes, 'change', 'changes')} and ${count(photos, 'photo', 'photos')}`;

/**
 * What came of a copy, line by line.
 * @param {object} told home's answer
 * @returns {{kind: 'good'|'ask', text: string}[]}
 */
export function takenLines(told) {
  const isNew = told.changes_new + told.photos_new > 0;
  const lines = [{ kind: 'good', text: isNew ? `New at home: ${both(told.changes_new, told.photos_new)}.` : 'Home had all of it already.' }];
  if (isNew && told.changes_known + told.photos_known > 0) lines.push({ kind: 'good', text: `There already: ${both(told.changes_known, told.photos_known)}.` });
  if (told.changes_anew > 0) lines.push({ kind: 'good', text: `${count(told.changes_anew, 'change was', 'changes were')} kept under home’s own name, for the phone’s name was used twice.` });
  for (const one of told.changes_held) lines.push({ kind: 'ask', text: `Kept, but not taken into the log: ${one.why}` });
  for (const one of told.changes_bad) lines.push({ kind: 'ask', text: `A change could not be used: ${one.why}` });
  for (const one of told.photos_bad) lines.push({ kind: 'ask', text: `A photo could not be used: ${one.why}` });
  if (told.photos_missing > 0) lines.push({ kind: 'ask', text: `${count(told.photos_missing, 'photo', 'photos')} of the log still missing: in another part, or on a phone.` });
  return lines;
}

/**
 * Why a file is not brought home as a copy, told by how it begins; null when it may be one.
 * @param {Blob} file
 * @returns {Promise<string|null>}
 */
export async function whyNoCopy(file) {
  const head = new Uint8Array(await file.slice(0, 30 + FIRST.length + 100).arrayBuffer());
  const text = new TextDecoder().decode(head.slice(30));
  const isOurs = HEAD.every((byte, i) => head[i] === byte) && text.startsWith(FIRST);
  if (isOurs && text.includes(OF_BACKUP)) return 'This is a backup of a whole home, and no copy that a phone kept. It is put back at the server, by fellside restore and the name of the file; what stands there now is kept beside it.';
  if (!isOurs) return 'This is no copy that a phone kept. Choose a file whose name begins with fellside-copy.';
  return file.size > MOST_BYTES ? 'The file is too large to be a copy.' : null;
}

async function sha256Of(file) {
  const digest = await crypto.subtle.digest('SHA-256', await file.arrayBuffer());
  return [...new Uint8Array(digest)].map((byte) => byte.toString(16).padStart(2, '0')).join('');
}

/**
 * Open the part.
 * @param {Element} place
 * @returns {Promise<() => void>} close
 */
export async function openHome(place) {
  const isPaired = Boolean((await getIdentity())?.token);
  const stop = new AbortController();
  const results = []; // {name, made_at, part, parts, lines} or {name, fault}
  let busy = null; // {name, share}

  function result({ name, fault = null, made_at: at = null, part = null, parts = null, lines = [] }) {
    if (fault) return html`<li class="ask">${icon('warn')}<div><p class="strong">${name}</p><p>${fault}</p></div></li>`;
    return html`<li><div><p class="strong">${at ? `Copy of ${showInstant(at)}` : name}${parts > 1 && `, part ${part} of ${parts}`}</p>
      ${lines.slice(0, MOST_LINES).map((line) => html`<p class="state ${line.kind}">${icon(line.kind === 'good' ? 'yes' : 'ask')}<span>${line.text}</span></p>`)}
      ${lines.length > MOST_LINES && html`<p class="muted">and ${lines.length - MOST_LINES} more</p>`}</div></li>`;
  }

  function draw() {
    render(place, html`<h2>Bring a copy home</h2>
      ${isPaired ? html`<p>A copy that a phone kept: choose its file, or all its parts, or drop them here. What home has already is left as it is, so it does no harm to bring one twice.</p>
        <div class="actions"><label class="button file">${icon('intake')}<span>Choose files</span><input type="file" class="unseen" name="copy" multiple accept=".zip,application/zip" ${busy ? html`disabled` : ''}></label></div>`
        : html`<p>A copy is brought home on a phone or desk that is paired with it.</p>`}
      ${busy && html`<div class="progress"><p role="status">${busy.share < 1 ? 'Sending' : 'Home is reading'} ${busy.name}</p>${busy.share < 1 ? html`<progress max="1" value="${busy.share}" aria-label="Sent home"></progress>` : html`<progress aria-label="Home is reading"></progress>`}</div>`}
      ${results.length > 0 && html`<ul class="reasons" role="status">${results.map(result)}</ul>`}`);
  }

  async function askAnyway(file, send) {
    try {
      return await send(false);
    } catch (fault) {
      if (fault.code !== 'other-house') throw fault;
      const wanted = await ask({
        title: 'A copy from another home?',
        text: `Nothing that “${file.name}” knows of is known at this home. If you take it in, its sites and trees stand among yours.`,
        choices: [{ value: true, label: 'Take it in', kind: 'primary' }],
        no: 'Leave it',
      });
      if (!wanted) throw new Error('Left alone: it is from another home.', { cause: fault });
      return send(true);
    }
  }

  async function bring(file) {
    const why = await whyNoCopy(file);
    if (why !== null) throw new Error(why);
    const sha256 = await sha256Of(file);
    const told = await askAnyway(file, async (anyway) => {
      await uploadBlob(sha256, file, { signal: stop.signal, onProgress: (sent, of) => { busy.share = sent / of; draw(); } });
      return askHomeJson(`/api/copy/${sha256}`, { json: { anyway }, waitMs: TAKE_WAIT_MS });
    });
    return { name: file.name, made_at: told.made_at, part: told.part, parts: told.parts, lines: takenLines(told) };
  }

  async function take(files) {
    if (busy || !isPaired) return;
    for (const file of files) {
      busy = { name: file.name, share: 0 };
      draw();
      try {
        results.unshift(await bring(file));
      } catch (fault) {
        const isUnread = fault.name === 'NotReadableError' || fault.name === 'NotFoundError';
        results.unshift({ name: file.name, fault: isUnread ? 'The file could not be read from its disk.' : fault.message });
      }
      if (stop.signal.aborted) return;
    }
    busy = null;
    draw();
    await syncNow(); // what was new at home comes here too
  }

  const stops = [
    on(place, 'change', '[name="copy"]', (ev, input) => {
      const files = [...input.files];
      input.value = '';
      take(files).catch((fault) => globalThis.reportError?.(fault));
    }),
    on(place, 'dragover', '*', (ev) => ev.preventDefault()),
    on(place, 'drop', '*', (ev) => {
      ev.preventDefault();
      take([...ev.dataTransfer.files]).catch((fault) => globalThis.reportError?.(fault));
    }),
  ];
  draw();
  return () => {
    stop.abort();
    for (const one of stops) one();
  };
}
