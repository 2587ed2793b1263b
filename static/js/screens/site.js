/** Site: one piece of ground with its boundary, leaves, landholders, other consents and trees. */

import { areaHa } from '../core/area_text.js';
import { changedOnly } from '../core/changed.js';
import { watchFix } from '../device.js';
import { metresOutside, ownZone, readTrees } from '../hill/ground_facts.js';
import { readGround, todayAt } from '../hill/ground_leaves.js';
import { openMap } from '../map.js';
import { dropDraft, getDraft, getMeta, listRecords, onStoreChange, saveChange, saveDraft } from '../store.js';
import { openCornerEditor } from '../ui/corner_editor.js';
import { FormFault, readDraft, readForm, showFault } from '../ui/form.js';
import { html, on, render } from '../ui/html.js';
import { icon } from '../ui/icons.js';
import { notice } from '../ui/notice.js';
import { consentFields, landholderFields, siteFields } from '../ui/site_forms.js';
import { stateMark } from '../ui/state.js';
import { consentStateWord, consentWord, count, here, showDate, showDistance, showRange, speciesName, stageWord } from '../ui/words.js';

const WATCH = 'ground-watch';
const FORMS = { facts: siteFields, landholder: landholderFields, consent: consentFields };
const TITLES = { facts: 'About this site', landholder: 'Landholder', consent: 'Another consent' };
const TYPES = { facts: 'site', landholder: 'landholder', consent: 'consent' };
const YES_NO = { true: 'yes', false: 'no' };

function zoneIsKnown(zone) {
  try {
    return Boolean(new Intl.DateTimeFormat('en', { timeZone: zone }));
  } catch {
    return false;
  }
}

/** Read a facts, landholder or consent form; a fault is shown at its field and throws. */
function readChecked(form, what) {
  const values = readForm(form);
  if (what === 'facts' && values.zone && !zoneIsKnown(values.zone)) {
    const sentence = `“${values.zone}” is not a time zone this ${here()} knows. Write one as Europe/London, or leave it empty.`;
    showFault(form, 'zone', sentence);
    throw new FormFault('zone', sentence);
  }
  return values;
}

function leaveEntry({ record, lifted, state }, landholders, pack) {
  const { fields } = record;
  const number = Number.isInteger(fields.allowance) ? `${lifted} of ${fields.allowance} lifted` : `${lifted} lifted`;
  const kinds = fields.species?.length ? fields.species.map((kind) => speciesName(pack, kind)).join(', ') : 'any kind';
  const dates = showRange(fields.starts_on, fields.ends_on, { noEnd: 'no end agreed' });
  return html`<li><a class="entry" href="#/leave/${record.id}"><span class="entry-main">
    <span class="entry-title">${landholders.get(fields.landholder)?.fields.name ?? 'Landholder not told'}</span>
    ${stateMark(state)}<span class="entry-under">${dates}<br>${number} · ${kinds}</span></span>${icon('forward')}</a></li>`;
}

function landholderEntry({ id, fields }) {
  return html`<li><div class="entry"><span class="entry-main"><span class="entry-title">${fields.name ?? 'No name'}</span>
    <span class="entry-under">${[fields.role, fields.address, fields.note].filter(Boolean).join(' · ')}</span>
    <span class="row">${fields.phone && (/\d/.test(fields.phone) ? html`<a class="button" href="tel:${fields.phone.replace(/[^+\d]/g, '')}">${icon('phone')}${fields.phone}</a>` : html`<span>${fields.phone}</span>`)}
      ${fields.email && html`<a class="button" href="mailto:${fields.email}">${fields.email}</a>`}</span></span>
    <button type="button" class="button" data-edit="landholder" data-of="${id}" aria-label="Change ${fields.name ?? 'this landholder'}">${icon('edit')}</button></div></li>`;
}

function consentEntry({ id, fields }, on_) {
  const expired = fields.state === 'held' && fields.until && fields.until < on_;
  const kind = expired || fields.state === 'needed' ? 'bad' : fields.state === 'held' || fields.state === 'not_needed' ? 'good' : 'ask';
  const word = expired ? 'expired' : consentStateWord(fields.state);
  return html`<li><button type="button" class="entry" data-edit="consent" data-of="${id}"><span class="entry-main"><span class="entry-title">${consentWord(fields.kind)}</span>
    ${stateMark({ word, kind, on: null })}<span class="entry-under">${[fields.until && `until ${showDate(fields.until)}`, fields.reference, fields.note].filter(Boolean).join(' · ')}</span></span>${icon('edit')}</button></li>`;
}

function treeEntry(one, pack) {
  return html`<li><a class="entry" href="#/tree/${one.id}"><span class="entry-icon">${icon(`stage_${one.stage}`)}</span>
    <span class="entry-main"><span class="entry-title">${speciesName(pack, one.kind)}</span><span class="entry-under">${[stageWord(one.stage), one.distance_m !== null && `${showDistance(one.distance_m)} away`].filter(Boolean).join(' · ')}</span></span>
    <span class="entry-side">${one.tag && html`<span class="tag">${one.tag}</span>`}</span></a></li>`;
}

/** The form for a site that is not there yet. */
async function openNew(root) {
  const key = 'site-new';
  const draft = (await getDraft(key)) ?? { zone: ownZone() };
  render(root, html`<div class="page"><div class="page-head"><a class="back" href="#/ground">${icon('back')}Ground</a><h1>A new site</h1>
      <p class="under">The ground one leave is about. Its boundary comes next.</p></div>
    <form class="sheet" novalidate data-form>${siteFields(draft)}<div class="actions"><button class="button primary">Save the site</button>
      <a class="button quiet" href="#/ground">Not now</a></div></form></div>`);
  const stops = [
    on(root, 'input', '[data-form]', (ev, form) => saveDraft(key, readDraft(form))),
    on(root, 'submit', '[data-form]', async (ev, form) => {
      ev.preventDefault();
      try {
        const id = await saveChange({ type: 'site', set: changedOnly({}, readChecked(form, 'facts')) });
        await dropDraft(key);
        notice('Saved on this phone. Now draw its boundary.');
        globalThis.location.hash = `#/site/${id}`;
      } catch (fault) {
        if (!(fault instanceof FormFault)) notice(`Not saved: ${fault.message}`, { kind: 'trouble' });
      }
    }),
  ];
  return () => stops.forEach((stop) => stop());
}

/**
 * Open the screen.
 * @param {Element} root
 * @param {{id: string}} params id of a site, or 'new'
 * @returns {Promise<() => void>} close
 */
export async function open(root, params) {
  if (params.id === 'new') return openNew(root);
  const { id } = params;
  const key = `site-${id}`;
  let ground;
  let one;
  let trees;
  let tracks;
  let fix = null;
  let editing = (await getDraft(key)) ?? null; // {what, of, seen, values}: a form left open comes back as it was
  let editor = null;
  let closed = false;

  async function read() {
    [ground, trees, tracks] = await Promise.all([readGround(), readTrees(fix?.lat === undefined ? null : fix), listRecords('track')]);
    one = ground.sites.find(({ site }) => site.id === id) ?? null;
    trees.own = trees.rows.filter((row) => row.site === id).sort((a, b) => String(a.tag ?? '~').localeCompare(String(b.tag ?? '~'), undefined, { numeric: true }));
  }

  await read();
  if (!one) {
    render(root, html`<div class="page"><div class="page-head"><h1>Site</h1></div><div class="empty">${icon('site')}<p>This site is not on this ${here()}. It was removed, or has not come from home yet.</p><a class="button" href="#/ground">${icon('back')}To all sites</a></div></div>`);
    return () => {};
  }

  render(root, html`<div class="page site"><div class="page-head" data-head></div>
    <div class="cols wide-first"><div><div class="map" data-map-frame></div><div data-boundary></div><div class="stack" data-trees></div></div>
    <div data-side></div></div></div>`);
  const part = (name) => root.querySelector(`[data-${name}]`);
  const map = openMap(part('map-frame'), `Map of ${one.site.fields.name ?? 'the site'}`);

  function drawHead() {
    const away = fix && metresOutside(one.site.fields.boundary, fix);
    render(part('head'), html`<a class="back" href="#/ground">${icon('back')}Ground</a><h1>${one.site.fields.name ?? 'Unnamed site'}</h1>
      <p class="row">${stateMark(one.state)}${away !== null && html`<span class="muted">${away === 0 ? 'You are on it' : `${showDistance(away)} away`}</span>`}</p>`);
  }

  /** The other sites, faintly. */
  const around = () => ground.sites.filter(({ site }) => site.id !== id).map(({ site }) => ({ id: site.id, name: site.fields.name, boundary: site.fields.boundary, kind: 'around' }));

  function drawMap() {
    const { fields } = one.site;
    map.showSites(fields.boundary ? [{ id, name: fields.name, boundary: fields.boundary, kind: one.state.kind }] : around());
    map.showTrees(trees.own.filter((row) => row.place && row.stage === 'marked').map((row) => ({ tag: row.tag, stage: row.stage, word: stageWord(row.stage), lat: row.place.lat, lon: row.place.lon, href: `#/tree/${row.id}` })));
    map.showTracks(tracks.filter((track) => track.fields.site === id).map((track) => track.fields));
  }

  function drawBoundary() {
    const { boundary } = one.site.fields;
    render(part('boundary'), html`<div class="stack">
      <a class="button primary hill wide" href="#/may-i">${icon('may_i')}May I dig where I stand?</a>
      <div class="spread"><p class="muted">${boundary ? `About ${areaHa(boundary).toFixed(1)} ha` : 'No boundary is drawn yet: without one May I? cannot say whether you stand on this ground.'}</p>
        <button type="button" class="button" data-edit="boundary">${icon('site')}${boundary ? 'Change the boundary' : 'Draw the boundary'}</button></div></div>`);
  }

  function drawTrees() {
    const here = trees.own;
    render(part('trees'), html`<section class="sheet"><div class="sheet-head"><h2>Trees from here</h2><a class="button" href="#/mark">${icon('plus')}Mark one</a></div>
      ${here.length === 0 ? html`<p class="muted">No tree of this site is kept yet. Mark the ones worth lifting as you walk.</p>` : html`<ul class="entries">${here.slice(0, 8).map((row) => treeEntry(row, trees.pack))}</ul>`}
      ${here.length > 8 && html`<details class="fold"><summary>${count(here.length - 8, 'more tree', 'more trees')}</summary><ul class="entries">${here.slice(8).map((row) => treeEntry(row, trees.pack))}</ul></details>`}
    </section>`);
  }

  function formSheet() {
    const { what, of, values } = editing;
    return html`<form class="sheet" novalidate data-form><h2>${TITLES[what]}</h2>${FORMS[what](values)}
      <div class="actions"><button class="button primary">Save</button><button type="button" class="button quiet" data-cancel>Not now</button>
        ${of && what !== 'landholder' && html`<button type="button" class="button rust" data-remove>${icon('bin')}${what === 'facts' ? 'Remove the site' : 'Remove'}</button>`}</div></form>`;
  }

  function drawSide() {
    const { fields } = one.site;
    const holders = [...new Set(one.leaves.map(({ record }) => record.fields.landholder))].map((holder) => ground.landholders.get(holder)).filter(Boolean);
    render(part('side'), html`
      ${editing && FORMS[editing.what] && formSheet()}
      <section class="sheet"><div class="sheet-head"><h2>Leave</h2><a class="button" href="#/leave/new?site=${id}">${icon('plus')}Add a leave</a></div>
        ${one.leaves.length === 0 ? html`<p>Nobody’s leave is recorded for this ground. Until there is one, the answer to “May I?” is no.</p>` : html`<ul class="entries">${one.leaves.map((leave) => leaveEntry(leave, ground.landholders, trees.pack))}</ul>`}</section>
      <section class="sheet"><h2>Landholder</h2>${holders.length === 0 ? html`<p class="muted">Comes with the first leave.</p>` : html`<ul class="entries">${holders.map(landholderEntry)}</ul>`}</section>
      <section class="sheet"><div class="sheet-head"><h2>Other consents</h2><button type="button" class="button" data-edit="consent">${icon('plus')}Add</button></div>
        ${one.consents.length === 0 ? html`<p class="muted">None recorded. Protected area, tree order, felling licence, monument, plant health: note each that might apply, also when it is not needed.</p>` : html`<ul class="entries">${one.consents.map((consent) => consentEntry(consent, todayAt(one.site)))}</ul>`}</section>
      <section class="sheet"><div class="sheet-head"><h2>About this site</h2><button type="button" class="button" data-edit="facts" data-of="${id}">${icon('edit')}Change</button></div>
        <dl class="facts"><dt>Protected</dt><dd>${YES_NO[fields.protected] ?? 'not known'}</dd>
          <dt>Buried services</dt><dd>${fields.services_checked_on ? `checked on ${showDate(fields.services_checked_on)}` : 'not checked'}</dd>
          <dt>Height</dt><dd>${fields.height_m === null || fields.height_m === undefined ? 'not known' : `${Math.round(fields.height_m)} m`}</dd>
          <dt>Time zone</dt><dd>${fields.zone ?? 'not told'}</dd></dl>
        ${!fields.services_checked_on && html`<button type="button" class="button" data-services>${icon('done')}Services checked today</button>`}
        ${fields.note && html`<p class="note">${fields.note}</p>`}</section>
      <p class="caution">${icon('warn')}<span>Local law, the landholder’s word and licensed practice stand above anything written here.</span></p>`);
  }

  function openBoundary() {
    editor?.();
    part('trees').hidden = true;
    part('map-frame').classList.add('low');
    const seen = editing?.seen ?? one.site;
    editor = openCornerEditor(part('boundary'), {
      map,
      boundary: one.site.fields.boundary ?? null,
      draft: editing?.what === 'boundary' ? editing.values : null,
      others: one.site.fields.boundary ? [] : around(), // a new site has nothing of its own to find the way by
      whereAmI: () => fix,
      onDraft: (values) => saveDraft(key, (editing = { what: 'boundary', of: id, seen, values })),
      onSave: async (boundary) => {
        const before = seen.fields.boundary ?? null;
        await save({ rec: id, type: 'site', set: changedOnly({ boundary: before }, { boundary }), seen }, { boundary: before });
        await closeForm();
      },
      onCancel: closeForm,
    });
    startWatch();
  }

  /** Save one change and offer the way back. */
  async function save(change, before) {
    if (Object.keys(change.set).length === 0) return;
    try {
      const rec = await saveChange(change);
      notice('Saved on this phone.', { undoWords: `Undo the ${change.set.deleted ? 'removal' : before.deleted ? 'entry' : 'change'}`, undo: () => saveChange({ rec, type: change.type, set: before }) });
    } catch (trouble) {
      notice(`Not saved: ${trouble.message}`, { kind: 'trouble' });
      throw trouble;
    }
  }

  async function closeForm() {
    editing = null;
    editor?.();
    editor = null;
    part('trees').hidden = false;
    part('map-frame').classList.remove('low');
    await dropDraft(key);
    await redraw();
  }

  function recordOf({ what, of }) {
    if (!of) return null;
    if (what === 'facts') return one.site;
    return what === 'landholder' ? ground.landholders.get(of) : one.consents.find((consent) => consent.id === of);
  }

  async function openForm(what, of) {
    if (what === 'boundary') {
      editing = editing?.what === 'boundary' ? editing : null;
      return openBoundary();
    }
    // Kept as it was when the form was opened: what another phone wrote meanwhile must not be overruled unseen.
    const seen = recordOf({ what, of });
    editing = { what, of: of ?? null, seen, values: of ? { ...seen?.fields } : {} };
    drawSide();
    part('side').querySelector('form').scrollIntoView({ block: 'start' });
    part('side').querySelector('form input').focus({ preventScroll: true });
    return undefined;
  }

  async function submit(ev, form) {
    ev.preventDefault();
    let values;
    try {
      values = readChecked(form, editing.what);
    } catch (fault) {
      if (fault instanceof FormFault) return;
      throw fault;
    }
    const record = editing.seen ?? recordOf(editing);
    const fields = record?.fields ?? {};
    const set = changedOnly(fields, editing.what === 'consent' && !record ? { ...values, site: id } : values);
    const before = record ? Object.fromEntries(Object.keys(set).map((name) => [name, fields[name] ?? null])) : { deleted: true };
    await save({ ...(record ? { rec: record.id, seen: record } : {}), type: TYPES[editing.what], set }, before);
    await closeForm();
  }

  async function remove() {
    const { what, of } = editing;
    await save({ rec: of, type: TYPES[what], set: { deleted: true } }, { deleted: false });
    await dropDraft(key);
    if (what === 'facts') globalThis.location.hash = '#/ground';
    else await closeForm();
  }

  let stopWatch = null;
  function startWatch() {
    if (stopWatch || closed) return;
    stopWatch = watchFix((next) => { const first = fix === null; fix = next; map.showMe(fix); drawHead(); if (first && !one.site.fields.boundary) map.fitOnce(); }, () => {}); // no position: the page says what it can without
  }

  async function redraw() {
    await read();
    if (closed || !one) return;
    drawHead();
    if (!editor) { drawMap(); drawBoundary(); drawTrees(); }
    if (!editing || !FORMS[editing.what]) drawSide();
  }

  drawHead();
  drawMap();
  map.fit(ground.sites.map(({ site }) => site.fields.boundary)); // a new site has nothing of its own to show yet
  drawTrees();
  drawSide();
  if (editing?.what === 'boundary') openBoundary();
  else drawBoundary();
  if (await getMeta(WATCH)) startWatch();
  const stops = [
    on(root, 'click', '[data-edit]', (ev, button) => openForm(button.dataset.edit, button.dataset.of)),
    on(root, 'click', '[data-cancel]', closeForm),
    on(root, 'click', '[data-remove]', remove),
    on(root, 'click', '[data-services]', () => save({ rec: id, type: 'site', set: { services_checked_on: todayAt(one.site) } }, { services_checked_on: null })),
    on(root, 'input', '[data-form]', (ev, form) => saveDraft(key, (editing = { ...editing, values: { ...editing.values, ...readDraft(form) } }))),
    on(root, 'submit', '[data-form]', submit),
    onStoreChange(redraw),
  ];
  return () => {
    closed = true;
    for (const stop of stops) stop();
    stopWatch?.();
    editor?.();
    map.close();
  };
}
