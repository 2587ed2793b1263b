/**
 * Short notices above the bottom bar: what was just done, with a way back, or what went wrong and how to mend it.
 * They take no taps but on their own buttons. Faults of a form stand at their field instead.
 */

import { html, render } from './html.js';
import { icon } from './icons.js';
import { keepClear } from './notice_place.js';
import { sayHere } from './words.js';

const PLAIN_MS = 4000; // own rule: a sentence is read in four seconds
const UNDO_MS = 10_000; // own rule: ten seconds to take something back
const REMOVED_MS = 60_000; // own rule: what is out of sight is missed later than what was changed
const OF_REMOVALS = new Set(['Undo the removal', 'Put it back', 'Bring it back']);
const WIDE = '(min-width: 56.25rem)'; // from here on there is room for more than two
const ARRIVING_MS = 600; // what was said while leaving a screen is meant for the next one

const narrow = () => !globalThis.matchMedia(WIDE).matches;

/**
 * On a phone the newest is seen. Time runs for those behind it too: they do not come up again by themselves, on this page or
 * on the next. Of those that hold an only way back one line tells, for as long as they have.
 */
function sort() {
  const open = shown.filter((one) => !one.folded);
  const seen = new Set([open.findLast((one) => !one.holds), ...open.filter((one) => one.holds)]);
  for (const one of shown) one.show(!narrow() || seen.has(one));
  tellOlder(narrow() ? shown.filter((one) => one.folded) : []);
  keepClear(document.getElementById('notices'), shown.length > 0);
}

/** All ways back but one go into the line. @param {object} [top] the one that stays; without it the last that is in sight */
function fold(top = shown.findLast((one) => one.holds && !one.folded)) {
  for (const one of shown) one.folded = one.folded || (one.holds && one !== top);
}

/** The line that tells of the ways back out of sight, and brings them up when it is tapped. */
function tellOlder(older) {
  const place = document.getElementById('notices');
  let line = place.querySelector('[data-older]');
  if (older.length === 0) {
    line?.remove();
    return;
  }
  if (!line) {
    line = document.createElement('div');
    line.className = 'notices-older';
    line.dataset.older = '';
    line.setAttribute('role', 'status');
    render(line, html`<button type="button" class="button">${icon('undo')}<span data-words></span></button>
      <button type="button" class="close" aria-label="Close the earlier notices">${icon('close')}</button>`);
    const [bring, close] = line.querySelectorAll('button');
    bring.addEventListener('click', () => {
      for (const one of shown) one.folded = false;
      sort();
      shown.find((one) => one.holds)?.focus();
    });
    close.addEventListener('click', () => shown.filter((one) => one.folded).forEach((one) => one.dismiss()));
    place.prepend(line);
  }
  const words = line.querySelector('[data-words]');
  const told = `${older.length} more can be undone`;
  if (words.textContent !== told) words.textContent = told;
}

const shown = []; // {text, kind, holds, folded, stays, since, show, focus, dismiss}; folded: behind the line on a phone

/**
 * Whether a notice makes room for a new one: for its like, or for its own words. One that must not go unseen stays, and so
 * does one that holds the only way back, for as long as it has.
 */
const makesRoom = (old, text, kind, stays) => !old.holds && (old.text === text || (!old.stays && !stays && (old.kind === 'trouble') === (kind === 'trouble')));

/**
 * Show a notice, in the place of the one before it: they do not pile up over the page. A trouble takes the place of a
 * trouble. A trouble goes when the person leaves the screen, corrects something in it, or closes it; what can be taken
 * back goes after ten seconds, a removal after sixty, anything else after four. An act that must be taken back later has its way back on the page.
 * @param {string} text one plain sentence
 * @param {{undo?: () => any, undoWords?: string, act?: {label: string, run: () => any}, kind?: 'done'|'plain'|'trouble',
 *   stays?: boolean, backOnPage?: boolean}} [options] undo: called once when its button is tapped; undoWords: what that
 *   button says, as 'Undo the mark', for what is taken out of sight 'Undo the removal'; act: one more button, which leaves the notice where it is; stays: until it is closed;
 *   backOnPage: the page itself has the way back too, so that the next notice may take this one's place
 * @returns {() => void} takes the notice away
 */
export function notice(text, { undo = null, undoWords = 'Undo', act = null, kind = 'done', stays = false, backOnPage = false } = {}) {
  const place = document.getElementById('notices');
  for (const one of shown.filter((old) => makesRoom(old, text, kind, stays))) one.dismiss();
  const lasts = stays || kind === 'trouble';
  const box = document.createElement('div');
  box.className = `notice ${kind}`;
  box.setAttribute('role', kind === 'trouble' ? 'alert' : 'status');
  place.append(box);
  const closing = lasts || undo || act;
  render(
    box,
    html`${icon(kind === 'trouble' ? 'warn' : 'done')}<div class="notice-words"><p>${sayHere(text)}</p>
      ${undo && html`<button type="button" class="button undo" data-undo>${icon('undo')}${undoWords}</button>`}
      ${act && html`<button type="button" class="button undo" data-notice-act>${act.label}</button>`}</div>
      ${closing && html`<button type="button" class="close" data-close aria-label="Close this notice">${icon('close')}</button>`}`,
  );
  const time = undo && OF_REMOVALS.has(undoWords) ? REMOVED_MS : undo || act ? UNDO_MS : PLAIN_MS;
  let timer = null;
  const hold = () => {
    clearTimeout(timer);
    timer = null;
  };
  const wait = () => {
    hold();
    if (!lasts) timer = setTimeout(dismiss, time);
  };
  const me = { text, kind, holds: undo !== null && !backOnPage, folded: false, stays, since: Date.now(), show, focus: () => box.querySelector('[data-undo]')?.focus(), dismiss };

  function dismiss() {
    hold();
    box.remove();
    if (!shown.includes(me)) return;
    shown.splice(shown.indexOf(me), 1);
    sort();
  }

  function show(seen) {
    box.hidden = !seen;
    if (!seen && timer === null) wait(); // nobody reaches for it any more
  }

  // Someone reaching for a button is not hurried.
  for (const type of ['pointerenter', 'focusin']) box.addEventListener(type, hold);
  for (const type of ['pointerleave', 'focusout']) box.addEventListener(type, wait);
  box.querySelector('[data-close]')?.addEventListener('click', dismiss);
  box.querySelector('[data-notice-act]')?.addEventListener('click', () => act.run());
  box.querySelector('[data-undo]')?.addEventListener('click', async () => {
    dismiss();
    try {
      await undo();
      notice('Undone.', { kind: 'plain' });
    } catch (trouble) {
      notice(`That could not be undone: ${trouble.message}`, { kind: 'trouble' });
    }
  });
  shown.push(me);
  if (me.holds) fold(me);
  wait();
  sort();
  return dismiss;
}

function dropTroubles(olderThan) {
  const before = Date.now() - olderThan;
  for (const one of shown.filter((other) => other.kind === 'trouble' && !other.stays && other.since <= before)) one.dismiss();
}

globalThis.addEventListener('hashchange', () => {
  dropTroubles(ARRIVING_MS);
  if (shown.length === 0) return;
  fold();
  sort();
});
document.addEventListener('input', () => dropTroubles(0));
