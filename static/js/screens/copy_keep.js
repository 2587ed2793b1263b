/** The part of Copy and room that makes a copy: what goes into it, how far it is, and handing its parts on one by one. */

import { canHandOn, copyLeft, handOn, makePart, planCopy } from '../hill/keep_copy.js';
import { onStoreChange, photosInForms } from '../store.js';
import { copyKept, keptHereOnly } from '../store/copy.js';
import { photoSums } from '../store/room.js';
import { chips } from '../ui/form.js';
import { html, on, render } from '../ui/html.js';
import { icon } from '../ui/icons.js';
import { notice } from '../ui/notice.js';
import { count, here, showInstant, showSize } from '../ui/words.js';

const STILL_SAVING_MS = 60_000;

/** Photos with their size: '7 photos, 21 MB'. */
const photoWords = ({ count: n, bytes }) => (n === 0 ? 'no photos' : `${count(n, 'photo', 'photos')}, ${showSize(bytes)}`);

/** What is on this phone only, in words. @param {{changes: number, photos: number}} only */
export function onlyWords({ changes, photos }) {
  const parts = [changes && count(changes, 'change', 'changes'), photos && count(photos, 'photo', 'photos')].filter(Boolean);
  return parts.length === 0 ? 'nothing' : parts.join(' and ');
}

/** That a copy was kept. @param {{at: string, changes: number, photos: number}} kept */
export const keptWords = (kept) => `Kept on ${showInstant(kept.at)}: ${count(kept.changes, 'change', 'changes')}, ${count(kept.photos, 'photo', 'photos')}`;

/**
 * Open the part.
 * @param {Element} place
 * @param {{mayAll?: boolean}} [phone] mayAll: false for one that may only record
 * @returns {Promise<() => void>} close
 */
export async function openKeep(place, { mayAll = true } = {}) {
  const stop = new AbortController();
  let all = false;
  let work = null; // {plan, n, file, missing, done, of}: a copy that is being made
  let url = null;

  /** Let the last file go, later on: a browser may still be saving it. */
  function letGo() {
    const old = url;
    if (old !== null) setTimeout(() => URL.revokeObjectURL(old), STILL_SAVING_MS);
    url = null;
  }

  async function draw() {
    const [kept, only, sums, inForms] = await Promise.all([copyKept(), keptHereOnly(), photoSums(), photosInForms()]);
    if (stop.signal.aborted || work !== null) return;
    render(place, html`<h2>Keep a copy</h2>
      <p>${mayAll ? 'One file with all that is written here, and photos. Put it on a card, a computer, or in a message to yourself; home takes it in later.' : `One file with what this ${here()} has, and photos. Hand it to the owner, on a card or in a message: on their phone or desk home takes it in.`}</p>
      ${kept && html`<p class="state good">${icon('yes')}${keptWords(kept)}</p>`}
      <dl class="facts"><dt>${kept ? 'Neither home nor that copy has' : `On this ${here()} only`}</dt><dd>${onlyWords(only)}</dd>
        ${inForms > 0 && html`<dt>In a form, not saved yet</dt><dd>${count(inForms, 'photo', 'photos')}<br><span class="muted">Save the form first: a copy has only what is saved.</span></dd>`}</dl>
      ${chips({ name: 'all', label: 'Which photos go in', value: all, options: [{ value: false, label: `Those home lacks: ${photoWords(sums.unsent)}` }, { value: true, label: `All here: ${photoWords(sums.all)}` }] })}
      <div class="actions"><button type="button" class="button primary hill" data-make>${icon('held')}Make the copy</button></div>
      <p class="caution">${icon('info')}<span>${mayAll ? 'Where your trees stand, and whom to ring, is in it. Keep it as you would keep the log itself.' : 'Where trees stand is in it. Give it to the owner and to nobody else.'}</span></p>`);
  }

  function drawWork() {
    const { plan, n, file, done, of } = work;
    const parts = plan.parts.length;
    const part = parts > 1 ? `Part ${n} of ${parts}` : 'The copy';
    if (file === null) {
      render(place, html`<h2>Keep a copy</h2><div class="progress"><p role="status">${part} is being made.</p><progress max="${of}" value="${done}" aria-label="How far it is"></progress></div>
        <div class="actions"><button type="button" class="button" data-give-up>${icon('close')}Stop</button></div>`);
      return;
    }
    const canGive = canHandOn(file);
    render(place, html`<h2>Keep a copy</h2><p class="state good" role="status">${icon('yes')}${part} is ready: ${showSize(file.size)}</p>
      ${parts > 1 && html`<p>It has ${parts} parts, so that none is too large to send. Each is good by itself; keep them all.</p>`}
      <div class="actions">${canGive && html`<button type="button" class="button primary hill" data-hand-on>${icon('forward')}Hand it on</button>`}
        <a class="button hill ${canGive ? '' : 'primary'}" href="${url}" download="${file.name}" data-save>${icon('down')}Save the file</a>
        <button type="button" class="button quiet" data-give-up>${icon('back')}Begin again</button></div>
      <p class="muted">${file.name}</p>`);
  }

  async function makeNext() {
    work = { ...work, n: work.n + 1, file: null, done: 0, of: work.plan.parts[work.n].length };
    letGo();
    drawWork();
    const mine = work;
    const made = await makePart(work.plan, work.n, {
      signal: stop.signal,
      onProgress: (done) => {
        mine.done = done;
        const bar = place.querySelector('progress');
        if (bar && mine === work) bar.value = done;
      },
    });
    if (mine !== work || stop.signal.aborted) return;
    url = URL.createObjectURL(made.file);
    work = { ...work, file: made.file, missing: work.missing + made.missing.length };
    drawWork();
  }

  /** A part has left: the next one, or the end. */
  async function left() {
    const { plan, n, missing } = work;
    if (n < plan.parts.length) {
      await makeNext();
      return;
    }
    work = null;
    letGo();
    try {
      await copyLeft(plan, missing);
    } catch (fault) {
      // A full phone is a reason to keep a copy: that it left is true all the same.
      notice(`The copy is kept, but that could not be noted here: ${fault.message}`, { kind: 'trouble', stays: true });
      await draw();
      return;
    }
    if (missing > 0) notice(`${count(missing, 'photo is', 'photos are')} no longer on this ${here()} and not in the copy.`, { kind: 'trouble', stays: true });
    else notice('The copy is kept. Look once whether the file is where you put it.');
    await draw();
  }

  const trying = (run) => async (ev, el) => {
    try {
      await run(ev, el);
    } catch (fault) {
      if (stop.signal.aborted) return;
      notice(`The copy was not made: ${fault.message}`, { kind: 'trouble' });
      work = null;
      await draw();
    }
  };
  const stops = [
    onStoreChange(() => draw().catch((fault) => globalThis.reportError?.(fault))),
    on(place, 'change', '[name="all"]', (ev, el) => { all = el.value === 'true'; }),
    on(place, 'click', '[data-make]', trying(async () => {
      work = { plan: { parts: [[]] }, n: 0, file: null, missing: 0, done: 0, of: 1 };
      work.plan = await planCopy({ all });
      await makeNext();
    })),
    on(place, 'click', '[data-hand-on]', trying(async () => {
      if (await handOn(work.file)) await left();
    })),
    // After the click itself, which saves the file: with the page drawn anew before it, nothing would be saved.
    on(place, 'click', '[data-save]', () => { setTimeout(trying(left), 0); }),
    on(place, 'click', '[data-give-up]', async () => {
      work = null;
      letGo();
      await draw();
    }),
  ];
  await draw();
  return () => {
    stop.abort();
    letGo();
    for (const one of stops) one();
  };
}
