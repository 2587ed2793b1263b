/** A position in every notation that applies there, to be read out or copied, with the digits its accuracy deserves. */

import { notations } from '../core/gridref.js';
import { html } from './html.js';
import { icon } from './icons.js';
import { notice } from './notice.js';

/** Name of a notation in core/gridref.js -> what people call it. */
export const NOTATION_WORDS = {
  decimal: 'Degrees',
  dms: 'Degrees, minutes, seconds',
  utm: 'UTM',
  mgrs: 'MGRS',
  gb_grid: 'British grid',
  irish_grid: 'Irish grid',
};
export const NO_DEVICE = 'This is no navigation or rescue device.';

/**
 * The notation to show first, of those that apply at a place.
 * @param {Object<string, string|null>} written what `notations` gave
 * @param {string|null} preferred
 */
export function firstNotation(written, preferred) {
  return preferred && written[preferred] ? preferred : 'decimal';
}

function copyButton(text, name) {
  return html`<button type="button" class="button" data-copy="${text}" aria-label="Copy it as ${name}">Copy</button>`;
}

/**
 * The sheet's inside: the preferred notation large, the others below, and which one the person wants first.
 * @param {{lat: number, lon: number, accuracy_m: number|null}} position
 * @param {string|null} preferred
 */
export function notationRows(position, preferred) {
  const written = notations(position.lat, position.lon, position.accuracy_m ?? null);
  const first = firstNotation(written, preferred);
  const others = Object.keys(NOTATION_WORDS).filter((name) => name !== first && written[name]);
  return html`<div class="notation first" data-notation="${first}"><p class="notation-name">${NOTATION_WORDS[first]}</p>
      <p class="notation-text">${written[first]}</p>${copyButton(written[first], NOTATION_WORDS[first])}</div>
    ${preferred && first !== preferred && html`<p class="muted">${NOTATION_WORDS[preferred]} does not apply there.</p>`}
    <details class="fold"><summary>In other notations</summary>
      ${others.map((name) => html`<div class="notation" data-notation="${name}"><p class="notation-name">${NOTATION_WORDS[name]}</p>
        <p class="notation-text">${written[name]}</p>${copyButton(written[name], NOTATION_WORDS[name])}</div>`)}
      <div class="field"><label for="notation-first">Show first</label><select id="notation-first" name="notation_first">
        ${Object.entries(NOTATION_WORDS).map(([name, words]) => html`<option value="${name}" ${name === (preferred ?? 'decimal') ? html`selected` : ''}>${words}</option>`)}
      </select></div></details>
    <p class="muted row">${icon('info')}<span>${NO_DEVICE}</span></p>`;
}

/** Copy what a copy button is for, and say so. */
export async function copyFrom(button) {
  const text = button.dataset.copy;
  try {
    await navigator.clipboard.writeText(text);
    notice(`Copied: ${text}`, { kind: 'plain' });
  } catch {
    notice('This phone does not let it be copied. Hold your finger on the text, and copy it so.', { kind: 'trouble' });
  }
}
