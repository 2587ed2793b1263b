/** A letter as it is read on the glass: large, plain, one column; what was left open is said, and a signature is drawn. */

import { BLANK } from '../core/leave_letter.js';
import { BOX, readStrokes, strokePath } from '../core/strokes.js';
import { html } from './html.js';

const OPEN = html`<span class="left-open">left open</span>`;
const OPEN_WITHIN = html`<span class="left-open">(left open)</span>`; // within a sentence; the printed letter says it alike
const list = (value) => (Array.isArray(value) ? value : []);

/** A text with its lines to write on. */
function words(text) {
  const parts = String(text ?? '').split(BLANK);
  return parts.map((part, i) => html`${i > 0 && OPEN_WITHIN}${part}`);
}

function block(one) {
  switch (one?.kind) {
    case 'facts':
      return html`<dl class="letter-facts">${list(one.rows).map((row) => html`<div><dt>${list(row)[0]}</dt><dd>${list(row)[1] === '' ? OPEN : words(list(row)[1])}</dd></div>`)}</dl>`;
    case 'heading':
      return html`<h3>${one.text}</h3>`;
    case 'terms':
      return html`<ol class="letter-terms">${list(one.items).map((item) => html`<li>${words(item)}</li>`)}</ol>`;
    default:
      return html`<p>${words(one?.text)}</p>`;
  }
}

/** The letter itself, below a heading of the page. @param {object} letter of core/leave_letter.js */
export function letterMarkup(letter) {
  return html`<h2>${letter?.title ?? 'Letter'}</h2>${list(letter?.blocks).map(block)}`;
}

/** The sketch of the ground. @param {object|null} outline of core/ground_outline.js @param {string} caption */
export function sketchMarkup(outline, caption) {
  if (!outline) return null;
  const { width, height, bar } = outline;
  const end = 40 + bar.width;
  const length = bar.length_m < 1000 ? `${bar.length_m} m` : `${bar.length_m / 1000} km`;
  return html`<figure class="ground-sketch"><svg viewBox="0 0 ${width} ${height + 90}" role="img" aria-label="Sketch of the ground: ${caption}">
      <path class="around" d="${outline.around}"/><path class="ground" d="${outline.ground}" fill-rule="evenodd"/>
      <path class="scale" d="M40 ${height + 20}v22H${end}v-22"/><text x="${end + 20}" y="${height + 44}">${length}</text>
      <path class="scale" d="M944 ${height + 60}v-48m-16 18 16-18 16 18"/><text x="880" y="${height + 44}">N</text></svg>
    <figcaption>${caption}</figcaption></figure>`;
}

/** A signature as it was drawn, or as it was typed. @param {*} strokes @param {string|null} name */
export function signatureMarkup(strokes, name) {
  const drawn = readStrokes(strokes);
  if (drawn.length === 0) return html`<p class="signature-typed"><span class="typed-name">${name ?? 'no name'}</span><span class="muted">typed as the signature, not drawn</span></p>`;
  return html`<svg class="signature" viewBox="0 0 ${BOX.width} ${BOX.height}" role="img" aria-label="Signature of ${name ?? 'a name not told'}">
    ${drawn.map((stroke) => html`<path d="${strokePath(stroke)}"/>`)}</svg>`;
}
