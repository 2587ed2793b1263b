/** The form of a leave on its page: a new one, one that renews another, or one that is changed. Its draft outlives a killed app. */

import { changedOnly } from '../core/changed.js';
import { renewalOf, rightsOf } from '../core/leave_terms.js';
import { readGround, todayAt } from '../hill/ground_leaves.js';
import { signedWords, withoutSignature } from '../hill/leave_lock.js';
import { keepPaper } from '../hill/paper_files.js';
import { dropDraft, getDraft, getPack, newId, recordsWhere, saveChanges, saveDraft } from '../store.js';
import { FormFault, readDraft, readForm, showFault } from '../ui/form.js';
import { html, on, render } from '../ui/html.js';
import { icon } from '../ui/icons.js';
import { faultOfLeave, formOfLeave, leaveFields, leaveOfForm, rightHint } from '../ui/leave_form.js';
import { notice } from '../ui/notice.js';
import { wireTermRows } from '../ui/term_rows.js';
import { here as thisDevice, showRange } from '../ui/words.js';

const NO_FORM = ['site', 'area', 'renews']; // what a leave that follows takes over without a field of its own

/** Under which name the draft of a leave's form is kept. */
export function leaveKey({ id, site = '', renews = null }) {
  if (id !== 'new') return `leave-${id}`;
  return renews ? `leave-new-${site}-${renews}` : `leave-new-${site}`;
}

/** Landholders to choose from: those of this site, also a removed one whom the leave still names, and all others. */
function givers(ground, one, chosen) {
  const own = new Map(one.holders.map(({ holder, role }) => [holder.id, { id: holder.id, name: holder.fields.name, role }]));
  const removed = ground.gone.get(chosen);
  if (removed) own.set(chosen, { id: chosen, name: `${removed.fields.name ?? 'no name'} (removed)`, role: null });
  const others = [...ground.landholders.values()].filter(({ id }) => !own.has(id)).map(({ id, fields }) => ({ id, name: fields.name, role: null }));
  others.sort((a, b) => String(a.name ?? '').localeCompare(String(b.name ?? '')));
  return { here: [...own.values()], elsewhere: others };
}

/** What somebody is to this ground, as fields of a leave; nothing where it is not known. */
function knownRole(one, holder) {
  const row = one.holders.find((each) => each.holder.id === holder);
  return withoutEmpty({ by_role: row?.role, by_right: row?.by_right });
}

const withoutEmpty = (fields) => Object.fromEntries(Object.entries(fields).filter(([, value]) => value !== null && value !== undefined));

/**
 * Open the form.
 * @param {Element} root @param {object} params of the screen
 * @param {{done: () => any}} work done: called when an existing leave's form is closed, saved or not
 * @returns {Promise<() => void>} close
 */
export async function openEdit(root, params, { done }) {
  const isNew = params.id === 'new';
  const key = leaveKey(params);
  const [seenKey, paperKey] = [`${key}-seen`, `${key}-paper`];
  const [ground, pack, kept] = await Promise.all([readGround(), getPack(), getDraft(key)]);
  const one = ground.sites.find(({ site, leaves }) => (isNew ? site.id === params.site : leaves.some(({ record }) => record.id === params.id)));
  const record = isNew ? null : one?.leaves.find((leave) => leave.record.id === params.id)?.record;
  const old = one?.leaves.find((leave) => leave.record.id === params.renews)?.record ?? null;
  if (!one || (params.renews && !old)) {
    render(root, html`<div class="page"><div class="page-head"><h1>Leave</h1></div><div class="empty">${icon('leave')}<p>${isNew && !params.renews ? 'Choose the site this leave is for first.' : `This leave is not on this ${thisDevice()}. It was removed, or has not come from home yet.`}</p><a class="button primary" href="#/ground">${icon('back')}To all sites</a></div></div>`);
    return () => {};
  }
  // The leave as the form was opened, so that nothing another phone wrote meanwhile is overruled unseen.
  const seen = isNew ? null : ((kept && (await getDraft(seenKey))) ?? record);
  if (seen && !kept) await saveDraft(seenKey, seen);
  const signings = isNew ? [] : await recordsWhere('signing', 'leave', params.id);
  const carried = old ? renewalOf(old.id, old.fields, todayAt(one.site)) : {};
  const first = isNew ? { starts_on: todayAt(one.site), ...formOfLeave({ ...knownRole(one, carried.landholder), ...withoutEmpty(carried) }) } : formOfLeave(record.fields);
  const species = [...(pack?.species ?? [])].sort((a, b) => a.name.localeCompare(b.name));
  const name = one.site.fields.name ?? 'this site';
  const title = old ? 'Renew the leave' : isNew ? 'A new leave' : 'Change the leave';

  render(root, html`<div class="page leave"><div class="page-head"><a class="back" href="#/${isNew && !old ? 'site' : 'leave'}/${isNew ? (old?.id ?? one.site.id) : record.id}">${icon('back')}${old || !isNew ? 'The leave' : name}</a>
      <h1>${title}</h1><p class="under">One landholder’s permission for ${name}, with its terms.</p></div>
    ${old && html`<p class="note-line">The terms of ${showRange(old.fields.starts_on, old.fields.ends_on, { noEnd: 'no end agreed' })} are carried over; that leave stays as it was. Nobody has said yes to this one yet: it is kept as asked until you note the answer, or have it signed.</p>`}
    ${signings.length > 0 && record.fields.form === 'signed' && html`<p class="caution">${icon('leave')}<span>${signedWords(signings)} If you change a term, that makes a new version which is not signed until it is signed again.</span></p>`}
    <form class="sheet" novalidate data-form>
      ${leaveFields(kept ?? first, { ...givers(ground, one, (kept ?? first).landholder), species, isNew })}
      <p class="hint">${isNew ? 'Papers, and an area of its own, come next, once it is saved.' : 'Its area and its papers are changed on its page.'}</p>
      <div class="actions stuck"><button class="button primary">Save the leave</button><button type="button" class="button quiet" data-cancel>Not now</button></div>
    </form></div>`);
  const form = root.querySelector('[data-form]');
  const keep = () => saveDraft(key, readDraft(form));

  async function dropDrafts() {
    await Promise.all([key, seenKey, paperKey].map(dropDraft));
  }

  function readChecked() {
    try {
      const values = readForm(form);
      const fault = faultOfLeave(values);
      if (fault) showFault(form, fault.field, fault.sentence);
      return fault ? null : values;
    } catch (fault) {
      if (fault instanceof FormFault) return null;
      throw fault;
    }
  }

  /** What has to be written: the landholder, what they are to this ground, the leave; nothing twice. */
  async function changesOf(values) {
    const { leave, landholder } = leaveOfForm(values);
    const changes = [];
    if (landholder) {
      leave.landholder = newId();
      changes.push({ rec: leave.landholder, type: 'landholder', set: changedOnly({}, landholder) });
    }
    const before = seen?.fields ?? {};
    const whole = isNew ? { ...Object.fromEntries(NO_FORM.filter((field) => field in carried).map((field) => [field, carried[field]])), ...leave, site: one.site.id } : leave;
    const set = await withoutSignature(signings, before, changedOnly(before, whole), one.site.fields);
    if (set === null) return null;
    const written = one.holders.some(({ holder, holding }) => holding && holder.id === leave.landholder);
    if (set.landholder && !written) {
      const role = { role: leave.by_role, by_right: leave.by_right };
      changes.push({ rec: newId(), type: 'holding', set: changedOnly({}, { site: one.site.id, landholder: leave.landholder, ...role }) });
    }
    if (Object.keys(set).length) changes.push({ rec: isNew ? newId() : params.id, type: 'leave', set, ...(seen ? { seen } : {}) });
    return changes;
  }

  /** The same records as they were before. */
  function wayBack(changes) {
    return changes.map(({ rec, type, set }) => (type === 'leave' && !isNew
      ? { rec, type, set: Object.fromEntries(Object.keys(set).map((field) => [field, seen.fields[field] ?? null])) }
      : { rec, type, set: { deleted: true } }));
  }

  async function submit(ev) {
    ev.preventDefault();
    const values = readChecked();
    if (!values) return;
    const changes = await changesOf(values);
    if (changes === null) return;
    const leave = changes.find(({ type }) => type === 'leave');
    try {
      if (changes.length) await saveChanges(changes);
      const paper = await getDraft(paperKey); // chosen in the form of an older app and not saved yet
      if (paper?.sha256) await keepPaper(paper, { leave: leave?.rec ?? params.id }, todayAt(one.site));
      await dropDrafts();
    } catch (trouble) {
      notice(`Not saved: ${trouble.message}`, { kind: 'trouble' });
      return;
    }
    if (changes.length) notice('Leave saved on this phone.', { undoWords: isNew ? 'Undo the leave' : 'Undo the change', undo: () => saveChanges(wayBack(changes)) });
    if (isNew) globalThis.location.hash = `#/leave/${leave.rec}`;
    else await done();
  }

  async function cancel() {
    await dropDrafts();
    if (!isNew) await done();
    else globalThis.location.hash = old ? `#/leave/${old.id}` : `#/site/${one.site.id}`;
  }

  const pick = (field, value) => form.querySelector(`input[name="${field}"][value='${JSON.stringify(value)}']`)?.click();

  /** What somebody is to this ground is known from before; it is offered, and can be set otherwise. */
  function offerRole(holder) {
    const known = knownRole(one, holder);
    const chosen = readDraft(form);
    if (known.by_role && chosen.by_role === null) pick('by_role', known.by_role);
    if (known.by_right && !chosen.by_right) form.elements.by_right.value = known.by_right;
  }

  /** As what and by what right somebody else gave it says nothing about the one who gives it now. */
  function forgetRole(holder) {
    const own = holder === first.landholder ? first : {};
    pick('by_role', own.by_role ?? null);
    pick('entitled', own.entitled ?? null);
    form.elements.by_right.value = own.by_right ?? '';
  }

  let giver = (kept ?? first).landholder ?? null;
  let given = (kept ?? first).form ?? null;

  const stops = [
    wireTermRows(form, keep),
    on(root, 'input', '[data-form]', keep),
    on(root, 'change', 'input[name="landholder"]', (ev, input) => {
      const holder = JSON.parse(input.value);
      root.querySelector('.new-holder').hidden = holder !== 'new';
      if (giver !== null && giver !== holder) forgetRole(holder);
      giver = holder;
      offerRole(holder);
      keep();
    }),
    on(root, 'change', 'input[name="form"]', (ev, input) => {
      const way = JSON.parse(input.value);
      if (given === 'asked' && way !== 'asked') form.elements.given_on.value = ''; // the day it was asked is not the day it was given
      given = way;
      keep();
    }),
    on(root, 'change', 'input[name="by_role"]', (ev, input) => {
      const role = JSON.parse(input.value);
      render(root.querySelector('[data-right-hint]'), rightHint(role));
      render(form.elements.by_right.list, html`${rightsOf(role).map((right) => html`<option value="${right}"></option>`)}`);
    }),
    on(root, 'submit', '[data-form]', submit),
    on(root, 'click', '[data-cancel]', cancel),
  ];
  return () => stops.forEach((stop) => stop());
}
