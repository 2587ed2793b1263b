/** The part of House about the owner: whether a passphrase is set, signing in and out, changing it. */

import { setPassphrase, signIn, signOut } from '../hill/as_owner.js';
import { askHomeJson, HomeError } from '../store/home.js';
import { html, on, render } from '../ui/html.js';
import { icon } from '../ui/icons.js';
import { notice } from '../ui/notice.js';
import { here } from '../ui/words.js';

const WAIT_MS = 8000;

function draw(place, me) {
  if (me === null) {
    render(place, html`<h2>The owner</h2><p class="muted" role="status">Asking home …</p>`);
    return;
  }
  const { passphrase_set: isSet, signed_in: isIn } = me;
  const state = !isSet
    ? html`<span class="state ask">${icon('ask')}No passphrase is set</span>`
    : isIn ? html`<span class="state good">${icon('yes')}Signed in on this ${here()}</span>` : html`<span class="state good">${icon('key')}A passphrase is set</span>`;
  const text = isSet
    ? 'Letting phones in and out, and having a person forgotten, wants the passphrase.'
    : 'Until then every phone that may do everything can let others in and shut them out, also one that was lost.';
  render(place, html`<h2>The owner</h2><p>${state}</p><p>${text}</p>
    <div class="pick-row">${!isSet && html`<button type="button" class="button primary" data-set-passphrase>${icon('key')}Set a passphrase</button>`}
      ${isSet && !isIn && html`<button type="button" class="button" data-sign-in>${icon('key')}Sign in</button>`}
      ${isIn && html`<button type="button" class="button" data-sign-out>Sign out</button>`}
      ${isSet && html`<button type="button" class="button" data-set-passphrase>Change it</button>`}</div>`);
}

/**
 * Show the part.
 * @param {Element} place
 * @param {{isClosed: () => boolean, onChange: () => any}} screen onChange: what the owner may do now is another
 * @returns {{read: () => Promise<void>, close: () => void}} read: ask home again how it stands
 */
export function showOwner(place, { isClosed, onChange }) {
  let me = null;

  async function read() {
    try {
      me = await askHomeJson('/api/me', { waitMs: WAIT_MS });
    } catch (trouble) {
      if (!(trouble instanceof HomeError)) throw trouble;
      if (!isClosed() && me === null) render(place, html`<h2>The owner</h2><p class="muted">Home is not in reach: signing in can wait until it is.</p>`);
      return;
    }
    if (!isClosed()) draw(place, me);
  }

  async function act(what, said) {
    try {
      if (!(await what())) return;
      notice(said);
    } catch (trouble) {
      notice(trouble.message, { kind: 'trouble' });
    }
    await read();
    onChange();
  }

  draw(place, null);
  const stops = [
    on(place, 'click', '[data-set-passphrase]', () => act(() => setPassphrase(me.passphrase_set), 'The passphrase is set, and you are signed in.')),
    on(place, 'click', '[data-sign-in]', () => act(signIn, 'Signed in.')),
    on(place, 'click', '[data-sign-out]', () => act(signOut, 'Signed out.')),
  ];
  return { read, close: () => stops.forEach((stop) => stop()) };
}
