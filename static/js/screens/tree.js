/** One tree: what it is, where it stands or stood, its photos, its lift with the answer, what is due, and what was seen and done. */

import { cmToMm, mmToCm, showCm } from '../core/lengths.js';
import { watchFix } from '../device.js';
import { bestFix, fixFields, metresBetween, recentKinds, siteNames, stageOf, todayOn, visitChange } from '../hill/ground_facts.js';
import { LatestFix, photoBytes, photoChange, pictureUrl, takeShot } from '../hill/shots.js';
import { dropDraft, getDraft, getPack, getPhoto, getRecord, getThumb, listRecords, newId, onStoreChange, recordsWhere, saveChange, saveChanges, saveDraft } from '../store.js';
import { ANSWER_WORDS, answerReasons } from '../ui/answer.js';
import { ask } from '../ui/dialog.js';
import { chips, dateField, fileField, FormFault, noteField, numberField, readDraft, readForm, textField } from '../ui/form.js';
import { html, on, render } from '../ui/html.js';
import { icon } from '../ui/icons.js';
import { notice } from '../ui/notice.js';
import { livePosition } from '../ui/position.js';
import { showDate, showDistance, showInstant, speciesName, stageWord, workWord } from '../ui/words.js';

const EVENTS = {
  bud_swell: 'bud swell',
  bud_break: 'bud break',
  flush_hardened: 'first flush hardened',
  leaf_colour: 'leaf colour',
  leaf_fall: 'leaf fall',
  frost: 'frost',
};
const WORKS = ['prepare', 'repot', 'trim', 'hard-prune', 'wire', 'unwire', 'defoliate', 'feed', 'shelter', 'suckers'];
const ENDINGS = [
  { value: 'lost', label: 'lost: it died', icon: 'stage_lost' },
  { value: 'parted', label: 'parted with', icon: 'stage_parted' },
  { value: 'left_standing', label: 'left standing', icon: 'stage_left_standing' },
];
const ROOT_WORDS = { most: 'most', half: 'about half', few: 'few' };
const eventWord = (kind) => EVENTS[kind] ?? String(kind ?? 'event').replaceAll(/[-_]/g, ' ');
const known = (value) => value !== null && value !== undefined;

/** Everything kept about one tree. */
async function readTree(id) {
  const of = (type) => recordsWhere(type, 'tree', id);
  const [tree, pack, sites, lifts, fixes, photos, events, works, boxes, visits, states, trees] = await Promise.all([
    getRecord(id), getPack(), siteNames(), of('lift'), of('fix'), of('photo'), of('event'), of('work'), of('box'), listRecords('visit'), of('task_state'), listRecords('tree'),
  ]);
  const settled = new Map(states.map((state) => [state.id, state.fields]));
  const tasks = (pack?.tasks ?? []).filter((task) => task.tree === id);
  return { tree, pack, sites, lifts, fixes, photos, events, works, boxes, visits, trees, tasks, settled };
}

function newest(records, field) {
  return [...records].sort((a, b) => String(b.fields[field] ?? '').localeCompare(String(a.fields[field] ?? '')));
}

/**
 * Open the screen.
 * @param {Element} root
 * @param {{id: string}} params
 */
export async function open(root, params) {
  const { id } = params;
  let facts = await readTree(id);
  const latest = new LatestFix();
  let live = null;
  let stopWatch = null; // set while a position is being taken
  let editing = Boolean(await getDraft(`tree-${id}`));
  let seen = facts.tree; // as it was when the form was opened, so that nothing is overruled unseen
  const pictures = new Map();

  if (!facts.tree || facts.tree.deleted) {
    render(root, html`<div class="page"><div class="empty">${icon('trees')}<p>That tree is not kept on this phone.</p><a class="button hill" href="#/trees">See the trees</a></div></div>`);
    return () => {};
  }

  function factList(fields, position) {
    const rows = [
      ['Kind', speciesName(facts.pack, fields.species)],
      ['Site', fields.site ? html`<a href="#/site/${fields.site}">${facts.sites.get(fields.site) ?? 'not kept here'}</a>` : 'none'],
      ['Girth', showCm(fields.girth_mm)],
      ['Height', showCm(fields.height_mm)],
      ['Condition', fields.condition ?? 'not noted'],
      [fields.origin === 'client' ? 'Taken in' : 'Marked', showDate(fields.marked_on)],
      ['Position', position ? html`${position.lat.toFixed(5)}, ${position.lon.toFixed(5)}<br>${known(position.accuracy_m) ? `± ${Math.max(1, Math.round(position.accuracy_m))} m` : 'accuracy not known'}${latest.fix ? `, ${showDistance(metresBetween(latest.fix, position))} from here` : ''}` : 'not known'],
    ];
    if (fields.ended_as) rows.push(['End', `${stageWord(fields.ended_as)}, ${showDate(fields.ended_on)}`]);
    return html`<dl class="facts">${rows.map(([name, value]) => html`<dt>${name}</dt><dd>${value}</dd>`)}</dl>
      ${fields.note && html`<p class="note">${fields.note}</p>`}`;
  }

  function conflictLine() {
    return Object.keys(facts.tree.conflicts ?? {}).length > 0 && html`<p class="state ask">${icon('ask')}Two people wrote different things here. <a href="#/sync">Settle it</a></p>`;
  }

  function editForm(fields, draft) {
    const v = draft ?? { ...fields, girth_cm: mmToCm(fields.girth_mm), height_cm: mmToCm(fields.height_mm) };
    const kinds = recentKinds(facts.trees, fields.site ?? null, facts.pack);
    if (v.species && !kinds.includes(v.species)) kinds.unshift(v.species);
    return html`<form novalidate id="tree-edit" class="sheet"><h2>Mend what is written</h2>
      ${textField({ name: 'tag', label: 'Tag', value: v.tag })}
      ${chips({ name: 'species', label: 'Kind', value: v.species ?? null, options: [...kinds.map((kind) => ({ value: kind, label: speciesName(facts.pack, kind) })), { value: null, label: 'not known' }] })}
      ${numberField({ name: 'girth_cm', label: 'Girth', unit: 'cm', value: v.girth_cm, step: 1, start: 20, min: 0.1, max: 1000, whole: false })}
      ${numberField({ name: 'height_cm', label: 'Height', unit: 'cm', value: v.height_cm, step: 10, start: 100, min: 1, max: 10000, whole: false })}
      ${textField({ name: 'condition', label: 'Condition', value: v.condition })}
      <div class="field"><label for="tree-site">Site</label><select id="tree-site" name="site"><option value="">none</option>
        ${[...facts.sites].map(([site, name]) => html`<option value="${site}" ${v.site === site ? html`selected` : ''}>${name}</option>`)}</select></div>
      ${noteField({ name: 'note', label: 'Note', value: v.note })}
      <div class="actions"><button type="button" class="button hill" data-edit-off>Leave it as it was</button><button type="submit" class="button primary hill">Save</button></div></form>`;
  }

  function photoGrid() {
    const photos = newest(facts.photos, 'taken_at');
    return html`<section class="sheet"><div class="sheet-head"><h2>Photos</h2>${fileField({ name: 'photo', label: 'Take photo', capture: true })}</div>
      ${photos.length === 0 ? html`<p class="muted">No photo yet.</p>` : html`<div class="photos">${photos.map(({ id: rec, fields }) => html`<figure>
        <button type="button" data-see="${fields.sha256}" aria-label="See the photo of ${fields.taken_at ? showInstant(fields.taken_at) : 'a day not known'}"><span data-thumb="${fields.sha256}" class="thumb-spot">${icon('photo')}</span></button>
        <figcaption>${fields.taken_at ? showDate(fields.taken_at.slice(0, 10)) : 'day not known'}</figcaption></figure>`)}</div>`}
      ${fileField({ name: 'chosen', label: 'Choose photos', multiple: true, iconName: 'photo', kind: 'quiet' })}</section>`;
  }

  function liftSheet(stage) {
    const lift = newest(facts.lifts, 'lifted_on')[0];
    if (!lift) {
      return ['marked'].includes(stage) && html`<section class="sheet"><h2>Lift</h2><p class="muted">Not lifted.</p></section>`;
    }
    const f = lift.fields;
    const verdict = f.answer?.verdict ?? null;
    const rows = [
      ['Lifted', showDate(f.lifted_on)],
      ['Root ball', known(f.ball_diameter_mm) || known(f.ball_depth_mm) ? `${showCm(f.ball_diameter_mm)} across, ${showCm(f.ball_depth_mm)} deep` : 'not noted'],
      ['Roots kept', ROOT_WORDS[f.roots_kept] ?? f.roots_kept ?? 'not noted'],
      ['By', f.machine === true ? 'machine' : f.machine === false ? 'hand' : 'not noted'],
      ['Hole', f.hole_filled === true ? 'filled' : f.hole_filled === false ? 'not filled' : 'not noted'],
    ];
    return html`<section class="sheet"><h2>Lift</h2>
      ${verdict
        ? html`<p class="state ${{ yes: 'good', ask: 'ask', no: 'bad' }[verdict.answer]}" data-lift-answer="${verdict.answer}">${icon(verdict.answer)}May I? said: ${ANSWER_WORDS[verdict.answer]}</p>
          <details class="fold"><summary>The answer as it stood</summary><p class="muted">${showInstant(f.answer.asked_at)}</p>${answerReasons(verdict) ?? html`<p>Nothing stood against it.</p>`}</details>`
        : html`<p class="state quiet">${icon('ask')}No answer was had before this lift.</p>`}
      <dl class="facts">${rows.map(([name, value]) => html`<dt>${name}</dt><dd>${value}</dd>`)}</dl>
      ${f.kept_conditions?.length > 0 && html`<p>Terms kept:</p><ul class="plain-list">${f.kept_conditions.map((term) => html`<li>${term}</li>`)}</ul>`}
      ${f.note && html`<p class="note">${f.note}</p>`}</section>`;
  }

  function taskSheet() {
    const open = facts.tasks.filter((task) => !['done', 'skipped'].includes(facts.settled.get(task.rec)?.state)).sort((a, b) => String(a.by ?? a.from).localeCompare(String(b.by ?? b.from)));
    if (open.length === 0 && (facts.lifts.length === 0 || facts.tree.fields.ended_as)) return null;
    const today = todayOn();
    return html`<section class="sheet"><div class="sheet-head"><h2>Due</h2>${open.length > 0 && html`<a class="button" href="#/due?tree=${id}">See and tick</a>`}</div>
      ${open.length === 0 ? html`<p class="muted">${facts.tasks.length === 0 ? 'Its care plan comes when home has its lift.' : 'Nothing open.'}</p>` : html`<ul class="entries">${open.slice(0, 5).map((task) => html`<li><div class="entry"><span class="entry-main"><span class="entry-title">${task.text}</span>
        <span class="entry-under">${task.by && task.by < today ? `overdue since ${showDate(task.by)}` : `${showDate(task.from)} to ${showDate(task.by)}`}</span></span></div></li>`)}</ul>`}
      ${open.length > 5 && html`<p class="muted">and ${open.length - 5} more</p>`}</section>`;
  }

  function historySheet() {
    const entries = [
      ...facts.events.map((one) => ({ on: one.fields.happened_on, what: eventWord(one.fields.kind), note: one.fields.note, icon: 'leafbud' })),
      ...facts.works.map((one) => ({ on: one.fields.done_on, what: workWord(one.fields.kind), note: one.fields.note, icon: 'wire' })),
      ...facts.boxes.map((one) => ({ on: one.fields.boxed_on, what: `into a box${known(one.fields.volume_l) ? ` of ${one.fields.volume_l} L` : ''}`, note: one.fields.note, icon: 'box' })),
    ].sort((a, b) => String(b.on ?? '').localeCompare(String(a.on ?? '')));
    return html`<section class="sheet"><div class="sheet-head"><h2>Seen and done</h2></div>
      <div class="pick-row"><button type="button" class="button hill" data-note-event>${icon('leafbud')}Note what it does</button><button type="button" class="button hill" data-note-work>${icon('edit')}Note a work</button></div>
      ${entries.length === 0 ? html`<p class="muted">Nothing noted yet. Bud break and hardening set the dates of much else.</p>` : html`<ul class="entries">${entries.map((one) => html`<li><div class="entry"><span class="entry-icon">${icon(one.icon)}</span><span class="entry-main"><span class="entry-title">${one.what}</span>${one.note && html`<span class="entry-under">${one.note}</span>`}</span><span class="entry-side nowrap">${showDate(one.on)}</span></div></li>`)}</ul>`}</section>`;
  }

  function positionSheet() {
    return html`<section class="sheet"><h2>Positions</h2>
      <div data-live-position ${stopWatch ? '' : html`hidden`}></div>
      ${stopWatch
        ? html`<div class="actions"><button type="button" class="button hill" data-stop-fix>Not now</button><button type="button" class="button primary hill" data-keep-fix>${icon('fix')}Keep this one</button></div>`
        : html`<button type="button" class="button hill" data-take-fix>${icon('fix')}Take it here</button>`}
      ${facts.fixes.length === 0 ? html`<p class="muted">None yet. Stand beside the tree and take it.</p>` : html`<ul class="entries">${newest(facts.fixes, 'fixed_at').map(({ fields }) => html`<li><div class="entry"><span class="entry-main"><span>${fields.lat?.toFixed(5)}, ${fields.lon?.toFixed(5)}</span><span class="entry-under">${showInstant(fields.fixed_at)}</span></span><span class="entry-side">${known(fields.accuracy_m) ? `± ${Math.max(1, Math.round(fields.accuracy_m))} m` : 'accuracy not known'}</span></div></li>`)}</ul>`}
      <p class="muted">No navigation or rescue device.</p></section>`;
  }

  /** The receiver runs only while a position is being taken. */
  async function startFix() {
    const show = (trouble) => live?.show(latest.fix, trouble);
    stopWatch = watchFix((got) => { latest.take(got); show(null); }, (said) => show(said.message));
    await draw();
    root.querySelector('[data-keep-fix]').focus();
  }

  async function stopFix() {
    stopWatch?.();
    stopWatch = null;
    await draw();
  }

  async function draw() {
    const { fields } = facts.tree;
    const draft = editing ? await getDraft(`tree-${id}`) : null;
    const stage = stageOf(facts.tree, facts.lifts, facts.pack);
    const best = bestFix(facts.fixes)?.fields ?? null;
    const twins = facts.trees.filter((one) => one.id !== id && fields.tag && one.fields.tag === fields.tag).length;
    const standing = stage === 'marked';
    render(root, html`<div class="page tree">
      <div class="page-head"><a class="back" href="#/trees">${icon('back')}Trees</a>
        <h1><span class="tag big">${fields.tag ?? 'no tag'}</span> ${speciesName(facts.pack, fields.species)}</h1>
        <p class="under"><span class="state">${icon(`stage_${stage}`)}${stageWord(stage)}</span></p>${conflictLine()}
        ${twins > 0 && html`<p class="state ask">${icon('ask')}Another tree has the tag ${fields.tag} too. Give one of them a new one.</p>`}</div>
      <div class="cols wide-first"><div>
        ${editing ? editForm(fields, draft) : html`<section class="sheet"><div class="sheet-head"><h2>The tree</h2><button type="button" class="button" data-edit>${icon('edit')}Mend</button></div>${factList(fields, best)}</section>`}
        ${photoGrid()}
        ${historySheet()}
      </div><div>
        ${liftSheet(stage)}
        ${taskSheet()}
        ${positionSheet()}
        <div>${fields.ended_as ? html`<button type="button" class="button" data-not-ended>${icon('undo')}It has not ended after all</button>` : html`<button type="button" class="button rust" data-end>It has come to its end</button>`}</div>
      </div></div>
      ${standing && html`<div class="actions stuck"><a class="button hill" href="#/may-i?tree=${id}">${icon('may_i')}May I dig it?</a><a class="button primary hill" href="#/lift/${id}">${icon('spade')}Log the lift</a></div>`}
    </div>`);
    live = stopWatch ? livePosition(root.querySelector('[data-live-position]')) : null;
    live?.show(latest.fix);
    showThumbs();
  }

  async function showThumbs() {
    const spots = [...root.querySelectorAll('[data-thumb]')];
    const showNext = async () => {
      for (let spot = spots.shift(); spot; spot = spots.shift()) {
        const { thumb } = spot.dataset;
        if (!pictures.has(thumb)) {
          const got = await getThumb(thumb);
          pictures.set(thumb, got ? pictureUrl(got.bytes, got.type) : null);
        }
        if (pictures.get(thumb)) render(spot, html`<img src="${pictures.get(thumb)}" alt="">`);
      }
    };
    await Promise.all([showNext(), showNext(), showNext(), showNext()]); // one slow picture does not hold up the others
  }

  async function seePhoto(sha256) {
    const photo = await getPhoto(sha256);
    if (!photo) {
      notice('This photo is not on this phone, and home is not in reach.', { kind: 'plain' });
      return;
    }
    const url = pictureUrl(photo.bytes, photo.type);
    await ask({ title: 'Photo', text: html`<img src="${url}" alt="The photo, whole">`, choices: [], no: 'Close' });
    URL.revokeObjectURL(url);
  }

  async function addPhotos(input, nowHere) {
    const files = [...input.files];
    let added = 0;
    for (const file of files) {
      try {
        const shot = await takeShot(file, nowHere ? latest : null);
        const visit = nowHere ? visitChange(facts.visits, facts.tree.fields.site ? { id: facts.tree.fields.site, fields: {} } : null, todayOn()) : { id: null, change: null };
        const changes = [{ rec: newId(), ...photoChange(shot, { tree: id, site: facts.tree.fields.site ?? null, visit: visit.id }) }];
        if (visit.change) changes.push(visit.change);
        const { photos_refused: refused } = await saveChanges(changes, { photos: [photoBytes(shot)] });
        if (refused.length === 0) added += 1; // what found no room is said by the app itself
      } catch (fault) {
        notice(`${file.name}: ${fault.message}`, { kind: 'trouble' });
      }
    }
    input.value = '';
    if (added > 0) notice(`${added === 1 ? 'Photo' : `${added} photos`} saved on this phone.`);
  }

  /** Save records and offer to take them back. */
  async function keep(changes, words) {
    const made = changes.map((change) => ({ rec: change.rec ?? newId(), ...change }));
    await saveChanges(made, {});
    notice(`${words} Saved on this phone.`, { undo: () => saveChanges(made.map(({ rec, type }) => ({ rec, type, set: { deleted: true } })), {}) });
  }

  async function noteEvent() {
    const said = await ask({ title: 'What does it do?', yes: 'Save', fields: html`
      ${chips({ name: 'kind', label: 'Seen', required: true, options: Object.entries(EVENTS).map(([value, label]) => ({ value, label })) })}
      ${dateField({ name: 'happened_on', label: 'On', value: todayOn(), required: true })}${noteField({ name: 'note', label: 'Note', rows: 2 })}` });
    if (said) await keep([{ type: 'event', set: { tree: id, site: facts.tree.fields.site ?? null, ...said } }], `${eventWord(said.kind)}, ${showDate(said.happened_on)}.`);
  }

  async function noteWork() {
    const said = await ask({ title: 'What was done?', yes: 'Save', fields: html`
      ${chips({ name: 'kind', label: 'Work', required: true, options: WORKS.map((work) => ({ value: work, label: workWord(work) })) })}
      ${dateField({ name: 'done_on', label: 'On', value: todayOn(), required: true })}
      ${numberField({ name: 'hours', label: 'Hours', value: null, step: 0.5, start: 0.5, min: 0, max: 1000, whole: false })}${noteField({ name: 'note', label: 'Note', rows: 2 })}` });
    if (said) await keep([{ type: 'work', set: { tree: id, ...said } }], `${workWord(said.kind)}, ${showDate(said.done_on)}.`);
  }

  async function takePosition() {
    const fix = await latest.now();
    if (!fix) {
      notice('Still searching for a position. Wait a little under the open sky and try again.', { kind: 'plain' });
      return;
    }
    const site = facts.tree.fields.site ? { id: facts.tree.fields.site, fields: {} } : null;
    const visit = visitChange(facts.visits, site, todayOn());
    const changes = [{ type: 'fix', set: fixFields(fix, id, visit.id) }];
    if (visit.change) changes.push(visit.change);
    await stopFix();
    await keep(changes, `Position taken, ${known(fix.accuracy_m) ? `± ${Math.max(1, Math.round(fix.accuracy_m))} m` : 'accuracy not known'}.`);
  }

  async function end() {
    const said = await ask({ title: `How did ${facts.tree.fields.tag ?? 'it'} end here?`, yes: 'Save', fields: html`
      ${chips({ name: 'ended_as', label: 'End', required: true, options: ENDINGS })}
      ${dateField({ name: 'ended_on', label: 'On', value: todayOn(), required: true })}` });
    if (!said) return;
    const before = { ended_as: facts.tree.fields.ended_as ?? null, ended_on: facts.tree.fields.ended_on ?? null };
    await saveChange({ rec: id, type: 'tree', set: said });
    notice(`${stageWord(said.ended_as)}, ${showDate(said.ended_on)}. Saved on this phone.`, { undo: () => saveChange({ rec: id, type: 'tree', set: before }) });
  }

  async function saveEdit(ev, form) {
    ev.preventDefault();
    let read;
    try {
      read = readForm(form);
    } catch (fault) {
      if (fault instanceof FormFault) return;
      throw fault;
    }
    const next = { tag: read.tag, species: read.species, girth_mm: cmToMm(read.girth_cm), height_mm: cmToMm(read.height_cm), condition: read.condition, site: read.site, note: read.note };
    const { fields } = seen;
    const set = Object.fromEntries(Object.entries(next).filter(([name, value]) => value !== (fields[name] ?? null)));
    const before = Object.fromEntries(Object.keys(set).map((name) => [name, fields[name] ?? null]));
    if (Object.keys(set).length > 0) {
      await saveChange({ rec: id, type: 'tree', set, seen });
      notice('Saved on this phone.', { undo: () => saveChange({ rec: id, type: 'tree', set: before }) });
    }
    await dropDraft(`tree-${id}`);
    editing = false;
    await draw();
  }

  const trying = (work) => async (...args) => {
    try {
      await work(...args);
    } catch (fault) {
      notice(`Not saved: ${fault.message}`, { kind: 'trouble' });
    }
  };

  async function again() {
    facts = await readTree(id);
    if (!facts.tree || facts.tree.deleted) {
      render(root, html`<div class="page"><div class="empty">${icon('bin')}<p>This tree was taken out.</p><a class="button hill" href="#/trees">See the trees</a></div></div>`);
      return;
    }
    if (!root.querySelector('#tree-edit')?.contains(document.activeElement)) await draw();
  }

  await draw();
  const click = (selector, work) => on(root, 'click', selector, trying(work));
  const stops = [
    onStoreChange(trying(again)),
    click('[data-edit]', async () => { editing = true; seen = facts.tree; await draw(); root.querySelector('#tree-edit input')?.focus(); }),
    click('[data-edit-off]', async () => { editing = false; await dropDraft(`tree-${id}`); await draw(); }),
    on(root, 'input', '#tree-edit', trying((ev) => saveDraft(`tree-${id}`, readDraft(ev.target.form)))),
    on(root, 'submit', '#tree-edit', trying(saveEdit)),
    on(root, 'change', 'input[name="photo"]', trying((ev, input) => addPhotos(input, true))),
    on(root, 'change', 'input[name="chosen"]', trying((ev, input) => addPhotos(input, false))),
    click('[data-see]', (ev, el) => seePhoto(el.dataset.see)),
    click('[data-note-event]', noteEvent),
    click('[data-note-work]', noteWork),
    click('[data-take-fix]', startFix),
    click('[data-stop-fix]', stopFix),
    click('[data-keep-fix]', takePosition),
    click('[data-end]', end),
    click('[data-not-ended]', () => saveChange({ rec: id, type: 'tree', set: { ended_as: null, ended_on: null } })),
  ];
  return () => {
    stops.forEach((stop) => stop());
    stopWatch?.();
    for (const url of pictures.values()) if (url) URL.revokeObjectURL(url);
  };
}
