/** What is on this phone and what home has: what waits, what could not be taken in, and what two people wrote differently. */

import { nudgeWords } from '../hill/copy_nudge.js';
import { deviceId, getMeta, getPack, getRecord, listConflicts, listHeld, listRecords, onStoreChange, photosInForms, saveChange, setMeta } from '../store.js';
import { deviceNames, homeElsewhere, onSyncState, recount, syncNow } from '../sync.js';
import { fieldWord, recordWords, typeWord, valueWords } from '../ui/field_words.js';
import { html, on, render } from '../ui/html.js';
import { icon } from '../ui/icons.js';
import { notice } from '../ui/notice.js';
import { count, here, sayHere, showAgo, showInstant } from '../ui/words.js';

const PHASES = {
  asking: 'Looking for home …',
  sending: 'Sending and fetching changes …',
  pack: 'Fetching leave slips, seasons and tasks …',
  photos: 'Sending photos …',
};
const HALF_DAY_MS = 12 * 3600 * 1000;

function whoWords(candidate, ownDevice, devices) {
  if (candidate.dev === ownDevice) return `this ${here()}`;
  return devices.get(candidate.dev) ?? 'another phone, or home itself';
}

/** [candidate, its place], the same value shown once though several wrote it. */
function eachOnce(candidates) {
  const texts = candidates.map((one) => JSON.stringify(one.value));
  return candidates.map((one, i) => [one, i]).filter(([, i]) => texts.indexOf(texts[i]) === i);
}

/** Why it is held, its fields by the words that forms have for them. */
const whyWords = (why) => (why ?? 'The reason was not told.').replaceAll(/“([a-z0-9_]+)”/g, (all, name) => `“${fieldWord(name)}”`);

/** What waits, in words: '3 changes and 2 photos'; '' for nothing. */
function waitWords(state) {
  const parts = [state.unsent_changes && count(state.unsent_changes, 'change', 'changes'), state.unsent_photos && count(state.unsent_photos, 'photo', 'photos')];
  return parts.filter(Boolean).join(' and ');
}

/** That home is away, what waits, and when it is tried again. */
function awayWords(state) {
  const left = waitWords(state);
  const seconds = state.next_try_at === null ? null : Math.max(1, Math.round((state.next_try_at - Date.now()) / 1000));
  const when = seconds === null || seconds > 90 ? 'within three minutes' : `in about ${count(seconds, 'second', 'seconds')}`;
  if (!left) return `Home is not in reach just now. Nothing waits on this ${here()}; home is looked for again within three minutes.`;
  return `Home is not in reach just now. ${left} ${state.unsent_changes + state.unsent_photos === 1 ? 'waits' : 'wait'} on this ${here()}, and nothing is lost. It is tried again by itself ${when} while this page is open, and at once when a network appears.`;
}

function isThisMachine() {
  return ['localhost', '127.0.0.1', '[::1]'].includes(globalThis.location.hostname);
}

/** What home has, as one state line. */
function homeState(state) {
  if (state.trouble?.code === 'shut-out') return { kind: 'bad', icon: 'no', word: 'Shut out at home' };
  if (state.phase === 'unpaired') return { kind: 'ask', icon: 'ask', word: 'Not paired with home' };
  if (state.unsent_changes || state.unsent_photos) return { kind: 'ask', icon: 'phone', word: `Some of it is on this ${here()} only` };
  return { kind: 'good', icon: 'yes', word: 'Home has everything' };
}

/**
 * That home was put back to an earlier day, and what became of what it lacked then.
 * @param {{at: string, changes: number, from: string|null}} told @param {number} unsent changes that wait now
 */
export function putBackWords({ at, changes, from }, unsent) {
  const lacked = from === null ? '' : ` It lacked ${count(changes, 'change', 'changes')} written since ${showInstant(from)}.`;
  const again = unsent > 0 ? `hands ${changes === 1 ? 'it' : 'them'} over again` : `has handed ${changes === 1 ? 'it' : 'them'} over again`;
  return `On ${showInstant(at)} this ${here()} found home put back to an earlier day, as from a backup.${lacked} This ${here()} ${again}${from === null ? `: ${count(changes, 'change', 'changes')}` : ''}. Nothing that is here was lost.`;
}

/** That this phone goes by a name and token of its own since it was copied. @param {{at: string, name: string|null}} told */
export function copiedWords({ at, name }) {
  return `Another ${here()} goes by the name ${name ? `“${name}”` : 'of this one'}: one of the two is a copy of the other, or this ${here()} was put back from a copy of itself. Since ${showInstant(at)} home tells them apart, and nothing was lost. If nobody you know made a copy, look under House who is let in, and shut out what you do not know.`;
}

/**
 * Open the screen.
 * @param {Element} root
 * @returns {Promise<() => void>} close
 */
export async function open(root) {
  let state = null;
  let closed = false;
  let ownDevice = null;
  let devices = new Map();
  let inForms = 0;
  let reachDrawn = null;

  render(root, html`<div class="page sync-state"><div class="page-head"><h1>Here and at home</h1><p class="under">Everything you save is kept on this ${here()} at once. Home gets it when both see each other.</p></div>
    <div class="cols"><div><section data-conflicts></section><section class="stack" data-told></section><section class="sheet" data-state></section></div><div><section data-held></section><section data-nudge></section><section data-reach></section></div></div></div>`);
  const part = (name) => root.querySelector(`[data-${name}]`);

  function drawState() {
    const home = homeState(state);
    const busy = PHASES[state.phase];
    const fact = (name, value) => html`<dt>${name}</dt><dd>${value}</dd>`;
    render(part('state'), html`<h2>Now</h2>
      <p class="state ${home.kind}">${icon(home.icon)}${home.word}</p>
      <dl class="facts">
        ${fact('Changes that wait', state.unsent_changes === 0 ? 'none' : count(state.unsent_changes, 'change', 'changes'))}
        ${fact('Photos that wait', state.unsent_photos === 0 ? 'none' : count(state.unsent_photos, 'photo', 'photos'))}
        ${inForms > 0 && fact('In a form, not saved yet', count(inForms, 'photo', 'photos'))}
        ${fact('Last at home', state.last_ok_at ? html`${showAgo(state.last_ok_at)}${Date.now() - new Date(state.last_ok_at) > HALF_DAY_MS && html`<br><span class="muted">${showInstant(state.last_ok_at)}</span>`}` : 'never yet')}
      </dl>
      ${busy && html`<div class="progress"><p role="status">${busy}</p>${state.photo_bytes?.of ? html`<progress max="${state.photo_bytes.of}" value="${state.photo_bytes.sent}" aria-label="Photos sent"></progress>` : html`<progress aria-label="Under way"></progress>`}</div>`}
      ${state.phase === 'away' && html`<p>${icon('info', 'in-line')} ${awayWords(state)}</p>`}
      ${state.trouble?.code === 'shut-out' && html`<p class="strong">${waitWords(state) ? `On this ${here()} only: ${waitWords(state)}.` : 'Home had everything before that.'}</p>`}
      ${state.trouble && html`<p class="caution">${icon('warn')}<span>${sayHere(state.trouble.text)}</span></p>`}
      ${state.clock_offset_s && html`<p class="caution">${icon('clock')}<span>This ${here()}’s clock is ${count(Math.abs(Math.round(state.clock_offset_s / 60)), 'minute', 'minutes')} ${state.clock_offset_s > 0 ? 'ahead of' : 'behind'} home’s. Set it right: dates of digs and leaves are taken from it.</span></p>`}
      <div class="actions">${state.trouble?.code === 'shut-out' && html`<a class="button primary" href="#/copy">${icon('held')}Keep a copy</a>`}
        ${state.phase === 'unpaired' ? html`<a class="button ${state.trouble?.code === 'shut-out' ? '' : 'primary'}" href="#/pair">${icon('key')}Pair this ${here()}</a>` : html`<button type="button" class="button primary" data-sync ${busy ? html`disabled` : ''}>${icon('sync')}Sync now</button>`}
        <a class="button" href="#/house">${icon('house')}House</a></div>`);
  }

  /** Drawn only when it changes: the part above is drawn anew all the time, and would close what somebody reads. */
  async function drawReach() {
    const other = await homeElsewhere({ ask: false });
    const isAway = state.phase === 'away' && !isThisMachine();
    const now = JSON.stringify([other, isAway]);
    if (closed || now === reachDrawn) return;
    reachDrawn = now;
    const { origin } = globalThis.location;
    render(part('reach'), !other && !isAway ? html`` : html`<section class="sheet"><h2>Finding home</h2>
      ${other && html`<p>Home wants to be opened at ${other.address}. This ${here()} keeps its log under ${origin}, where home answers too: nothing has to be done. To move all the same, first let home take everything that waits; then open ${other.address} and pair there.</p>`}
      ${isAway && html`<details class="fold"><summary>Home runs, but is not reached?</summary><ul class="numbered">
        <li>This ${here()} has to be on the network of your home, and not on its guest network.</li>
        <li>It looks for home at ${origin}. The server says its address when it starts. If that is another by now, start it with --name and --port as they were: what is kept here stays under this address.</li>
        <li>If this ${here()} no longer trusts home, set it up once more: the server says where the page for that is.</li></ul></details>`}</section>`);
  }

  /** What happened between home and this phone while nobody looked: told until somebody has read it. */
  async function drawTold() {
    const [putBack, copied] = await Promise.all([getMeta('home_put_back'), getMeta('was_copied')]);
    if (closed) return;
    const read = (key) => html`<div class="actions"><button type="button" class="button" data-read="${key}">${icon('yes')}I have read it</button></div>`;
    render(part('told'), !putBack && !copied ? html`` : html`${putBack && html`<section class="sheet"><h2>Home was put back</h2><p>${putBackWords(putBack, state.unsent_changes)}</p>${read('home_put_back')}</section>`}
      ${copied && html`<section class="sheet"><h2>One of two</h2><p>${copiedWords(copied)}</p>${read('was_copied')}</section>`}`);
  }

  async function drawNudge() {
    const words = await nudgeWords(Date.now());
    if (closed) return;
    render(part('nudge'), html`<section class="sheet"><h2>A copy of it</h2>
      ${words.due && html`<p class="caution">${icon('warn')}<span>${words.due}</span></p>`}
      <p>${words.kept}</p><div class="actions"><a class="button" href="#/copy">${icon('held')}Keep a copy</a></div></section>`);
  }

  async function drawConflicts() {
    let records, pack, named;
    [records, pack, named, ownDevice, devices] = await Promise.all([
      listConflicts(), getPack(), Promise.all(['tree', 'site', 'landholder', 'leave', 'consent'].map(listRecords)), deviceId(), deviceNames(),
    ]);
    if (closed) return;
    const names = new Map(named.flat().map((one) => [one.id, recordWords(one, pack)]));
    const open_ = records.flatMap((record) => Object.entries(record.conflicts).map(([field, candidates]) => ({ record, field, candidates })));
    render(part('conflicts'), open_.length === 0 ? html`` : html`<section class="sheet"><h2>Two answers to one question</h2>
      <p>Two people wrote the same thing without having seen each other. Tap the one that is right; the other one stays in the history.</p>
      <ul class="stack">${open_.map(({ record, field, candidates }) => html`<li class="two-values"><p class="strong">${recordWords(record, pack)}: ${fieldWord(field)}</p>
        ${eachOnce(candidates).map(([one, i]) => html`<button type="button" class="button" data-settle="${record.id}" data-field="${field}" data-choice="${i}">
          <span>${valueWords(record.type, field, one.value, { pack, names })}<small>${whoWords(one, ownDevice, devices)}, ${showInstant(one.wall)}</small></span></button>`)}</li>`)}</ul></section>`);
  }

  async function drawHeld() {
    const [held, pack] = await Promise.all([listHeld(), getPack()]);
    const about = await Promise.all(held.map(({ op }) => getRecord(op.rec)));
    if (closed) return;
    render(part('held'), held.length === 0 ? html`` : html`<section class="sheet"><h2>Kept, but not taken in</h2>
      <p>These changes could not be worked into the log. They are kept, here and at home. You need not do anything to keep them. Where a newer
        version wrote one, update home and this ${here()}: it is then worked in by itself. Any other you can write anew, as it should be.</p>
      <ul class="entries">${held.map(({ op, why }, i) => html`<li><div class="entry"><span class="entry-icon">${icon('held')}</span><span class="entry-main">
        <span class="entry-title">${about[i] ? recordWords(about[i], pack) : typeWord(op.type)}: ${Object.keys(op.set).map(fieldWord).join(', ')}</span>
        <span class="entry-under">${whyWords(why)}<br>Written ${showInstant(op.wall)}</span></span></div></li>`)}</ul></section>`);
  }

  async function settle(button) {
    const { settle: rec, field, choice } = button.dataset;
    const record = await getRecord(rec);
    const candidates = record?.conflicts[field];
    const chosen = candidates?.[Number(choice)];
    if (!chosen) return; // settled meanwhile, here or elsewhere: the list is drawn anew
    const others = eachOnce(candidates).map(([one]) => one).filter((one) => JSON.stringify(one.value) !== JSON.stringify(chosen.value));
    try {
      await saveChange({ rec, type: record.type, set: { [field]: chosen.value } });
      // Of two, the other one can be had again by a tap. Of more, no one stands for what was: all are in the history.
      const back = others.length === 1 && { undoWords: 'Take the other one', undo: () => saveChange({ rec, type: record.type, set: { [field]: others[0].value } }) };
      notice(`Settled. Saved on this ${here()}.`, back || {});
    } catch (trouble) {
      notice(`Not saved: ${trouble.message}`, { kind: 'trouble' });
    }
  }

  async function sync() {
    const { ok, text } = await syncNow();
    if (!closed) notice(state.phase === 'away' ? awayWords(state) : text, { kind: ok ? 'done' : 'plain' });
  }

  async function countForms() {
    inForms = await photosInForms();
    if (!closed) drawState();
  }

  const redraw = () => Promise.all([drawConflicts(), drawHeld(), drawTold(), drawNudge(), countForms()]);
  let homeKnew = null;
  const stops = [
    onSyncState((next) => {
      state = next;
      drawState();
      drawReach().catch((fault) => globalThis.reportError?.(fault));
      // Names of devices are learned at the end of a sync: what two people wrote is then told by them.
      if (homeKnew !== null && homeKnew !== next.last_ok_at) Promise.all([drawConflicts(), drawTold()]).catch((fault) => globalThis.reportError?.(fault));
      homeKnew = next.last_ok_at;
    }),
    onStoreChange(redraw),
    on(root, 'click', '[data-sync]', sync),
    on(root, 'click', '[data-read]', async (ev, button) => {
      await setMeta(button.dataset.read, null);
      await drawTold();
    }),
    on(root, 'click', '[data-settle]', (ev, button) => settle(button)),
  ];
  await recount();
  await redraw();
  return () => {
    closed = true;
    for (const stop of stops) stop();
  };
}
