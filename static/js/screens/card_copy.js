/** A new kind of tree out of the card of another: its names, looked over by home. */

import { judgeCopy, keepKind, putAway } from '../hill/card_facts.js';
import { dropDraft, getDraft, getPack, saveDraft } from '../store.js';
import { HomeError } from '../store/home.js';
import { syncNow } from '../sync.js';
import { capital } from '../ui/card_words.js';
import { FormFault, readDraft, readForm, showFault, textField } from '../ui/form.js';
import { html, on, render } from '../ui/html.js';
import { icon } from '../ui/icons.js';
import { notice } from '../ui/notice.js';
import { speciesName } from '../ui/words.js';

const MOST_LETTERS = 80; // as field/core/card_copy.py has it

/** 'Yard birch' -> 'yard-birch': a short name to begin with. */
const shortOf = (name) => String(name ?? '').normalize('NFKD').toLowerCase().replaceAll(/[^a-z\s-]/g, '').trim().replaceAll(/[\s-]+/g, '-');

/**
 * Open the screen.
 * @param {Element} root
 * @param {{id: string}} params id: the kind that is copied
 */
export async function open(root, { id: from = 'default' }) {
  const key = `card-copy-${from}`;
  const name = speciesName(await getPack(), from);
  const values = (await getDraft(key)) ?? {};
  let isOwnShort = Boolean(values.kind) && values.kind !== shortOf(values.name);
  render(root, html`<div class="page"><div class="page-head"><a class="back" href="#/card/${from}">${icon('back')}${capital(name)}</a><h1>A new kind</h1><p class="under">It begins with all that the card of ${name} says. Then change what is different.</p></div>
    <form class="sheet" novalidate data-form>
      ${textField({ name: 'name', label: 'Name', value: values.name, required: true, maxLength: MOST_LETTERS, hint: 'As you call it: “dwarf birch”' })}
      ${textField({ name: 'latin', label: 'Botanical name', value: values.latin, required: true, maxLength: MOST_LETTERS, hint: 'It begins with its genus: “Betula nana”' })}
      ${textField({ name: 'kind', label: 'Short name', value: values.kind, required: true, maxLength: MOST_LETTERS, hint: 'For files and lists: letters a to z, with hyphens between words' })}
      <p class="muted">A copy is all yours: updates of the card it came from do not reach it.</p>
      <div class="actions"><button class="button primary hill">Save</button><a class="button quiet" href="#/card/${from}">Not now</a></div></form></div>`);

  async function submit(ev, form) {
    ev.preventDefault();
    const button = form.querySelector('.primary');
    button.disabled = true;
    try {
      const { fault, fields } = await judgeCopy(from, readForm(form));
      if (fault) return showFault(form, fault.field ?? 'name', [fault.message, fault.cure].filter(Boolean).join(' '));
      const rec = await keepKind(fields);
      await dropDraft(key);
      await syncNow();
      notice(`${capital(fields.name)} is saved.`, { undoWords: 'Undo the new kind', undo: () => putAway([rec]) });
      globalThis.location.hash = `#/card/${fields.kind}`;
      return null;
    } catch (fault) {
      if (fault instanceof FormFault) return null;
      const words = fault instanceof HomeError && fault.code === 'away' ? 'Home is needed for this, to look the names over. What you typed stays here.' : `Not saved: ${fault.message}`;
      return notice(words, { kind: 'trouble' });
    } finally {
      button.disabled = false;
    }
  }

  const stops = [
    on(root, 'input', '[data-form]', (ev, form) => {
      if (ev.target.name === 'kind') isOwnShort = form.elements.kind.value !== '';
      else if (!isOwnShort) form.elements.kind.value = shortOf(form.elements.name.value);
      return saveDraft(key, readDraft(form));
    }),
    on(root, 'submit', '[data-form]', submit),
  ];
  return () => stops.forEach((stop) => stop());
}
