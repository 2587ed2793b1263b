/** A position as a drawing and in words: rings of 5, 20 and 100 m, and in them the circle the receiver vouches for. */

import { fixTroubleCode } from '../core/fix_trouble.js';
import { html, render } from './html.js';
import { icon } from './icons.js';
import { sayHere } from './words.js';

const OUTER_M = 200; // the edge of the drawing
const OUTER_R = 90; // and its radius in the drawing's own units
const RINGS_M = [5, 20, 100];
const LABELLED_M = 20; // the inmost ring has no room for words
const GOOD_M = 10; // common practice: good enough to find a tree again
const FAIR_M = 30;
const COARSE_M = 100; // May I? asks for a better one beyond this

const WITHOUT = {
  denied: { word: 'not allowed', kind: 'bad', icon: 'no', head: 'Position is switched off for Fellside' },
  none: { word: 'not possible here', kind: 'bad', icon: 'no', head: 'No position can be had in this window' },
  searching: { word: 'still searching', kind: 'quiet', icon: 'fix', head: 'Still searching for your position' },
};

/** Metres to a radius in the drawing: by logarithm, so that 3 m and 80 m can both be seen. */
function radius(metres) {
  const m = Math.min(OUTER_M, Math.max(1, metres));
  return (OUTER_R * Math.log(m + 1)) / Math.log(OUTER_M + 1);
}

/** One or two figures, as the accuracy deserves: 3.4 -> '3', 147 -> '150'. */
function plainMetres(m) {
  return m < 100 ? String(Math.max(1, Math.round(m))) : String(Math.round(m / 10) * 10);
}

/**
 * How good a position is, in a word.
 * @param {object|null} fix what device.js gives
 * @param {object|string|null} [trouble] why there is none
 * @returns {{word: string, kind: string, icon: string}}
 */
export function fixWord(fix, trouble = null) {
  if (!fix) return WITHOUT[fixTroubleCode(trouble)];
  const m = fix.accuracy_m;
  if (m === null || m === undefined) return { word: 'accuracy not known', kind: 'ask', icon: 'ask' };
  if (m <= GOOD_M) return { word: 'good', kind: 'good', icon: 'yes' };
  if (m <= FAIR_M) return { word: 'fair', kind: 'ask', icon: 'ask' };
  return { word: m > COARSE_M ? 'too coarse' : 'coarse', kind: 'bad', icon: 'no' };
}

function drawing(fix) {
  const circle = fix && fix.accuracy_m !== null && fix.accuracy_m !== undefined ? radius(fix.accuracy_m) : null;
  return html`<svg class="position-drawing" viewBox="0 0 200 200" aria-hidden="true" focusable="false">
    ${RINGS_M.map(
      (m) => html`<circle class="ring" cx="100" cy="100" r="${radius(m).toFixed(1)}"/>
        ${m >= LABELLED_M && html`<text class="ring-label" x="100" y="${(100 - radius(m) - 3).toFixed(1)}" text-anchor="middle">${m} m</text>`}`,
    )}
    ${circle === null ? html`<circle class="searching" cx="100" cy="100" r="${OUTER_R - 6}"/>` : html`<circle class="vouched" cx="100" cy="100" r="${circle.toFixed(1)}"/>`}
    <path class="cross" d="M100 88v24M88 100h24"/>
  </svg>`;
}

/**
 * The whole panel for one fix.
 * @param {object|null} fix
 * @param {{code: string, message: string}|string|null} trouble from the receiver; its sentence is shown as it is
 * @returns {import('./html.js').Safe}
 */
export function positionPanel(fix, trouble = null) {
  const state = fixWord(fix, trouble);
  const said = trouble?.message ?? trouble;
  const known = fix && fix.accuracy_m !== null && fix.accuracy_m !== undefined;
  return html`<div class="position" data-state="${state.word}">
    ${drawing(fix)}
    <div class="position-words">
      <p class="position-number">${known ? html`<span class="big-number">± ${plainMetres(fix.accuracy_m)}<span class="unit"> m</span></span>` : html`<span class="strong">${fix ? 'Position, accuracy not known' : state.head}</span>`}</p>
      <p><span class="state ${state.kind}">${icon(state.icon)}${state.word}</span></p>
      ${known && fix.accuracy_m > COARSE_M && html`<p>Too coarse to find a tree again or to tell a boundary. Stand under open sky and wait for a better one.</p>`}
      ${!fix && html`<p class="muted">${said ? sayHere(said) : 'You can go on and save without waiting.'}</p>`}
    </div>
  </div>`;
}

/**
 * Keep a panel up to date in its place; the screen's own form beside it is never drawn again for it.
 * @param {Element} place
 * @returns {{show: (fix: object|null, trouble?: object|string|null) => void}}
 */
export function livePosition(place) {
  let spoken = null;
  const said = document.createElement('p');
  said.className = 'unseen';
  said.setAttribute('role', 'status');
  const panel = document.createElement('div');
  place.replaceChildren(panel, said);
  return {
    show(fix, trouble = null) {
      render(panel, positionPanel(fix, trouble));
      // Only a change of the word is spoken: a number read out every second would drown everything else.
      const { word, head } = fixWord(fix, trouble);
      if (word !== spoken) {
        spoken = word;
        said.textContent = fix ? `Position ${word}` : head;
      }
    },
  };
}
