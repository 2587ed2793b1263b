/** A temperature to be typed: a phone's number keys may have no minus, so a button beside it turns the sign. */

import { numberField } from './form.js';
import { html, on } from './html.js';

/** @param {object} field as for `numberField`, whole and unit left out */
export function degreeField(field) {
  return html`<div class="degrees">${numberField({ ...field, unit: '°C', whole: false })}
    <button type="button" class="button" data-below="${field.name}" aria-label="${field.label}: below zero or above">below 0</button></div>`;
}

/** Have the sign buttons under an element work. @returns {() => void} stops it */
export const turnSigns = (root) => on(root, 'click', '[data-below]', (ev, button) => {
  const input = button.closest('form').elements[button.dataset.below];
  const text = input.value.trim().replace('−', '-');
  input.value = text.startsWith('-') ? text.slice(1) : `-${text}`;
  input.dispatchEvent(new Event('input', { bubbles: true }));
  input.focus();
});
