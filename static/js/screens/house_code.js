/** The code by which one more phone is paired, as House shows it: until it is used, or too old. */

import { html } from '../ui/html.js';
import { icon } from '../ui/icons.js';
import { showInstant } from '../ui/words.js';

/** Why another phone cannot use an address of home; null when it can. */
function onlyHere(url) {
  const { hostname, protocol } = new URL(url);
  if (['localhost', '127.0.0.1', '[::1]'].includes(hostname)) {
    return 'This address works on this machine only. Another phone needs an https address of this server: open Fellside here by that one, then make the code.';
  }
  if (protocol !== 'https:') return 'This address is not https. A phone can open it, but can neither keep the app nor find its place by it. Give this server an https address.';
  return null;
}

/**
 * @param {object} code of /api/pair-code, with `used_by`: the name of the phone that used it, and `is_old`
 * @returns {import('../ui/html.js').Safe}
 */
export function codeShown(code) {
  const another = html`<button type="button" class="button" data-code="${code.role}">${icon('key')}Make another code</button>`;
  if (code.used_by) return html`<div class="stack" role="status"><p><span class="state good">${icon('yes')}Used by “${code.used_by}” just now</span></p><p>The code is good no longer.</p>${another}</div>`;
  if (code.is_old) return html`<div class="stack" role="status"><p><span class="state quiet">${icon('clock')}The code has grown too old</span></p><p>Nobody used it.</p>${another}</div>`;
  return html`<div class="stack" role="status"><p>On the new phone, point its camera at this, or open the address and type the code under Pair:</p>
    ${code.qr && html`<img class="qr" src="data:image/svg+xml;base64,${btoa(code.qr)}" alt="The address to pair by, as a QR code for the new phone’s camera">`}
    <p class="pair-code">${code.code}</p><p class="address">${code.url}</p>
    <p>${code.role === 'record' ? html`<strong>That phone may record:</strong> it sees sites, where their trees stand, and its own work, and no landholder’s contact data.` : html`<strong>That phone may do everything.</strong>`}</p>
    <p class="muted">Good for one phone, until ${showInstant(code.good_until)}.</p>
    ${onlyHere(code.url) && html`<p class="caution">${icon('info')}<span>${onlyHere(code.url)}</span></p>`}</div>`;
}
