/** Site: one piece of ground with its boundary, leaves, landholders, other consents and trees. */

import { areaHa } from '../core/area_text.js';
import { changedOnly } from '../core/changed.js';
import { watchFix } from '../device.js';
import { openQuestions, readChecks } from '../hill/ground_checks.js';
import { metresOutside, readTrees } from '../hill/ground_facts.js';
import { putBack, readGround, todayAt } from '../hill/ground_leaves.js';
import { withOldSignatures } from '../hill/leave_lock.js';
import { openMap } from '../map.js';
import { dropDraft, getDraft, getMeta, listRecords, onStoreChange, saveChanges, saveDraft } from '../store.js';
import { openCornerEditor } from '../ui/corner_editor.js';
import { ask } from '../ui/dialog.js';
import { readDraft, readOrShow } from '../ui/form.js';
import { html, on, render } from '../ui/html.js';
import { icon } from '../ui/icons.js';
import { notice } from '../ui/notice.js';
import { siteFields } from '../ui/site_forms.js';
import { stateMark } from '../ui/state.js';
import { count, here, showDistance, stageWord } from '../ui/words.js';
import { openNew, readFacts } from './site_new.js';
import { consentsPart, factsPart, holdersPart, leavePart, treesPart } from './site_parts.js';

const WATCH = 'ground-watch';

/** A form left open in an older app, where this page had it; it has a page of its own now, and finds its draft there. */
async function moveDraft(key, site, { what, of, seen, values }) {
  if (what === 'consent') await saveDraft(of ? `consent-${of}` : `consent-new-${site}`, { seen, values });
  if (what === 'landholder' && of) await saveDraft(`landholder-${of}`, { what: 'person', rec: of, site: null, seen, values });
  await dropDraft(key);
  return null;
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
  let checks; // [what is known of the questions for this ground, those still open]
  let fix = null;
  let editing = (await getDraft(key)) ?? null; // {what, of, seen, values}: a form left open comes back as it was
  if (editing && !['facts', 'boundary'].includes(editing.what)) editing = await moveDraft(key, id, editing);
  let editor = null;
  let closed = false;

  async function read() {
    const position = fix?.lat === undefined ? null : fix;
    const [known, open] = [readChecks(id), openQuestions(id)];
    [ground, trees, tracks, checks] = await Promise.all([readGround(), readTrees(position), listRecords('track'), Promise.all([known, open])]);
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

  const drawTrees = () => render(part('trees'), treesPart(trees.own, trees.pack));

  const isFacts = () => editing?.what === 'facts';

  function formSheet() {
    return html`<form class="sheet" novalidate data-form><h2>About this site</h2>${siteFields(editing.values)}
      <div class="actions"><button class="button primary">Save</button><button type="button" class="button quiet" data-cancel>Not now</button>
        <button type="button" class="button rust" data-remove>${icon('bin')}Remove the site</button></div></form>`;
  }

  function drawSide() {
    const [known, open] = checks;
    render(part('side'), html`${isFacts() && formSheet()}
      ${leavePart(one, ground, trees.pack)}
      ${holdersPart(one)}
      ${consentsPart(one, todayAt(one.site), open, known.more)}
      ${factsPart(one, known)}
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
        const set = changedOnly({ boundary: before }, { boundary });
        const more = Object.keys(set).length && before ? await withOldSignatures(one.leaves.map(({ record }) => record)) : [];
        if (more === null) return;
        await save({ rec: id, type: 'site', set, seen }, { boundary: before }, more);
        await closeForm();
      },
      onCancel: closeForm,
    });
    startWatch();
  }

  /** Save one change, with more that belongs to it, and offer the way back. */
  async function save(change, before, more = []) {
    if (Object.keys(change.set).length === 0) return;
    try {
      await saveChanges([change, ...more]);
      const back = [{ rec: change.rec, type: change.type, set: before }, ...more.map(({ rec, type, set, seen }) => ({ rec, type, set: Object.fromEntries(Object.keys(set).map((name) => [name, seen.fields[name] ?? null])) }))];
      notice('Saved on this phone.', { undoWords: `Undo the ${change.set.deleted ? 'removal' : 'change'}`, undo: () => saveChanges(back) });
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

  async function openForm(what) {
    if (what === 'boundary') {
      editing = editing?.what === 'boundary' ? editing : null;
      return openBoundary();
    }
    // Kept as it was when the form was opened: what another phone wrote meanwhile must not be overruled unseen.
    editing = { what, of: id, seen: one.site, values: { ...one.site.fields } };
    drawSide();
    part('side').querySelector('form').scrollIntoView({ block: 'start' });
    part('side').querySelector('form input').focus({ preventScroll: true });
    return undefined;
  }

  async function submit(ev, form) {
    ev.preventDefault();
    const values = readOrShow(form, readFacts);
    if (values === null) return;
    const seen = editing.seen ?? one.site;
    const set = changedOnly(seen.fields, values);
    const before = Object.fromEntries(Object.keys(set).map((name) => [name, seen.fields[name] ?? null]));
    await save({ rec: id, seen, type: 'site', set }, before);
    await closeForm();
    globalThis.scrollTo(0, 0);
  }

  /** A site takes what hangs on it out of sight: that is said first. */
  async function remove() {
    const hangs = [[one.leaves, 'leave', 'leaves'], [one.consents, 'consent', 'consents'], [trees.own, 'tree', 'trees']].filter(([list]) => list.length > 0).map(([list, word, words]) => count(list.length, word, words));
    if (hangs.length) {
      const answer = await ask({
        title: `Remove ${one.site.fields.name ?? 'this site'}?`,
        text: `${hangs.join(', ')} hang on it. They stay kept, but without their site May I? no longer knows this ground.`,
        choices: [{ value: 'yes', label: 'Remove it all the same', kind: 'rust' }],
        no: 'Keep it',
      });
      if (answer === null) return;
    }
    await save({ rec: id, type: 'site', set: { deleted: true } }, { deleted: false });
    await dropDraft(key);
    globalThis.location.hash = '#/ground';
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
    if (!isFacts()) drawSide();
  }

  drawHead();
  drawMap();
  map.fit(ground.sites.map(({ site }) => site.fields.boundary)); // a new site has nothing of its own to show yet
  drawTrees();
  drawSide();
  if (editing?.what === 'boundary') openBoundary();
  else drawBoundary();
  const stops = [
    on(root, 'click', '[data-edit]', (ev, button) => openForm(button.dataset.edit)),
    on(root, 'click', '[data-cancel]', closeForm),
    on(root, 'click', '[data-remove]', remove),
    on(root, 'click', '[data-put-back]', (ev, button) => putBack(button.dataset.putBack).catch((fault) => notice(`Not saved: ${fault.message}`, { kind: 'trouble' }))),
    on(root, 'click', '[data-services]', () => save({ rec: id, type: 'site', set: { services_checked_on: todayAt(one.site) } }, { services_checked_on: null })),
    on(root, 'input', '[data-form]', (ev, form) => saveDraft(key, (editing = { ...editing, values: { ...editing.values, ...readDraft(form) } }))),
    on(root, 'submit', '[data-form]', submit),
    onStoreChange(redraw),
  ];
  if (await getMeta(WATCH)) startWatch(); // only now: a tap while it is asked for must find someone who listens
  return () => {
    closed = true;
    for (const stop of stops) stop();
    stopWatch?.();
    editor?.();
    map.close();
  };
}
