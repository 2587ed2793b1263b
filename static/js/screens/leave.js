/** Leave: one landholder's permission for a site; read it, write it down, change it, note that it was withdrawn. */

import { changedOnly } from '../core/changed.js';
import { showCm } from '../core/lengths.js';
import { readPhotoFile } from '../device.js';
import { viewPaper } from '../hill/paper_view.js';
import { readGround, todayAt } from '../hill/ground_leaves.js';
import { dropDraft, getDraft, getPack, getPhoto, getThumb, newId, onStoreChange, saveChange, saveChanges, saveDraft } from '../store.js';
import { FormFault, fileField, readDraft, readForm, showFault } from '../ui/form.js';
import { html, on, render } from '../ui/html.js';
import { icon } from '../ui/icons.js';
import { faultOfLeave, formOfLeave, leaveFields, leaveOfForm } from '../ui/leave_form.js';
import { notice } from '../ui/notice.js';
import { stateMark } from '../ui/state.js';
import { NOT_KNOWN, showDate, speciesName } from '../ui/words.js';

const FORM_WORDS = { signed: 'signed paper', spoken: 'spoken only' };
const ENTITLED_WORDS = { true: 'yes', false: 'no' };

/**
 * Open the screen.
 * @param {Element} root
 * @param {{id: string, site?: string}} params id of a leave or 'new'; site: whose ground a new one is for
 * @returns {Promise<() => void>} close
 */
export async function open(root, params) {
  const isNew = params.id === 'new';
  const key = isNew ? `leave-new-${params.site ?? ''}` : `leave-${params.id}`;
  const pack = await getPack();
  let draft = await getDraft(key);
  let editing = isNew || Boolean(draft);
  let ground;
  let found; // {one, leave}: the site and the leave as they are kept
  const paperKey = `${key}-paper`; // apart, so that a keystroke does not write the picture again
  let paper = (await getDraft(paperKey)) ?? null; // a photo taken but not saved yet
  const seenKey = `${key}-seen`;
  let seen = (await getDraft(seenKey)) ?? null; // the leave as the form was opened: nothing newer is overruled unseen
  let closed = false;
  const urls = [];

  async function read() {
    ground = await readGround();
    found = null;
    for (const one of ground.sites) {
      if (isNew && one.site.id === params.site) found = { one, leave: null };
      const leave = one.leaves.find(({ record }) => record.id === params.id);
      if (leave) found = { one, leave };
    }
  }

  const pictureOf = (bytes, type) => {
    const url = URL.createObjectURL(new Blob([bytes], { type }));
    urls.push(url);
    return url;
  };

  async function paperPicture() {
    if (paper) return paper.thumb ? pictureOf(paper.thumb, 'image/jpeg') : null; // kept, but this phone cannot draw it
    const sha256 = found?.leave?.record.fields.paper;
    if (!sha256) return null;
    const thumb = await getThumb(sha256);
    if (thumb) return pictureOf(thumb.bytes, thumb.type);
    const whole = await getPhoto(sha256);
    return whole ? pictureOf(whole.bytes, whole.type) : null;
  }

  const picture = (url) => html`<button type="button" class="paper-open" data-paper-large aria-label="See the paper large"><img class="paper" src="${url}" alt="The signed paper"></button>`;

  /** See it large; afterwards the focus is where it was. */
  async function seePaper() {
    await viewPaper(paper ?? { sha256: found.leave.record.fields.paper });
    if (!closed) root.querySelector('[data-paper-large]')?.focus();
  }

  function paperPart(url) {
    const kept = paper || found?.leave?.record.fields.paper;
    return html`<div class="stack field" data-paper><p class="strong">Photo of the paper</p>
      ${url ? picture(url) : kept && html`<p class="muted">Kept; the picture cannot be shown here.</p>`}
      <div class="pick-row">${fileField({ name: 'take', label: kept ? 'Take it again' : 'Photograph the paper', capture: true })}
        ${fileField({ name: 'choose', label: 'Choose a picture', iconName: 'photo' })}
        ${paper && html`<button type="button" class="button rust" data-drop-paper>${icon('bin')}Leave it out</button>`}</div>
      <p class="fault" role="alert" hidden></p></div>`;
  }

  async function drawForm() {
    const values = draft ?? (isNew ? { starts_on: todayAt(found.one.site) } : formOfLeave(found.leave.record.fields));
    const url = await paperPicture();
    const species = [...(pack?.species ?? [])].sort((a, b) => a.name.localeCompare(b.name));
    render(root, html`<div class="page leave"><div class="page-head"><a class="back" href="#/site/${found.one.site.id}">${icon('back')}${found.one.site.fields.name ?? 'Site'}</a>
        <h1>${isNew ? 'A new leave' : 'Change the leave'}</h1><p class="under">One landholder’s permission for ${found.one.site.fields.name ?? 'this site'}, with its terms.</p></div>
      <form class="sheet" novalidate data-form>
        ${leaveFields(values, { landholders: [...ground.landholders.values()], species, isNew })}
        ${paperPart(url)}
        <div class="actions stuck"><button class="button primary">Save the leave</button><button type="button" class="button quiet" data-cancel>Not now</button></div>
      </form></div>`);
  }

  async function drawView() {
    const { record, lifted, state } = found.leave;
    const { fields } = record;
    const url = await paperPicture();
    const holder = ground.landholders.get(fields.landholder);
    const fact = (name, value) => html`<dt>${name}</dt><dd>${value ?? NOT_KNOWN}</dd>`;
    render(root, html`<div class="page leave"><div class="page-head"><a class="back" href="#/site/${found.one.site.id}">${icon('back')}${found.one.site.fields.name ?? 'Site'}</a>
        <h1>Leave of ${holder?.fields.name ?? 'a landholder not told'}</h1><p>${stateMark(state)}</p></div>
      <div class="cols"><div>
        <section class="sheet"><h2>What is agreed</h2><dl class="facts">
          ${fact('Ground', fields.area ? `part of ${found.one.site.fields.name}` : `the whole of ${found.one.site.fields.name}`)}
          ${fact('First day', showDate(fields.starts_on))}${fact('Last day', fields.ends_on ? showDate(fields.ends_on) : 'no end agreed')}
          ${fields.withdrawn_on && fact('Withdrawn on', showDate(fields.withdrawn_on))}
          ${fact('Kinds', fields.species?.length ? fields.species.map((kind) => speciesName(pack, kind)).join(', ') : 'any')}
          ${fact('Number', Number.isInteger(fields.allowance) ? `${fields.allowance}, of which ${lifted} lifted` : `none agreed; ${lifted} lifted`)}
          ${fact('Girth', Number.isInteger(fields.max_girth_mm) ? `up to ${showCm(fields.max_girth_mm)}` : 'no limit agreed')}
          ${fact('Given', FORM_WORDS[fields.form])}${fact('Signed by', fields.signed_by)}
          ${fact('May give leave', ENTITLED_WORDS[fields.entitled] ?? 'not recorded')}</dl>
          ${fields.note && html`<p class="note">${fields.note}</p>`}</section>
        <div class="actions"><button type="button" class="button primary" data-change>${icon('edit')}Change</button>
          ${fields.withdrawn_on ? html`<button type="button" class="button" data-restore>${icon('undo')}It was not withdrawn</button>` : html`<button type="button" class="button rust" data-withdraw>${icon('no')}It was withdrawn today</button>`}
          <button type="button" class="button quiet" data-remove>${icon('bin')}Remove, written by mistake</button></div>
      </div><div>
        <section class="sheet"><h2>Terms to keep</h2>${fields.conditions?.length ? html`<ol class="numbered">${fields.conditions.map((term) => html`<li>${term}</li>`)}</ol>` : html`<p class="muted">No terms are written down. If any were agreed, add them: they come up before you dig.</p>`}</section>
        <section class="sheet"><h2>The paper</h2>${url ? picture(url) : html`<p class="muted">${fields.paper ? 'Kept; the picture cannot be shown here.' : 'No photo of a paper. A spoken leave is worth little once memories differ: have it signed, and photograph it at the gate.'}</p>`}</section>
        <p class="caution">${icon('warn')}<span>The landholder’s word today stands above what is written here.</span></p>
      </div></div></div>`);
  }

  async function draw() {
    for (const url of urls.splice(0)) URL.revokeObjectURL(url);
    if (!found) {
      render(root, html`<div class="page"><div class="page-head"><h1>Leave</h1></div><div class="empty">${icon('leave')}<p>${isNew ? 'Choose the site this leave is for first.' : 'This leave is not here. It was removed, or has not come from home yet.'}</p><a class="button primary" href="#/ground">${icon('back')}To all sites</a></div></div>`);
    } else if (editing) {
      await drawForm();
    } else {
      await drawView();
    }
  }

  const keep = (form) => saveDraft(key, (draft = readDraft(form)));

  async function dropDrafts() {
    seen = null;
    await Promise.all([key, paperKey, seenKey].map((name) => dropDraft(name)));
  }

  async function submit(ev, form) {
    ev.preventDefault();
    let values;
    try {
      values = readForm(form);
    } catch (fault) {
      if (fault instanceof FormFault) return;
      throw fault;
    }
    const fault = faultOfLeave(values);
    if (fault) {
      showFault(form, fault.field, fault.sentence);
      return;
    }
    const { leave, landholder } = leaveOfForm(values);
    const changes = [];
    if (landholder) {
      leave.landholder = newId();
      changes.push({ rec: leave.landholder, type: 'landholder', set: changedOnly({}, landholder) });
    }
    const before = seen?.fields ?? {};
    const set = changedOnly(before, { ...leave, ...(paper ? { paper: paper.sha256 } : {}), ...(isNew ? { site: found.one.site.id } : {}) });
    const rec = isNew ? newId() : params.id;
    if (Object.keys(set).length) changes.push({ rec, type: 'leave', set, ...(seen ? { seen } : {}) });
    try {
      if (changes.length) {
        const photos = paper ? [{ sha256: paper.sha256, bytes: paper.bytes, type: paper.type, thumb: paper.thumb }] : [];
        await saveChanges(changes, { photos });
      }
      await dropDrafts();
    } catch (trouble) {
      notice(`Not saved: ${trouble.message}`, { kind: 'trouble' });
      return;
    }
    const back = isNew ? { deleted: true } : Object.fromEntries(Object.keys(set).map((name) => [name, before[name] ?? null]));
    if (changes.length) notice('Leave saved on this phone.', { undoWords: isNew ? 'Undo the leave' : 'Undo the change', undo: () => saveChange({ rec, type: 'leave', set: back }) });
    [draft, paper, editing] = [null, null, false];
    if (isNew) globalThis.location.hash = `#/site/${found.one.site.id}`;
    else await reread();
  }

  async function takePaper(file, form) {
    await keep(form);
    try {
      paper = await readPhotoFile(file);
    } catch (trouble) {
      await draw();
      showFault(root.querySelector('[data-form]'), 'choose', trouble.message);
      return;
    }
    if (paper.doubt) notice(paper.doubt, { kind: 'plain', stays: true });
    await saveDraft(paperKey, paper);
    await keep(form);
    await draw();
  }

  async function cancel() {
    await dropDrafts();
    [draft, paper, editing] = [null, null, false];
    if (isNew) globalThis.location.hash = found ? `#/site/${found.one.site.id}` : '#/ground';
    else await draw();
  }

  /** Set some fields at once, with the way back. */
  async function setAtOnce(set, back, words, undoWords) {
    try {
      await saveChange({ rec: params.id, type: 'leave', set });
      notice(words, { undoWords, undo: () => saveChange({ rec: params.id, type: 'leave', set: back }) });
    } catch (trouble) {
      notice(`Not saved: ${trouble.message}`, { kind: 'trouble' });
    }
  }

  async function reread() {
    await read();
    if (!closed && !editing) await draw();
  }

  await read();
  if (editing && !isNew) seen ??= found?.leave?.record ?? null;
  await draw();
  const stops = [
    on(root, 'input', '[data-form]', (ev, form) => ev.target.type !== 'file' && keep(form)),
    on(root, 'change', 'input[name="landholder"]', (ev, input) => {
      root.querySelector('.new-holder').hidden = JSON.parse(input.value) !== 'new';
    }),
    on(root, 'change', 'input[type="file"]', (ev, input) => input.files[0] && takePaper(input.files[0], input.form)),
    on(root, 'click', '[data-drop-paper]', async (ev, button) => { paper = null; await dropDraft(paperKey); await keep(button.form); await draw(); }),
    on(root, 'click', '[data-paper-large]', seePaper),
    on(root, 'submit', '[data-form]', submit),
    on(root, 'click', '[data-cancel]', cancel),
    on(root, 'click', '[data-change]', async () => { editing = true; seen = found.leave.record; await saveDraft(seenKey, seen); await draw(); root.querySelector('h1').scrollIntoView(); }),
    on(root, 'click', '[data-withdraw]', () => setAtOnce({ withdrawn_on: todayAt(found.one.site) }, { withdrawn_on: null }, 'Withdrawn from today on. Saved.', 'Undo the withdrawal')),
    on(root, 'click', '[data-restore]', () => setAtOnce({ withdrawn_on: null }, { withdrawn_on: found.leave.record.fields.withdrawn_on }, 'Saved: it was not withdrawn.', 'Undo that')),
    on(root, 'click', '[data-remove]', async () => {
      const site = found.one.site.id;
      await setAtOnce({ deleted: true }, { deleted: false }, 'Leave removed.', 'Undo the removal');
      globalThis.location.hash = `#/site/${site}`;
    }),
    onStoreChange(reread),
  ];
  return () => {
    closed = true;
    for (const stop of stops) stop();
    for (const url of urls.splice(0)) URL.revokeObjectURL(url);
  };
}
