/** A landholder for a site: someone known from other ground, or someone new; with what they are to this ground. */

import { changedOnly } from '../core/changed.js';
import { readGround } from '../hill/ground_leaves.js';
import { dropDraft, getDraft, newId, saveChanges, saveDraft } from '../store.js';
import { chips, readDraft, readOrShow } from '../ui/form.js';
import { html, on, render } from '../ui/html.js';
import { icon } from '../ui/icons.js';
import { notice } from '../ui/notice.js';
import { holdingFields, landholderFields } from '../ui/site_forms.js';

const SOMEONE_NEW = 'new';

/**
 * Open the form.
 * @param {Element} root @param {{site?: string}} params the site they are a landholder of
 * @returns {Promise<() => void>} close
 */
export async function openNew(root, { site }) {
  const key = `landholder-new-${site ?? ''}`;
  const [ground, draft] = await Promise.all([readGround(), getDraft(key)]);
  const one = ground.sites.find((each) => each.site.id === site);
  if (!one) {
    render(root, html`<div class="page"><div class="page-head"><h1>Landholder</h1></div><div class="empty">${icon('landholder')}<p>Choose the site they hold first.</p><a class="button primary" href="#/ground">${icon('back')}To all sites</a></div></div>`);
    return () => {};
  }
  const name = one.site.fields.name ?? 'this site';
  const written = new Set(one.holders.filter(({ holding }) => holding).map(({ holder }) => holder.id));
  const others = [...ground.landholders.values()].filter(({ id }) => !written.has(id)).sort((a, b) => String(a.fields.name ?? '').localeCompare(String(b.fields.name ?? '')));
  const values = draft ?? {};
  let kept = values;
  const who = values.who ?? (others.length === 0 ? SOMEONE_NEW : null);
  const options = [...others.map(({ id, fields }) => ({ value: id, label: fields.name ?? 'no name' })), { value: SOMEONE_NEW, label: 'someone new', icon: 'plus' }];

  /** Fields that are hidden are not asked for: their controls rest. */
  function showPerson(chosen) {
    const part = root.querySelector('[data-person]');
    part.hidden = chosen !== SOMEONE_NEW;
    for (const control of part.querySelectorAll('input, textarea')) control.disabled = part.hidden;
  }

  render(root, html`<div class="page landholder"><div class="page-head"><a class="back" href="#/site/${site}">${icon('back')}${name}</a>
      <h1>A landholder of ${name}</h1><p class="under">Owner, occupier or agent: whoever has a say about this ground.</p></div>
    <form class="sheet" novalidate data-form>
      ${chips({ name: 'who', label: 'Who', required: true, value: who, options })}
      <div class="stack" data-person>${landholderFields(values)}</div>
      <h2>What they are to this ground</h2>
      ${holdingFields(values)}
      <div class="actions stuck"><button class="button primary">Save the landholder</button><a class="button quiet" href="#/site/${site}" data-cancel>Not now</a></div></form></div>`);
  showPerson(who);

  async function submit(ev, form) {
    ev.preventDefault();
    const read = readOrShow(form);
    if (read === null) return;
    const { who: chosen, role, by_right: right, here_note: note, ...contact } = read;
    const landholder = chosen === SOMEONE_NEW ? newId() : chosen;
    const changes = [
      ...(chosen === SOMEONE_NEW ? [{ rec: landholder, type: 'landholder', set: changedOnly({}, contact) }] : []),
      { rec: newId(), type: 'holding', set: changedOnly({}, { site, landholder, role, by_right: right, note }) },
    ];
    try {
      await saveChanges(changes);
      await dropDraft(key);
    } catch (trouble) {
      notice(`Not saved: ${trouble.message}`, { kind: 'trouble' });
      return;
    }
    const back = changes.map(({ rec, type }) => ({ rec, type, set: { deleted: true } }));
    notice('The landholder is saved on this phone.', { undoWords: 'Undo the entry', undo: () => saveChanges(back) });
    globalThis.location.hash = `#/site/${site}`;
  }

  const stops = [
    on(root, 'input', '[data-form]', (ev, form) => {
      kept = { ...kept, ...readDraft(form) }; // what rests now may be wanted again
      return saveDraft(key, kept);
    }),
    on(root, 'change', 'input[name="who"]', (ev, input) => showPerson(JSON.parse(input.value))),
    on(root, 'submit', '[data-form]', submit),
    on(root, 'click', '[data-cancel]', () => dropDraft(key)),
  ];
  return () => stops.forEach((stop) => stop());
}
