/** How to reach somebody in one tap: ring and write; it works with no signal as far as the telephone does. */

import { html } from './html.js';
import { icon } from './icons.js';

/** What a telephone dials: digits with a plus before them; null where there are none. @param {string|null|undefined} phone */
export function dialled(phone) {
  const plain = String(phone ?? '').replaceAll(/[^+\d]/g, '');
  return /\d/.test(plain) ? plain : null;
}

/** @param {{phone?: string|null, email?: string|null}} fields of a landholder, or the telephone of an authority */
export function reachButtons({ phone = null, email = null }) {
  const number = dialled(phone);
  return html`<span class="row">${number ? html`<a class="button hill" href="tel:${number}">${icon('phone')}${phone}</a>` : phone && html`<span>${phone}</span>`}
    ${email && html`<a class="button" href="mailto:${email}">${email}</a>`}</span>`;
}
