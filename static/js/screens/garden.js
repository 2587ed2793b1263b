/** Gardens: where lifted trees grow on, with the place and the seasons of each; listed, made, changed. Works with no signal. */

import { changedOnly } from '../core/changed.js';
import { laterDays, laterWords } from '../core/climate.js';
import { BadInput } from '../core/errors.js';
import { watchFix } from '../device.js';
import { gardenName, listGardens, standingPlaces } from '../hill/gardens.js';
import { ownZone, readTrees } from '../hill/ground_facts.js';
import { readTyped, TYPED_HINT } from '../hill/typed_place.js';
import { dropDraft, getDraft, listRecords, newId, onStoreChange, saveChange, saveChanges, saveDraft } from '../store.js';
import { FormFault, NAME_LENGTH, noteField, numberField, readDraft, readForm, readOrShow, showFault, textField, toggle } from '../ui/form.js';
import { html, on, render } from '../ui/html.js';
import { icon } from '../ui/icons.js';
import { notice } from '../ui/notice.js';
import { oneTap } from '../ui/one_tap.js';
import { shiftField } from '../ui/site_forms.js';
import { count, speciesName, stageWord, tagName } from '../ui/words.js';

const NEW = 'new';
const ENDED = ['lost', 'parted', 'left_standing'];
const FIGURES = 5; // of a degree: a metre is enough for the seasons of a garden

const positionText = ({ lat, lon }) => (lat === null || lat === undefined || lon === null || lon === undefined ? null : `${lat.toFixed(FIGURES)} ${lon.toFixed(FIGURES)}`);

/** How its seasons run, in a sentence. @param {object} fields of a garden or site, with `lat` */
function seasonWords({ lat, height_m: height, shift_days: own }) {
  if (own !== null && own !== undefined) return `${laterWords(own)}, by your own number of days.`;
  const days = laterDays(lat, height ?? null);
  if (days === null) return 'as on the cards: give its position, and they follow the latitude and height.';
  return `${laterWords(days)}, by latitude and height${height === null || height === undefined ? ' (the height is not told)' : ''}: Hopkins’ law, a rule of thumb. What you see on your own trees stands above it.`;
}

function gardenForm(values, isNew) {
  return html`<form class="sheet" novalidate data-form><h2>${isNew ? 'The garden' : 'About this garden'}</h2>
    ${textField({ name: 'name', label: 'Name', value: values.name, required: true, maxLength: NAME_LENGTH, hint: 'As: behind the house, the frame yard' })}
    ${textField({ name: 'position', label: 'Position', value: values.position ?? positionText(values), hint: TYPED_HINT })}
    <button type="button" class="button hill" data-here>${icon('fix')}Where I stand now</button>
    ${numberField({ name: 'height_m', label: 'Height above the sea', unit: 'm', value: values.height_m, step: 10, start: 100, min: -450, max: 9000, whole: false })}
    ${shiftField(values.shift_days)}
    ${toggle({ name: 'is_main', label: 'Lifted trees stand here unless told otherwise', value: values.is_main === true })}
    ${noteField({ name: 'note', label: 'Note', value: values.note, hint: 'Shade, wind, where the frost lies' })}
    <div class="actions"><button class="button primary">Save</button>${isNew ? html`<a class="button quiet" href="#/garden">Not now</a>` : html`<button type="button" class="button quiet" data-cancel>Not now</button>`}</div></form>`;
}

/** The fields of a garden from its form; a fault stands at its field and is thrown. */
function readGarden(form, seen) {
  const { position, is_main: isMain, ...rest } = readForm(form);
  let place = { lat: null, lon: null };
  if (position && position === positionText(seen)) place = { lat: seen.lat, lon: seen.lon };
  else if (position) {
    try {
      const { lat, lon } = readTyped(position);
      place = { lat, lon };
    } catch (fault) {
      if (!(fault instanceof BadInput)) throw fault;
      const sentence = [fault.message, fault.cure].filter(Boolean).join(' ');
      showFault(form, 'position', sentence);
      throw new FormFault('position', sentence);
    }
  }
  return { ...rest, ...place, is_main: isMain ? true : seen.is_main === undefined || seen.is_main === null ? null : false };
}

/**
 * Listen to the form that both pages have: what is typed is kept, and the receiver may fill in the position.
 * @returns {(() => void)[]} what stops it
 */
function hearForm(root, key, keep) {
  let stopFix = null;
  const stop = () => { stopFix?.(); stopFix = null; };
  const takeFix = (form) => {
    stop();
    form.querySelector('[data-here]').disabled = true;
    const again = () => { stop(); const button = form.querySelector('[data-here]'); if (button) button.disabled = false; };
    stopFix = watchFix((fix) => {
      again();
      if (!form.isConnected) return;
      form.elements.position.value = positionText(fix);
      if (form.elements.height_m.value === '' && Number.isFinite(fix.height_m)) form.elements.height_m.value = String(Math.round(fix.height_m));
      keep(readDraft(form));
    }, (trouble) => { again(); notice(trouble.message, { kind: 'plain' }); });
  };
  return [
    on(root, 'input', '[data-form]', (ev, form) => keep(readDraft(form))),
    on(root, 'click', '[data-here]', (ev, button) => takeFix(button.form)),
    stop,
  ];
}

/** Only one garden is the main one: the others cease to be, in the same act. */
async function othersNoLonger(id, isMain) {
  if (isMain !== true) return [];
  return (await listGardens()).filter((one) => one.id !== id && one.fields.is_main === true);
}

const mainChanges = (gardens, isMain) => gardens.map((one) => ({ rec: one.id, type: 'garden', set: { is_main: isMain } }));

async function openNew(root) {
  const key = 'garden-new';
  const gardens = await listGardens();
  const draft = (await getDraft(key)) ?? { is_main: gardens.length === 0 };
  render(root, html`<div class="page"><div class="page-head"><a class="back" href="#/garden">${icon('back')}Gardens</a><h1>A new garden</h1>
      <p class="under">Where lifted trees grow on. Their tasks follow its seasons, not those of the hill they came from.</p></div>${gardenForm(draft, true)}</div>`);
  const keep = (values) => saveDraft(key, values);
  async function submit(ev, form) {
    const values = readOrShow(form, (shown) => readGarden(shown, {}));
    if (values === null) return false;
    const id = newId();
    const others = await othersNoLonger(id, values.is_main);
    await saveChanges([{ rec: id, type: 'garden', set: changedOnly({}, { ...values, zone: ownZone() }) }, ...mainChanges(others, false)]);
    await dropDraft(key);
    notice('The garden is saved on this phone.', { undo: () => saveChanges([{ rec: id, type: 'garden', set: { deleted: true } }, ...mainChanges(others, true)]) });
    globalThis.location.hash = `#/garden/${id}`;
    return true;
  }
  const stops = [...hearForm(root, key, keep), on(root, 'submit', '[data-form]', oneTap()(submit))];
  return () => stops.forEach((stop) => stop());
}

async function openList(root) {
  async function draw() {
    const [gardens, { rows }, lifts] = await Promise.all([listGardens(), readTrees(null), listRecords('lift')]);
    const places = standingPlaces(rows.map(({ tree }) => tree), lifts, gardens);
    const here = (id) => rows.filter((row) => !ENDED.includes(row.stage) && places.get(row.id) === id).length;
    render(root, html`<div class="page"><div class="page-head"><a class="back" href="#/trees">${icon('back')}Trees</a><h1>Gardens</h1>
        <p class="under">Where lifted trees grow on: their seasons, frosts and weather are those of the garden.</p></div>
      ${gardens.length === 0
        ? html`<div class="empty">${icon('house')}<p>No garden is kept yet. Until there is one, lifted trees are cared for by the seasons of the ground they came from.</p><a class="button primary hill" href="#/garden/new">${icon('plus')}Add your garden</a></div>`
        : html`<section class="sheet"><div class="sheet-head"><h2>Gardens</h2><a class="button" href="#/garden/new">${icon('plus')}Add one</a></div><ul class="entries">${gardens.map((garden) => html`<li><a class="entry" href="#/garden/${garden.id}"><span class="entry-main"><span class="entry-title">${gardenName(garden)}</span>
          <span class="entry-under">${[count(here(garden.id), 'tree', 'trees'), garden.fields.is_main === true && gardens.length > 1 && 'where trees stand unless told otherwise'].filter(Boolean).join(' · ')}</span></span>${icon('forward')}</a></li>`)}</ul></section>`}
    </div>`);
  }
  await draw();
  return onStoreChange(draw);
}

async function openOne(root, id) {
  const key = `garden-${id}`;
  let garden = null;
  let trees = [];
  let pack = null;
  let editing = (await getDraft(key)) ?? null; // {seen, values}
  let closed = false;

  async function read() {
    const [gardens, known, lifts] = await Promise.all([listGardens(), readTrees(null), listRecords('lift')]);
    garden = gardens.find((one) => one.id === id) ?? null;
    pack = known.pack;
    const places = standingPlaces(known.rows.map(({ tree }) => tree), lifts, gardens);
    trees = known.rows.filter((row) => !ENDED.includes(row.stage) && places.get(row.id) === id)
      .sort((a, b) => String(a.tag ?? '~').localeCompare(String(b.tag ?? '~'), 'en', { numeric: true }));
  }

  function draw() {
    if (!garden) {
      render(root, html`<div class="page"><div class="page-head"><h1>Garden</h1></div><div class="empty">${icon('house')}<p>That garden is not kept here. It was removed, or has not come from home yet.</p><a class="button" href="#/garden">${icon('back')}To the gardens</a></div></div>`);
      return;
    }
    const { fields } = garden;
    const known = (value, words) => (value === null || value === undefined ? 'not told' : words);
    render(root, html`<div class="page garden"><div class="page-head"><a class="back" href="#/garden">${icon('back')}Gardens</a><h1>${gardenName(garden)}</h1>
        <p class="under">Seasons here run ${seasonWords(fields)}</p></div>
      <div class="cols wide-first"><div>
        <div class="pick-row"><a class="button hill" href="#/due?site=${id}">${icon('due')}What is due here</a><a class="button hill" href="#/weather/${id}">${icon('weather')}Its weather</a><a class="button hill" href="#/bench/${id}">${icon('papers')}On paper, for the bench</a></div>
        <section class="sheet"><h2>Trees that stand here <span class="muted">${trees.length}</span></h2>
          ${trees.length === 0 ? html`<p class="muted">None yet. ${fields.is_main === true ? 'A tree comes here when its lift is logged.' : 'On a tree’s page, Change says in which garden it stands.'}</p>` : html`<ul class="entries">${trees.map((row) => html`<li><a class="entry" href="#/tree/${row.id}"><span class="entry-icon">${icon(`stage_${row.stage}`)}</span>
            <span class="entry-main"><span class="entry-title">${tagName(row.tag, 'no tag')} ${speciesName(pack, row.kind)}</span><span class="entry-under">${stageWord(row.stage)}</span></span>${icon('forward')}</a></li>`)}</ul>`}</section>
      </div><div>
        ${editing ? gardenForm(editing.values, false) : html`<section class="sheet"><div class="sheet-head"><h2>About this garden</h2><button type="button" class="button" data-edit>${icon('edit')}Change</button></div>
          <dl class="facts"><dt>Position</dt><dd>${positionText(fields) ?? 'not told'}</dd>
            <dt>Height</dt><dd>${known(fields.height_m, `${Math.round(fields.height_m)} m`)}</dd>
            <dt>Trees stand here</dt><dd>${fields.is_main === true ? 'unless told otherwise' : 'only those told to'}</dd></dl>
          ${fields.note && html`<p class="note">${fields.note}</p>`}
          <button type="button" class="button rust" data-remove>${icon('bin')}Remove the garden</button></section>`}
      </div></div></div>`);
  }

  async function submit(ev, form) {
    if (!editing) return true;
    const { seen } = editing;
    const values = readOrShow(form, (shown) => readGarden(shown, seen.fields));
    if (values === null) return false;
    const set = changedOnly(seen.fields, values);
    const before = Object.fromEntries(Object.keys(set).map((name) => [name, seen.fields[name] ?? null]));
    const others = await othersNoLonger(id, set.is_main);
    if (Object.keys(set).length > 0) await saveChanges([{ rec: id, type: 'garden', set, seen }, ...mainChanges(others, false)]);
    await letGo();
    if (Object.keys(set).length === 0) return true;
    notice('Saved on this phone. The dates of its tasks follow at the next sync.', { undo: () => saveChanges([{ rec: id, type: 'garden', set: before }, ...mainChanges(others, true)]) });
    return true;
  }

  async function letGo() {
    editing = null;
    await dropDraft(key);
    await read();
    if (!closed) draw();
  }

  const keep = (values) => { editing = { ...editing, values }; return saveDraft(key, editing); };
  await read();
  draw();
  const stops = [
    ...hearForm(root, key, keep),
    on(root, 'click', '[data-edit]', () => { editing = { seen: garden, values: garden.fields }; draw(); root.querySelector('form input').focus(); }),
    on(root, 'click', '[data-cancel]', letGo),
    on(root, 'click', '[data-remove]', async () => {
      await saveChange({ rec: id, type: 'garden', set: { deleted: true } });
      globalThis.location.hash = '#/garden';
      notice(`${gardenName(garden)} is removed. Its trees stay kept.`, { undoWords: 'Undo the removal', undo: () => saveChange({ rec: id, type: 'garden', set: { deleted: false } }) });
    }),
    on(root, 'submit', '[data-form]', oneTap()(submit)),
    onStoreChange(async () => { await read(); if (!closed && !editing) draw(); }),
  ];
  return () => {
    closed = true;
    stops.forEach((stop) => stop());
  };
}

/**
 * Open the screen.
 * @param {Element} root
 * @param {{id?: string}} params id of a garden, or 'new'; none: the list
 */
export function open(root, { id }) {
  if (id === NEW) return openNew(root);
  return id ? openOne(root, id) : openList(root);
}
