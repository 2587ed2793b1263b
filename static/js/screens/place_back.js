/** The part of Where it stands that leads back to the tree: how far, which way as one walks, and how much daylight is left. */

import { keepAwake, watchFix } from '../device.js';
import { compassWord, WalkedCourse, wayTo } from '../hill/way_back.js';
import { daylightPanel } from '../ui/daylight.js';
import { html, on, render } from '../ui/html.js';
import { icon } from '../ui/icons.js';
import { NO_DEVICE } from '../ui/notation.js';
import { notice } from '../ui/notice.js';
import { sayHere, showDistance } from '../ui/words.js';
import { showAccuracy } from './place_fixes.js';

const TICK_MS = 5000; // the arrow goes when one stands, and daylight goes on, also while the receiver is quiet
const SPEAK_MS = 15_000; // own rule: spoken words come no faster than they can be heard out
const QUIET_MS = 30_000; // then it is said how old the last fix is

/** The arrow: straight up is straight ahead, turned by eighths; more a walked course does not tell. */
function arrow(turn) {
  return html`<svg class="way-arrow" viewBox="0 0 100 100" aria-hidden="true" focusable="false"><path transform="rotate(${turn * 45} 50 50)" d="M50 6 82 62 56 54v40H44V54L18 62Z"/></svg>`;
}

function nearPanel(way) {
  return html`<p class="way-near" data-way-near>${icon('yes')}<span>You are within <span class="nowrap">${Math.ceil(way.within_m)} m</span>: look around.</span></p>
    <p>Here no direction can be told any more: the tree lies ${showDistance(way.distance_m)} away by the fixes, which is less than they are sure of.</p>`;
}

function farPanel(way) {
  return html`<div class="way"><p class="way-distance" data-way-distance>${showDistance(way.distance_m)}</p>
      ${way.turn === null
        ? html`<p class="way-turn" data-way-turn>Walk a few steps to get the arrow.</p>`
        : html`${arrow(way.turn)}<p class="way-turn" data-way-turn>${way.turn_word}</p>`}</div>
    <p data-way-bearing>${way.bearing_deg === null ? '' : html`<span class="strong">${Math.round(way.bearing_deg) % 360}°</span>, ${compassWord(way.bearing_deg)}, from true north.`}</p>`;
}

/**
 * Put the panel into its place.
 * @param {Element} place emptied and filled
 * @param {{stands: () => object|null, gone: boolean, atOnce: boolean}} how stands: the position to go to, null while none is
 *   kept; gone: the tree was lifted from there; atOnce: begin without being asked
 * @returns {Promise<{close: () => void, redraw: () => void}>} redraw: after what is kept has changed
 */
export async function leadBack(place, { stands, gone, atOnce }) {
  let course = new WalkedCourse();
  let here = null;
  let hereMs = null;
  let trouble = null;
  let stopWatch = null;
  let letSleep = null;
  let spoken = { text: null, atMs: 0, near: null };
  const title = gone ? 'Back to where it stood' : 'Back to the tree';
  const part = (name) => place.querySelector(`[data-${name}]`);

  function drawIdle() {
    const tree = stands();
    render(place, html`<h2>${title}</h2>${tree
      ? html`<button type="button" class="button primary hill" data-back-start>${icon('walk')}Lead me there</button><div data-back-light></div>`
      : html`<p class="muted">There is no position to go to.</p>`}`);
    drawLight();
  }

  function drawLight() {
    const tree = stands();
    if (tree) render(part('back-light'), daylightPanel(Date.now(), tree.lat, tree.lon));
  }

  function tick() {
    if (document.visibilityState !== 'visible') return;
    if (stopWatch) drawLive();
    else drawLight();
  }

  function drawWalking() {
    render(place, html`<h2>${title}</h2><div data-back-live></div><p class="unseen" role="status" data-back-said></p>
      <div class="pick-row"><button type="button" class="button hill" data-back-stop>Stop</button></div>
      <div data-back-light></div><p class="muted row">${icon('info')}<span>${NO_DEVICE} Mind the ground, not the screen.</span></p>`);
    drawLive();
  }

  function drawLive() {
    const live = part('back-live');
    const tree = stands();
    if (!live || !tree) return;
    const now = Date.now();
    drawLight();
    if (!here) {
      render(live, html`<p class="strong">${trouble ?? 'Looking for your position …'}</p>`);
      return;
    }
    const way = wayTo(here, tree, course.courseDeg(now));
    const quiet = now - hereMs > QUIET_MS ? Math.round((now - hereMs) / 1000) : null;
    render(live, html`${way.is_near ? nearPanel(way) : farPanel(way)}
      <p class="muted">You ${showAccuracy(here.accuracy_m)}, the tree ${showAccuracy(tree.accuracy_m)}.${way.accuracy_known ? '' : ' What is not known is taken as 20 m.'}</p>
      ${quiet !== null && html`<p class="state ask" data-back-quiet>${icon('ask')}Your position is ${quiet} s old.</p>`}
      ${trouble && html`<p class="muted">${trouble}</p>`}`);
    speak(way, now);
  }

  /** Spoken are a change of near and far at once, all else only now and then. */
  function speak(way, now) {
    const text = way.is_near ? `You are within ${Math.ceil(way.within_m)} metres: look around.` : `${showDistance(way.distance_m)}, ${way.turn_word ?? compassWord(way.bearing_deg)}`;
    if (text === spoken.text || (spoken.near === way.is_near && now - spoken.atMs < SPEAK_MS)) return;
    spoken = { text, atMs: now, near: way.is_near };
    part('back-said').textContent = text;
  }

  function rest() {
    stopWatch?.();
    stopWatch = null;
    letSleep?.();
    letSleep = null;
  }

  async function start() {
    course = new WalkedCourse();
    here = null;
    trouble = null;
    spoken = { text: null, atMs: 0, near: null };
    drawWalking();
    stopWatch = watchFix(
      (best, latest) => {
        here = latest; // where one is now: the best of the last seconds lies behind a walker
        hereMs = Date.now();
        trouble = null;
        course.take(latest, hereMs);
        drawLive();
      },
      (said) => { trouble = sayHere(said.message); drawLive(); },
    );
    const sleep = await keepAwake();
    if (stopWatch) letSleep = sleep;
    else sleep();
  }

  function stop() {
    rest();
    drawIdle();
  }

  const ticking = setInterval(tick, TICK_MS);
  const failed = (fault) => notice(fault.message, { kind: 'trouble' });
  drawIdle();
  const stops = [
    on(place, 'click', '[data-back-start]', () => start().then(() => part('back-stop')?.focus({ preventScroll: true })).catch(failed)),
    on(place, 'click', '[data-back-stop]', stop),
  ];
  if (atOnce && stands()) await start();
  return {
    close() {
      clearInterval(ticking);
      rest();
      stops.forEach((end) => end());
    },
    redraw() {
      if (!stopWatch) drawIdle();
      else if (stands()) drawLive();
      else stop();
    },
  };
}
