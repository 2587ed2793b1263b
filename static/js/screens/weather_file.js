/** A station's file, at the desk: dropped, read at home, asked about, looked over, kept as the weather of a place; and taken back. */

import { listPlaces } from '../hill/weather_days.js';
import { askHomeJson, HomeError } from '../store/home.js';
import { syncNow } from '../sync.js';
import { ask } from '../ui/dialog.js';
import { readDraft } from '../ui/form.js';
import { html, on, render } from '../ui/html.js';
import { icon } from '../ui/icons.js';
import { notice } from '../ui/notice.js';
import { count, here } from '../ui/words.js';
import { batchesSheet, planSheet, questionsSheet, readSheet, ROLES } from './weather_file_parts.js';

const MOST_BYTES = 32 * 1024 * 1024; // home takes no larger file
const WAIT_MS = 3 * 60_000; // thirty megabytes over a thin line, and reading them
const ASK_MS = 8000;

/** What the form says, as home takes it: columns by their number, and nothing for what was left open. */
function answersOf(form) {
  const values = readDraft(form);
  const columns = Object.keys(ROLES).filter((role) => values[role]).map((role) => [role, Number(values[role])]);
  return { ...Object.fromEntries(columns), ...(values.unit ? { unit: values.unit } : {}), ...(values.date_form ? { date_form: values.date_form } : {}) };
}

/**
 * Open the screen.
 * @param {Element} root
 * @param {{id: string}} params id of a garden or site
 */
export async function open(root, params) {
  const { id } = params;
  const place = (await listPlaces()).find((one) => one.id === id) ?? null;
  if (place === null) {
    render(root, html`<div class="page"><div class="page-head"><a class="back" href="#/weather">${icon('back')}Weather</a><h1>A station’s file</h1></div><div class="empty">${icon('site')}<p>This place is not on this ${here()}. It was removed, or has not come from home yet.</p></div></div>`);
    return () => {};
  }
  let closed = false;
  let file = null; // {name, bytes}
  let seen = null; // home's answer about it
  let answers = null;
  let choices = { since: null, typed: 'keep' };
  let busy = null; // what is being done, in words
  let mayStop = true; // not while home keeps: nobody could say how far it had come
  let batches = [];
  let stop = new AbortController();

  render(root, html`<div class="page weather"><div class="page-head"><a class="back" href="#/weather/${id}">${icon('back')}${place.fields.name ?? 'Weather'}</a><h1>A station’s file</h1><p class="under">Daily or hourly temperatures of any weather station, as a table in a text file.</p></div>
    <div data-work></div><div data-batches></div></div>`);
  const part = (name) => root.querySelector(`[data-${name}]`);

  function draw() {
    if (closed) return;
    const drop = html`<section class="sheet drop" data-drop><h2>${file === null ? 'Bring the file' : 'Another file'}</h2><p>A table as CSV or text: drop it here, or choose it. Nothing is kept before you have looked it over.</p>
      <label class="button file hill">${icon('intake')}<span>Choose a file</span><input type="file" class="unseen" name="station" accept=".csv,.txt,.tsv,.dat,text/csv,text/plain"></label></section>`;
    const working = html`<section class="sheet progress"><p role="status">${busy} …</p><progress aria-label="${busy}"></progress>${mayStop && html`<div class="actions"><button type="button" class="button" data-stop>${icon('close')}Stop</button></div>`}</section>`;
    render(part('work'), html`${busy !== null && working}${busy === null && seen === null && drop}
      ${busy === null && seen !== null && (seen.plan === null ? html`<div class="cols"><div>${questionsSheet(file.name, seen, answers)}</div><div>${drop}</div></div>` : html`<div class="cols"><div>${readSheet(file.name, seen, answers)}</div><div>${planSheet(seen, choices, busy !== null)}</div></div>`)}`);
  }

  const address = (what) => {
    const query = new URLSearchParams({ typed: choices.typed, ...(choices.since === null ? {} : { since: choices.since }), ...(answers === null ? {} : { answers: JSON.stringify(answers) }) });
    return `/api/weather/${id}/${what}?${query}`;
  };

  /** Have home do something with the file; what stood on the page before stays where it could not. @returns {Promise<object|null>} */
  async function send(what, words) {
    busy = words;
    mayStop = what === 'look';
    stop = new AbortController();
    draw();
    try {
      return await askHomeJson(address(what), { method: 'POST', body: file.bytes, headers: { 'Content-Type': 'text/csv' }, waitMs: WAIT_MS, signal: stop.signal });
    } catch (fault) {
      if (!(fault instanceof HomeError)) throw fault;
      const isLost = what === 'keep' && fault.code === 'away';
      const trouble = isLost ? 'Home is not in reach. Whether the days are kept is not known: keep them again once it is, and none is kept twice.' : fault.message;
      notice(stop.signal.aborted ? 'Stopped. Nothing was kept.' : trouble, { kind: stop.signal.aborted ? 'plain' : 'trouble' });
      return null;
    } finally {
      busy = null;
      draw();
    }
  }

  async function look(before) {
    const got = await send('look', `Home is reading ${file.name}`);
    if (got !== null) seen = got;
    else ({ seen, answers, choices, file } = before);
    draw();
  }

  async function take(files) {
    if (busy !== null || files.length === 0) return;
    if (files.length > 1) notice('One file at a time: the first is read.', { kind: 'plain' });
    const [first] = files;
    if (first.size > MOST_BYTES) {
      notice(`“${first.name}” is larger than 32 MB. Bring it in parts, a year at a time.`, { kind: 'trouble' });
      return;
    }
    const before = { seen, answers, choices, file };
    try {
      file = { name: first.name, bytes: await first.arrayBuffer() };
    } catch {
      notice(`“${first.name}” could not be read from its disk.`, { kind: 'trouble' });
      return;
    }
    [seen, answers, choices] = [null, null, { since: null, typed: 'keep' }];
    await look(before);
  }

  /** Read it anew with other answers or choices. */
  function again(change) {
    const before = { seen, answers, choices, file };
    change();
    return look(before);
  }

  async function readBatches() {
    try {
      batches = (await askHomeJson(`/api/weather/${id}`, { waitMs: ASK_MS })).batches;
    } catch (fault) {
      if (!(fault instanceof HomeError)) throw fault; // out of reach: a file cannot be read either, and that is said then
    }
    // Only this part: what a person chooses a file by must not be taken from under the open list of files.
    if (!closed) render(part('batches'), html`${batchesSheet(batches)}`);
  }

  async function keepDays() {
    const did = await send('keep', 'Home is keeping the days');
    if (did === null) return;
    notice(did.batch === null ? 'Nothing in it was new.' : `${count(did.kept, 'day', 'days')} kept.`, did.batch === null ? { kind: 'plain' } : { undo: () => takeBack(did.batch), backOnPage: true });
    [file, seen, answers] = [null, null, null];
    draw();
    await readBatches();
    await syncNow(); // the days come here too
  }

  async function takeBack(batch) {
    const told = await askHomeJson('/api/weather/take-back', { json: { batch }, waitMs: WAIT_MS });
    const was = [told.removed > 0 && `${count(told.removed, 'day', 'days')} gone again`, told.given_back > 0 && `${count(told.given_back, 'day', 'days')} as before`].filter(Boolean).join(', ');
    notice(`Taken back: ${was}.`);
    await readBatches();
    await syncNow();
  }

  async function askTakeBack(batch) {
    const one = batches.find((listed) => listed.batch === batch);
    const yes = await ask({ title: `Take ${count(one.days, 'day', 'days')} back?`, text: 'Days that only this file told go; days that it changed are again as they were. The file can be read again at any time.', yes: 'Take them back' });
    if (!yes) return;
    try {
      await takeBack(batch);
    } catch (fault) {
      if (!(fault instanceof HomeError)) throw fault;
      notice(fault.message, { kind: 'trouble' });
      await readBatches();
    }
  }

  draw();
  const stops = [
    on(root, 'change', '[name="station"]', (ev, input) => {
      const files = [...input.files];
      input.value = '';
      return take(files);
    }),
    on(root, 'dragover', '*', (ev) => { ev.preventDefault(); root.querySelector('[data-drop]')?.classList.add('over'); }),
    on(root, 'dragleave', '[data-drop]', (ev, drop) => drop.classList.remove('over')),
    on(root, 'drop', '*', (ev) => {
      ev.preventDefault();
      root.querySelector('[data-drop]')?.classList.remove('over');
      return take([...ev.dataTransfer.files]);
    }),
    on(root, 'submit', '[data-how]', (ev, form) => {
      ev.preventDefault();
      return again(() => { answers = answersOf(form); });
    }),
    on(root, 'change', '[data-choices]', (ev, form) => again(() => {
      const { since, typed } = readDraft(form);
      choices = { since: since ? Number(since) : choices.since, typed: typed ?? choices.typed };
    })),
    on(root, 'click', '[data-keep-days]', keepDays),
    on(root, 'click', '[data-put-away]', () => { [file, seen, answers] = [null, null, null]; draw(); }),
    on(root, 'click', '[data-stop]', () => stop.abort()),
    on(root, 'click', '[data-take-back]', (ev, button) => askTakeBack(button.dataset.takeBack)),
  ];
  readBatches().catch((fault) => globalThis.reportError?.(fault));
  return () => {
    closed = true;
    stop.abort();
    for (const one of stops) one();
  };
}
