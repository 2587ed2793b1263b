/** Short notices above the bottom bar: what was just done, with a way back, or what went wrong and how to mend it. */

import { html, render } from './html.js';
import { icon } from './icons.js';

const SHOWN_MS = 10_000; // own rule: ten seconds to take something back (vectors: WCAG 2.5.2)
const MOST_AT_ONCE = 3;

/**
 * Show a notice. A trouble stays until it is closed; anything else goes by itself after ten seconds.
 * @param {string} text one plain sentence
 * @param {{undo?: () => any, act?: {label: string, run: () => any}, kind?: 'done'|'plain'|'trouble'}} [options] undo: called
 *   once when Undo is tapped; act: one more button, which leaves the notice where it is
 * @returns {() => void} takes the notice away
 */
export function notice(text, { undo = null, act = null, kind = 'done' } = {}) {
  const place = document.getElementById('notices');
  const box = document.createElement('div');
  box.className = `notice ${kind}`;
  box.setAttribute('role', kind === 'trouble' ? 'alert' : 'status');
  place.append(box);
  render(
    box,
    html`${icon(kind === 'trouble' ? 'warn' : 'done')}<p>${text}</p>
      ${undo && html`<button type="button" class="button undo" data-undo>${icon('undo')}Undo</button>`}
      ${act && html`<button type="button" class="button undo" data-notice-act>${act.label}</button>`}
      <button type="button" class="close" data-close aria-label="Close this notice">${icon('close')}</button>`,
  );
  let timer = kind === 'trouble' ? null : setTimeout(dismiss, SHOWN_MS);

  function dismiss() {
    clearTimeout(timer);
    box.remove();
  }
  // Someone reading or reaching for Undo is not hurried.
  for (const type of ['pointerenter', 'focusin']) box.addEventListener(type, () => clearTimeout(timer));
  for (const type of ['pointerleave', 'focusout']) {
    box.addEventListener(type, () => {
      clearTimeout(timer);
      if (kind !== 'trouble') timer = setTimeout(dismiss, SHOWN_MS);
    });
  }
  box.querySelector('[data-close]').addEventListener('click', dismiss);
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
  while (place.children.length > MOST_AT_ONCE) place.firstElementChild.remove();
  return dismiss;
}
