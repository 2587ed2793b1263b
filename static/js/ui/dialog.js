/** A question that must be answered before going on. For anything that can be undone, use a notice with Undo instead. */

import { holdBack } from './back_step.js';
import { html, render } from './html.js';
import { FormFault, readForm } from './form.js';
import { icon } from './icons.js';

/**
 * Ask a question in a dialog. The browser's way back closes it like "no".
 *
 *   await ask({ title: 'Take the leave back?', text: '...', choices: [{ value: 'yes', label: 'Withdraw it', kind: 'rust' }] })
 *   await ask({ title: 'A note', fields: noteField({...}), yes: 'Save' })
 *
 * @param {{title: string, text?: any, fields?: any, yes?: string, no?: string,
 *   choices?: {value: any, label: string, kind?: string}[], send?: (values: object) => Promise<string|null>, busy?: string}} question
 *   text and fields: plain text or html``; choices: the buttons beside "no"; without them there is one, named `yes`;
 *   send: what is done with the fields while the dialog stays open, null when it is done, else the sentence why it is not, which
 *   is then shown there beside what was typed; busy: what is said while it is being done
 * @returns {Promise<any>} the value chosen; with fields what readForm gives; null when it was closed without choosing
 */
export function ask({ title, text = null, fields = null, yes = 'Save', no = 'Not now', choices = null, send = null, busy = 'One moment …' }) {
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
      ${send && html`<div data-said></div>`}
      <div class="actions">
        ${buttons.map((choice, i) => html`<button type="submit" class="button ${choice.kind ?? ''}" data-choice="${i}">${choice.label}</button>`)}
        <button type="button" class="button quiet" data-no>${no}</button>
      </div>
    </form>`,
  );
  return new Promise((resolve, reject) => {
    let release = null;
    const away = () => {
      box.close();
      box.remove();
      return release();
    };
    const finish = (answer) => away().then(() => resolve(answer));
    let isSending = false;

    /** The dialog stays until it is known what came of it: what was typed is not lost to a slow answer or a wrong word. */
    async function sendOpen(values) {
      if (isSending) return;
      isSending = true; // meanwhile it cannot be closed either: nobody would learn what came of it
      const said = box.querySelector('[data-said]');
      render(said, html`<p role="status">${busy}</p>`);
      try {
        const why = await send(values);
        if (why === null) finish(values);
        else render(said, html`<p class="caution" role="alert">${icon('warn')}<span>${why}</span></p>`);
      } catch (fault) {
        away().then(() => reject(fault));
      } finally {
        isSending = false;
      }
    }

    box.addEventListener('cancel', (ev) => {
      ev.preventDefault();
      if (!isSending) finish(null);
    });
    box.querySelector('[data-no]').addEventListener('click', () => isSending || finish(null));
    box.querySelector('form').addEventListener('submit', (ev) => {
      ev.preventDefault();
      const choice = buttons[Number(ev.submitter?.dataset.choice ?? 0)];
      if (!fields) return finish(choice.value);
      let values;
      try {
        values = readForm(ev.target);
      } catch (trouble) {
        if (trouble instanceof FormFault) return undefined; // its sentence stands at the field
        throw trouble;
      }
      return send ? sendOpen(values) : finish(values);
    });
    box.showModal();
    release = holdBack(() => (isSending ? false : void finish(null)));
  });
}
