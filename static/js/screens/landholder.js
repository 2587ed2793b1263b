/** Landholder: one person or body, how to reach them, all their ground and the leaves they gave. New ones are written down in `landholder_new.js`. */

import { changedOnly } from '../core/changed.js';
import { putBack, readGround } from '../hill/ground_leaves.js';
import { dropDraft, getDraft, getPack, getRecord, onStoreChange, recordsWhere, saveChange, saveDraft } from '../store.js';
import { ask } from '../ui/dialog.js';
import { readDraft, readOrShow } from '../ui/form.js';
import { html, on, render } from '../ui/html.js';
import { icon } from '../ui/icons.js';
import { leaveEntry } from '../ui/leave_entry.js';
import { notice } from '../ui/notice.js';
import { reachButtons } from '../ui/reach.js';
import { holdingFields, landholderFields } from '../ui/site_forms.js';
import { count, here, showDate } from '../ui/words.js';
import { openNew } from './landholder_new.js';

/** The fields of a holding as its form shows them, and back: its note must not meet the person's own in one form. */
const formOfHolding = ({ role = null, by_right = null, note = null }) => ({ role, by_right, here_note: note });
const holdingOfForm = ({ role, by_right, here_note: note }) => ({ role, by_right, note });

function groundEntry({ one, row }) {
  const name = one.site.fields.name ?? 'unnamed site';
  const right = [row.role ?? 'role not known', row.by_right, row.holding ? null : 'gave a leave here'].filter(Boolean).join(' · ');
  return html`<li class="two-part"><a class="entry" href="#/site/${one.site.id}"><span class="entry-main"><span class="entry-title">${name}</span>
      <span class="entry-under">${right}</span>${row.holding?.fields.note && html`<span class="entry-under">${row.holding.fields.note}</span>`}</span></a>
    <button type="button" class="button" data-holding="${row.holding?.id ?? ''}" data-site="${one.site.id}" aria-label="Change what they are to ${name}">${icon('edit')}</button></li>`;
}

/**
 * Open the screen.
 * @param {Element} root
 * @param {{id: string, site?: string}} params id of a landholder or 'new'; site: open with what they are to that site
 * @returns {Promise<() => void>} close
 */
export async function open(root, params) {
  if (params.id === 'new') return openNew(root, params);
  const { id } = params;
  const key = `landholder-${id}`;
  let editing = (await getDraft(key)) ?? null; // {what: 'person'|'holding', rec, site, seen, values}: a form left open comes back
  let closed = false;
  let holder;
  let forgotten = null; // the day they were forgotten on
  let removed; // the record, where it was removed: it can be put back
  let grounds;
  let pack;

  async function read() {
    const [ground, record, kept, gone] = await Promise.all([readGround(), getRecord(id), getPack(), recordsWhere('forgetting', 'about', id)]);
    forgotten = gone[0]?.fields.forgotten_on ?? null;
    holder = record && !record.deleted ? record : null;
    removed = record?.type === 'landholder' && record.deleted ? record : null;
    pack = kept;
    grounds = ground.sites.map((one) => ({ one, rows: one.holders.filter((row) => row.holder.id === id) })).filter(({ rows }) => rows.length > 0);
  }

  const leaves = () => grounds.flatMap(({ one }) => one.leaves.filter(({ record }) => record.fields.landholder === id).map((leave) => ({ ...leave, site: one.site })));

  function formSheet() {
    const { what, rec, values } = editing;
    const site = grounds.find(({ one }) => one.site.id === editing.site)?.one.site.fields.name ?? 'this ground';
    return html`<form class="sheet" novalidate data-form><h2>${what === 'person' ? 'How to reach them' : `What they are to ${site}`}</h2>
      ${what === 'person' ? landholderFields(values) : holdingFields(values)}
      <div class="actions"><button class="button primary">Save</button><button type="button" class="button quiet" data-cancel>Not now</button>
        ${what === 'holding' && rec && html`<button type="button" class="button rust" data-off>${icon('bin')}Take them off this site</button>`}</div></form>`;
  }

  function draw() {
    if (removed) {
      const name = removed.fields.name ?? 'This landholder';
      render(root, html`<div class="page"><div class="page-head"><a class="back" href="#/ground">${icon('back')}Ground</a><h1>${name}</h1></div><div class="empty">${icon('landholder')}<p>${name} was removed from this log.</p><button type="button" class="button primary" data-put-back>${icon('undo')}Put ${name} back</button></div></div>`);
      return;
    }
    if (!holder) {
      render(root, html`<div class="page"><div class="page-head"><h1>Landholder</h1></div><div class="empty">${icon('landholder')}<p>This landholder is not on this ${here()}. They were removed, or have not come from home yet.</p><a class="button" href="#/ground">${icon('back')}To all sites</a></div></div>`);
      return;
    }
    const { fields } = holder;
    const given = leaves();
    const back = grounds.length === 1 ? grounds[0].one.site : null;
    const told = fields.phone || fields.email || fields.address;
    render(root, html`<div class="page landholder"><div class="page-head"><a class="back" href="#/${back ? `site/${back.id}` : 'ground'}">${icon('back')}${back?.fields.name ?? 'Ground'}</a>
        <h1>${fields.name ?? (forgotten ? 'A landholder' : 'No name')}</h1><p class="under">Landholder</p>
        ${forgotten && html`<p data-forgotten>${icon('info')} They were forgotten on ${showDate(forgotten)}: who they are is kept nowhere in this log.</p>`}</div>
      <div class="cols"><div>${editing && formSheet()}
        ${editing?.what !== 'person' && html`<section class="sheet"><div class="sheet-head"><h2>How to reach them</h2><button type="button" class="button" data-person>${icon('edit')}Change</button></div>
          ${told ? html`${reachButtons(fields)}${fields.address && html`<p class="address">${fields.address}</p>`}` : html`<p class="muted">${document.documentElement.dataset.may === 'record' ? 'Who they are and how to reach them is not told to a phone that may only record: ask whoever keeps the log.' : 'No telephone, no address yet. On the day May I? says “ask”, the number is wanted.'}</p>`}
          ${fields.note && html`<p class="note">${fields.note}</p>`}</section>`}
        <section class="sheet"><h2>Their ground</h2>${grounds.length === 0 ? html`<p class="muted">They are written down at no site. A site’s own page has “Landholders”.</p>` : html`<ul class="entries">${grounds.flatMap(({ one, rows }) => rows.map((row) => groundEntry({ one, row })))}</ul>`}</section>
      </div><div>
        <section class="sheet"><h2>Leaves they gave</h2>${given.length === 0 ? html`<p class="muted">None yet.</p>` : html`<ul class="entries">${given.map((leave) => leaveEntry(leave, leave.site.fields.name ?? 'unnamed site', pack))}</ul>`}</section>
        <div class="actions"><button type="button" class="button quiet" data-remove>${icon('bin')}Remove this landholder</button>
          <a class="button quiet" href="#/forget/${holder.id}">${icon('bin')}Forget them for good</a></div>
      </div></div></div>`);
  }

  async function save(change, back, words, undoWords) {
    try {
      const rec = await saveChange(change);
      notice(words, { undoWords, undo: () => saveChange({ rec, type: change.type, set: back }) });
      return true;
    } catch (trouble) {
      notice(`Not saved: ${trouble.message}`, { kind: 'trouble' });
      return false;
    }
  }

  async function closeForm() {
    editing = null;
    await dropDraft(key);
    await reread();
    globalThis.scrollTo(0, 0);
  }

  function openForm(next) {
    editing = next;
    draw();
    root.querySelector('[data-form]').scrollIntoView({ block: 'start' });
    root.querySelector('[data-form] input').focus({ preventScroll: true });
  }

  function openHolding(site, rec) {
    const row = grounds.find(({ one }) => one.site.id === site)?.rows.find(({ holding }) => (holding?.id ?? '') === (rec ?? ''));
    if (!row) return;
    const fields = row.holding?.fields ?? { role: row.role };
    openForm({ what: 'holding', rec: row.holding?.id ?? null, site, seen: row.holding, values: formOfHolding(fields) });
  }

  async function submit(ev, form) {
    ev.preventDefault();
    const values = readOrShow(form);
    if (values === null) return;
    const { what, rec, site, seen } = editing;
    const [type, record, wanted] = what === 'person' ? ['landholder', seen ?? holder, values] : ['holding', seen, holdingOfForm(values)];
    const fields = record?.fields ?? {};
    const set = changedOnly(fields, record ? wanted : { ...wanted, site, landholder: id });
    const back = record ? Object.fromEntries(Object.keys(set).map((name) => [name, fields[name] ?? null])) : { deleted: true };
    const change = { ...(record ? { rec: rec ?? id, seen: record } : {}), type, set };
    if (Object.keys(set).length && !(await save(change, back, 'Saved on this phone.', 'Undo the change'))) return;
    await closeForm();
  }

  async function takeOff() {
    const { rec, site } = editing;
    const stay = leaves().some((leave) => leave.site.id === site);
    const words = stay ? 'Taken off this site. They stay listed, since they gave a leave here.' : 'Taken off this site.';
    if (await save({ rec, type: 'holding', set: { deleted: true } }, { deleted: false }, words, 'Put them back')) await closeForm();
  }

  async function remove() {
    const given = leaves();
    const hangs = [given.length && count(given.length, 'leave', 'leaves'), grounds.length && count(grounds.length, 'site', 'sites')].filter(Boolean);
    if (hangs.length) {
      const answer = await ask({
        title: `Remove ${holder.fields.name ?? 'this landholder'}?`,
        text: `${hangs.join(' and ')} ${given.length + grounds.length === 1 ? 'names' : 'name'} them. ${given.length ? 'The leaves stay and still name them, as removed.' : 'The ground stays as it is.'}`,
        choices: [{ value: 'yes', label: 'Remove them all the same', kind: 'rust' }],
        no: 'Keep them',
      });
      if (answer === null) return;
    }
    const to = grounds.length ? `#/site/${grounds[0].one.site.id}` : '#/ground';
    if (await save({ rec: id, type: 'landholder', set: { deleted: true } }, { deleted: false }, 'The landholder is removed.', 'Undo the removal')) {
      await dropDraft(key);
      globalThis.location.hash = to;
    }
  }

  async function reread() {
    await read();
    if (!closed && !editing) draw();
  }

  await read();
  draw();
  if (holder && !editing && params.site) openHolding(params.site, grounds.find(({ one }) => one.site.id === params.site)?.rows[0].holding?.id);
  const stops = [
    on(root, 'click', '[data-person]', () => openForm({ what: 'person', rec: id, site: null, seen: holder, values: { ...holder.fields } })),
    on(root, 'click', '[data-holding]', (ev, button) => openHolding(button.dataset.site, button.dataset.holding)),
    on(root, 'click', '[data-cancel]', closeForm),
    on(root, 'click', '[data-off]', takeOff),
    on(root, 'click', '[data-put-back]', () => putBack(id).catch((trouble) => notice(`Not saved: ${trouble.message}`, { kind: 'trouble' }))),
    on(root, 'click', '[data-remove]', remove),
    on(root, 'input', '[data-form]', (ev, form) => saveDraft(key, (editing = { ...editing, values: readDraft(form) }))),
    on(root, 'submit', '[data-form]', submit),
    onStoreChange(reread),
  ];
  return () => {
    closed = true;
    for (const stop of stops) stop();
  };
}
