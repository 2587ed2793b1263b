/** Consent: another authority's say on a site, with its days, whom to ask, and the papers that prove it. */

import { changedOnly } from '../core/changed.js';
import { consentState } from '../core/leave_state.js';
import { todayAt } from '../hill/ground_leaves.js';
import { openPapersPart } from '../hill/papers_part.js';
import { dropDraft, getDraft, getRecord, onStoreChange, saveChange, saveDraft } from '../store.js';
import { FormFault, readDraft, readForm, showFault } from '../ui/form.js';
import { html, on, render } from '../ui/html.js';
import { icon } from '../ui/icons.js';
import { notice } from '../ui/notice.js';
import { reachButtons } from '../ui/reach.js';
import { consentFields, faultOfConsent } from '../ui/site_forms.js';
import { stateMark } from '../ui/state.js';
import { NOT_KNOWN, consentName, here, showDate } from '../ui/words.js';

const capital = (words) => words.charAt(0).toUpperCase() + words.slice(1);
const NO_PAPER = 'No paper is kept with it. Photograph the licence or letter, or choose its PDF, so that it can be shown on the ground.';

/**
 * Open the screen.
 * @param {Element} root
 * @param {{id: string, site?: string, kind?: string}} params id of a consent or 'new'; site, kind: what a new one is for
 * @returns {Promise<() => void>} close
 */
export async function open(root, params) {
  const isNew = params.id === 'new';
  const key = isNew ? `consent-new-${params.site ?? ''}` : `consent-${params.id}`;
  let editing = (await getDraft(key)) ?? null; // {seen, values}: a form left open comes back as it was
  let consent = null;
  let site = null;
  let papers = null;
  let closed = false;

  async function read() {
    const record = isNew ? null : await getRecord(params.id);
    consent = record && !record.deleted ? record : null;
    const place = isNew ? params.site : consent?.fields.site;
    const found = place ? await getRecord(place) : null;
    site = found && !found.deleted ? found : null;
  }

  const back = () => html`<a class="back" href="#/site/${site.id}">${icon('back')}${site.fields.name ?? 'Site'}</a>`;

  function drawForm() {
    const values = editing?.values ?? (isNew ? { kind: params.kind ?? null } : consent.fields);
    render(root, html`<div class="page"><div class="page-head">${back()}<h1>${isNew ? 'Another consent' : 'Change the consent'}</h1>
        <p class="under">What an authority says about ${site.fields.name ?? 'this site'}, beside the landholder’s leave.</p></div>
      <form class="sheet" novalidate data-form>${consentFields(values)}
        ${isNew && html`<p class="hint">Its papers come next, once it is saved.</p>`}
        <div class="actions stuck"><button class="button primary">Save the consent</button><button type="button" class="button quiet" data-cancel>Not now</button></div></form></div>`);
  }

  async function drawPage() {
    const { fields } = consent;
    const state = consentState(fields, todayAt(site));
    const fact = (name, value) => html`<dt>${name}</dt><dd>${value ?? NOT_KNOWN}</dd>`;
    render(root, html`<div class="page consent"><div class="page-head">${back()}<h1>${capital(consentName(fields))}</h1><p>${stateMark(state)}</p></div>
      <div class="cols"><div><section class="sheet"><h2>How it stands</h2>
        <dl class="facts">${fact('Reference', fields.reference)}
          ${fact('Held from', fields.starts_on ? showDate(fields.starts_on) : 'no first day noted')}
          ${fact('Held until', fields.until ? showDate(fields.until) : 'no end noted')}
          ${fact('Who gives it', fields.authority)}</dl>
        ${fields.phone && reachButtons({ phone: fields.phone })}
        ${fields.note && html`<p class="note">${fields.note}</p>`}</section>
        <div class="actions"><button type="button" class="button primary" data-change>${icon('edit')}Change</button>
          <button type="button" class="button quiet" data-remove>${icon('bin')}Remove</button></div></div>
      <div><div data-papers></div>
        <p class="caution">${icon('warn')}<span>The authority’s own word stands above what is written here.</span></p></div></div></div>`);
    papers = await openPapersPart(root.querySelector('[data-papers]'), { of: { consent: consent.id }, today: () => todayAt(site), empty: () => NO_PAPER });
  }

  async function draw() {
    papers?.close();
    papers = null;
    if (!site || (!isNew && !consent)) {
      render(root, html`<div class="page"><div class="page-head"><h1>Consent</h1></div><div class="empty">${icon('info')}<p>${isNew ? 'Choose the site it is about first.' : `This consent is not on this ${here()}. It was removed, or has not come from home yet.`}</p><a class="button primary" href="#/ground">${icon('back')}To all sites</a></div></div>`);
    } else if (isNew || editing) {
      drawForm();
    } else {
      await drawPage();
    }
  }

  async function save(change, undoSet, words, undoWords) {
    try {
      const rec = await saveChange(change);
      notice(words, { undoWords, undo: () => saveChange({ rec, type: 'consent', set: undoSet }) });
      return rec;
    } catch (trouble) {
      notice(`Not saved: ${trouble.message}`, { kind: 'trouble' });
      return null;
    }
  }

  function readChecked(form) {
    try {
      const values = readForm(form);
      const fault = faultOfConsent(values);
      if (fault) showFault(form, fault.field, fault.sentence);
      return fault ? null : values;
    } catch (fault) {
      if (fault instanceof FormFault) return null;
      throw fault;
    }
  }

  async function submit(ev, form) {
    ev.preventDefault();
    const values = readChecked(form);
    if (!values) return;
    const seen = isNew ? null : (editing?.seen ?? consent);
    const before = seen?.fields ?? {};
    const set = changedOnly(before, isNew ? { ...values, site: site.id } : values);
    const undoSet = isNew ? { deleted: true } : Object.fromEntries(Object.keys(set).map((name) => [name, before[name] ?? null]));
    const change = { ...(seen ? { rec: seen.id, seen } : {}), type: 'consent', set };
    const rec = Object.keys(set).length ? await save(change, undoSet, 'The consent is saved on this phone.', isNew ? 'Undo the entry' : 'Undo the change') : params.id;
    if (rec === null) return;
    await dropDraft(key);
    if (isNew) globalThis.location.hash = `#/consent/${rec}`;
    else await closeForm();
  }

  async function closeForm() {
    editing = null;
    await dropDraft(key);
    if (isNew) globalThis.location.hash = site ? `#/site/${site.id}` : '#/ground';
    else await reread();
  }

  async function reread() {
    await read();
    if (!closed && !isNew && !editing) await draw();
  }

  await read();
  await draw();
  const stops = [
    on(root, 'click', '[data-change]', async () => {
      editing = { seen: consent, values: { ...consent.fields } };
      await draw();
      root.querySelector('h1').scrollIntoView();
    }),
    on(root, 'click', '[data-cancel]', closeForm),
    on(root, 'click', '[data-remove]', async () => {
      if (await save({ rec: consent.id, type: 'consent', set: { deleted: true } }, { deleted: false }, 'The consent is removed.', 'Undo the removal')) globalThis.location.hash = `#/site/${site.id}`;
    }),
    on(root, 'input', '[data-form]', (ev, form) => saveDraft(key, (editing = { seen: editing?.seen ?? consent, values: readDraft(form) }))),
    on(root, 'change', '[data-form] input[name="kind"]', (ev, input) => { root.querySelector('.other-name').hidden = JSON.parse(input.value) !== 'other'; }),
    on(root, 'submit', '[data-form]', submit),
    onStoreChange(reread),
  ];
  return () => {
    closed = true;
    papers?.close();
    for (const stop of stops) stop();
  };
}
