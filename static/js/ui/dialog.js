/** A question that must be answered before going on. For anything that can be undone, use a notice with Undo instead. */

import { html, render } from './html.js';
import { FormFault, readForm } from './form.js';

/**
 * Ask a question in a dialog.
 *
 *   await ask({ title: 'Take the leave back?', text: '...', choices: [{ value: 'yes', label: 'Withdraw it', kind: 'rust' }] })
 *   await ask({ title: 'A note', fields: noteField({...}), yes: 'Save' })
 *
 * @param {{title: string, text?: any, fields?: any, yes?: string, no?: string,
 *   choices?: {value: any, label: string, kind?: string}[]}} question text and fields: plain text or html``;
 *   choices: the buttons beside "no"; without them there is one, named `yes`
 * @returns {Promise<any>} the value chosen; with fields what readForm gives; null when it was closed without choosing
 */
export function ask({ title, text = null, fields = null, yes = 'Save', no = 'Not now', choices = null }) {
  const buttons = choices ?? [{ value: true, label: yes, kind: 'primary' }];
  const box = document.createElement('dialog');
  box.className = 'dialog';
  box.setAttribute('aria-labelledby', 'dialog-title');
  document.body.append(box);
  render(
    box,
    html`<form method="dialog" novalidate>
      <h2 id="dialog-title">${title}</h2>
      ${text && html`<div class="dialog-text">${text}</div>`}
      ${fields}
      <div class="actions">
        ${buttons.map((choice, i) => html`<button type="submit" class="button ${choice.kind ?? ''}" data-choice="${i}">${choice.label}</button>`)}
        <button type="button" class="button quiet" data-no>${no}</button>
      </div>
    </form>`,
  );
  return new Promise((resolve) => {
    const finish = (answer) => {
      box.close();
      box.remove();
      resolve(answer);
    };
    box.addEventListener('cancel', (ev) => {
      ev.preventDefault();
      finish(null);
    });
    box.querySelector('[data-no]').addEventListener('click', () => finish(null));
    box.querySelector('form').addEventListener('submit', (ev) => {
      ev.preventDefault();
      const choice = buttons[Number(ev.submitter?.dataset.choice ?? 0)];
      if (!fields) return finish(choice.value);
      try {
        return finish(readForm(ev.target));
      } catch (trouble) {
        if (trouble instanceof FormFault) return undefined; // its sentence stands at the field
        throw trouble;
      }
    });
    box.showModal();
  });
}
