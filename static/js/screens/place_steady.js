/** The part of Where it stands that takes a position by holding still: fixes come in, get better, and are saved or put away. */

import { R95 } from '../core/fix.js';
import { keepAwake, watchFix } from '../device.js';
import { fixFields, metresBetween, todayOn, visitChange } from '../hill/ground_facts.js';
import { SteadyFix, weighFixes } from '../hill/steady_fix.js';
import { dropDraft, getDraft, getRecord, listRecords, newId, saveChanges, saveDraft } from '../store.js';
import { html, on, render } from '../ui/html.js';
import { icon } from '../ui/icons.js';
import { notice } from '../ui/notice.js';
import { fixWord } from '../ui/position.js';
import { count, sayHere, showDistance, showInstant } from '../ui/words.js';
import { showAccuracy, showOff } from './place_fixes.js';

const SPEAK_MS = 15_000; // own rule: spoken words come no faster than they can be heard out

/** Whether two positions lie further apart than their accuracies explain; of one that tells none nothing is claimed. */
function disagree(a, b) {
  return Boolean(a.accuracy_m && b.accuracy_m) && metresBetween(a, b) > R95 * (a.accuracy_m + b.accuracy_m);
}

/** How good a fix is, in a word: here 'poor' for a coarse one. */
function word(fix) {
  const said = fixWord({ accuracy_m: fix.accuracy_m || null });
  return said.kind === 'bad' ? { ...said, word: 'poor' } : said;
}

/** How many fixes, over how long, and how many of them are kept. */
function countWords(steady) {
  const lasted = steady.lastedS();
  const over = lasted > 0 ? ` in ${lasted < 60 ? `${lasted} s` : `${Math.floor(lasted / 60)} min ${lasted % 60} s`}` : '';
  return `${count(steady.taken, 'fix', 'fixes')}${over}${steady.taken > steady.kept.length ? `, of which ${steady.kept.length} are kept, spread over that time` : ''}`;
}

/** One line of advice, where there is something to do about it. */
function advice(steady, weighed, stands) {
  const latest = steady.kept.at(-1);
  if (steady.kept.length > 1 && disagree(latest, weighed)) return `You seem to have moved ${showDistance(metresBetween(latest, weighed))} from where this was begun. Go back and hold still, or put it away and begin again.`;
  if (stands && disagree(weighed, stands)) return `What is kept of this tree lies ${showDistance(metresBetween(weighed, stands))} from here. Look at the tag: is this the tree?`;
  if (word(latest).kind === 'bad') return 'The receiver sees little of the sky. Step clear of rock or thick crowns, as close to the tree as you can.';
  return null;
}

/**
 * Put the panel into its place.
 * @param {Element} place emptied and filled
 * @param {{tree: object, stands: () => object|null}} how tree: its record; stands: the position kept so far
 * @returns {Promise<() => void>} close: stops the receiver; what was collected stays as a draft
 */
export async function holdStill(place, { tree, stands }) {
  const key = `place-steady-${tree.id}`;
  let steady = new SteadyFix(await getDraft(key));
  let stopWatch = null;
  let letSleep = null;
  let trouble = null;
  let latest = null; // the very last one, also when it came too soon to be kept
  let spokenAt = 0;
  let closed = false;
  const part = (name) => place.querySelector(`[data-${name}]`);

  function drawIdle() {
    const waiting = steady.kept.length;
    render(place, html`<h2>Take its position</h2>
      ${waiting > 0
        ? html`<p class="state ask">${icon('held')}${count(waiting, 'fix', 'fixes')} from ${showInstant(steady.kept[0].fixed_at)} ${waiting === 1 ? 'is' : 'are'} not saved yet: ${showAccuracy(weighFixes(steady.kept).accuracy_m)}.</p>
          <div class="pick-row"><button type="button" class="button primary hill" data-steady-save>${icon('done')}Save ${waiting === 1 ? 'it' : 'them'}</button>
          <button type="button" class="button hill" data-steady-start>Go on</button><button type="button" class="button hill" data-steady-away>${icon('bin')}Put away</button></div>`
        : html`<p class="muted">Stand at the trunk and hold the phone still, as long as you have patience: half a minute makes it better, two minutes better still.</p>
          <button type="button" class="button primary hill" data-steady-start>${icon('fix')}Hold still</button>`}`);
  }

  function drawCollecting() {
    render(place, html`<h2>Hold still</h2><div data-steady-live></div><p class="unseen" role="status" data-steady-said></p>
      <div class="pick-row"><button type="button" class="button primary hill" data-steady-save>${icon('done')}Stop and save</button>
        <button type="button" class="button hill" data-steady-away>${icon('bin')}Put away</button></div>`);
    drawLive();
  }

  function drawLive() {
    const live = part('steady-live');
    if (!live) return;
    const weighed = weighFixes(steady.kept);
    if (!weighed) {
      render(live, html`<p class="strong">${trouble ?? 'Looking for your position …'}</p>`);
      return;
    }
    const last = word(latest ?? steady.kept.at(-1));
    const hint = advice(steady, weighed, stands());
    render(live, html`<p><span class="big-number" data-steady-accuracy>${showAccuracy(weighed.accuracy_m)}</span></p>
      <p data-steady-count>${countWords(steady)}</p>
      ${weighed.half_m !== null && html`<p data-steady-spread>Half of them within ${showOff(weighed.half_m)} of the middle, the furthest ${showOff(weighed.furthest_m)}.</p>`}
      ${weighed.aside.length > 0 && html`<p data-steady-aside>${count(weighed.aside.length, 'fix lies', 'fixes lie')} off and ${weighed.aside.length === 1 ? 'is' : 'are'} set aside.</p>`}
      <p data-steady-latest>The last one: ${showAccuracy((latest ?? steady.kept.at(-1)).accuracy_m)} <span class="state ${last.kind}">${icon(last.icon)}${last.word}</span></p>
      <ol class="steady-fixes" aria-label="The fixes kept">${steady.kept.map((fix, i) => html`<li class="${weighed.used.includes(i) ? '' : 'out'}">${showAccuracy(fix.accuracy_m)}${word(fix).kind === 'bad' ? ', poor' : ''}${weighed.used.includes(i) ? '' : ', set aside'}</li>`)}</ol>
      ${hint && html`<p class="state ask" data-steady-advice>${icon('ask')}${hint}</p>`}
      ${trouble && html`<p class="muted">${trouble}</p>`}`);
    if (Date.now() - spokenAt >= SPEAK_MS) {
      spokenAt = Date.now();
      part('steady-said').textContent = `${countWords(steady)}: ${showAccuracy(weighed.accuracy_m).replace('±', 'within')}`;
    }
  }

  async function take(fix) {
    latest = fix;
    trouble = null;
    const kept = steady.take({ ...fix, rec: newId() });
    drawLive();
    if (kept) await saveDraft(key, steady.draft());
  }

  function rest() {
    stopWatch?.();
    stopWatch = null;
    letSleep?.();
    letSleep = null;
  }

  async function start() {
    latest = null;
    trouble = null;
    drawCollecting();
    part('steady-save').focus({ preventScroll: true });
    place.scrollIntoView({ block: 'start' });
    stopWatch = watchFix(
      (best, fix) => take(fix).catch((fault) => notice(`Not kept: ${fault.message}`, { kind: 'trouble' })),
      (said) => { trouble = sayHere(said.message); drawLive(); },
    );
    const sleep = await keepAwake();
    if (stopWatch && !closed) letSleep = sleep;
    else sleep();
  }

  async function save() {
    if (steady.kept.length === 0) {
      notice('There is no fix yet. Wait a little under the open sky, or put it away.', { kind: 'plain' });
      return;
    }
    rest();
    const { site } = tree.fields;
    const visit = visitChange(await listRecords('visit'), site ? await getRecord(site) : null, todayOn());
    // The ids were given as the fixes came in: saved a second time after a kill, they are still the same records.
    const changes = steady.kept.map(({ rec, ...fix }) => ({ rec, type: 'fix', set: fixFields(fix, tree.id, visit.id) }));
    if (visit.change) changes.push(visit.change);
    const words = `${count(steady.kept.length, 'fix', 'fixes')}, ${showAccuracy(weighFixes(steady.kept).accuracy_m)}.`;
    await saveChanges(changes);
    await dropDraft(key);
    steady = new SteadyFix();
    if (!closed) drawIdle();
    notice(`${words} Saved on this phone.`, { undo: () => saveChanges(changes.map(({ rec, type }) => ({ rec, type, set: { deleted: true } }))) });
  }

  async function putAway() {
    rest();
    const before = steady.draft();
    await dropDraft(key);
    steady = new SteadyFix();
    drawIdle();
    if (before.kept.length === 0) return;
    notice(`${count(before.kept.length, 'fix', 'fixes')} put away.`, {
      undo: async () => {
        await saveDraft(key, before);
        if (closed) return;
        steady = new SteadyFix(before);
        drawIdle();
      },
    });
  }

  const trying = (work) => () => work().catch((fault) => notice(`Not saved: ${fault.message}`, { kind: 'trouble' }));
  drawIdle();
  const stops = [
    on(place, 'click', '[data-steady-start]', trying(start)),
    on(place, 'click', '[data-steady-save]', trying(save)),
    on(place, 'click', '[data-steady-away]', trying(putAway)),
  ];
  return () => {
    closed = true;
    rest();
    stops.forEach((stop) => stop());
  };
}
