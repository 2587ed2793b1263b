/** One tree: what it is, where it stands or stood, its photos, its lift with the answer, what is due, and what was seen and done. */

import { watchFix } from '../device.js';
import { bestFix, fixFields, metresBetween, recentKinds, stageOf, todayOn, visitChange } from '../hill/ground_facts.js';
import { LatestFix, Thumbs } from '../hill/shots.js';
import { newest, openTasks, readTree } from '../hill/tree_facts.js';
import { addPhotos, photoSheet, seePhoto } from '../hill/tree_photos.js';
import { dropDraft, getDraft, newId, onStoreChange, saveChange, saveChanges, saveDraft } from '../store.js';
import { ask } from '../ui/dialog.js';
import { chips, dateField, FormFault, noteField, numberField, readDraft, readForm } from '../ui/form.js';
import { html, on, render } from '../ui/html.js';
import { icon } from '../ui/icons.js';
import { notice } from '../ui/notice.js';
import { livePosition } from '../ui/position.js';
import { formOfTree, kindField, measureFields, siteField, treeOfForm } from '../ui/tree_form.js';
import { EVENTS, eventWord, factList, fixList, historyList, liftSheet, sureWords, taskSheet } from '../ui/tree_sheets.js';
import { showDate, showDistance, speciesName, stageWord, workWord } from '../ui/words.js';

const WORKS = ['prepare', 'repot', 'trim', 'hard-prune', 'wire', 'unwire', 'defoliate', 'feed', 'shelter', 'suckers'];
const ENDINGS = [
  { value: 'lost', label: 'lost: it died', icon: 'stage_lost' },
  { value: 'parted', label: 'parted with', icon: 'stage_parted' },
  { value: 'left_standing', label: 'left standing', icon: 'stage_left_standing' },
];

/**
 * Open the screen.
 * @param {Element} root
 * @param {{id: string}} params
 */
export async function open(root, params) {
  const { id } = params;
  let facts = await readTree(id);
  const latest = new LatestFix();
  const thumbs = new Thumbs();
  let live = null;
  let stopWatch = null; // set while a position is being taken
  let editing = Boolean(await getDraft(`tree-${id}`));
  let seen = facts.tree; // as it was when the form was opened, so that nothing is overruled unseen

  if (!facts.tree || facts.tree.deleted) {
    render(root, html`<div class="page"><div class="empty">${icon('trees')}<p>That tree is not kept on this phone.</p><a class="button hill" href="#/trees">See the trees</a></div></div>`);
    return () => {};
  }

  function conflictLine() {
    return Object.keys(facts.tree.conflicts ?? {}).length > 0 && html`<p class="state ask">${icon('ask')}Two people wrote different things here. <a href="#/sync">Settle it</a></p>`;
  }

  function editForm(fields, draft) {
    const v = draft ?? formOfTree(fields);
    return html`<form novalidate id="tree-edit" class="sheet"><h2>Change what is written</h2>
      ${kindField({ value: v.species ?? null, kinds: recentKinds(facts.trees, fields.site ?? null, facts.pack), nameOf: (kind) => speciesName(facts.pack, kind) })}
      ${measureFields(v)}
      ${siteField({ value: v.site ?? null, sites: [...facts.sites], first: 'none' })}
      <div class="actions"><button type="button" class="button hill" data-edit-off>Leave it as it was</button><button type="submit" class="button primary hill">Save</button></div></form>`;
  }

  function historySheet() {
    return html`<section class="sheet"><div class="sheet-head"><h2>Seen and done</h2></div>
      <div class="pick-row"><button type="button" class="button hill" data-note-event>${icon('leafbud')}Note what it does</button><button type="button" class="button hill" data-note-work>${icon('edit')}Note what was done</button></div>
      ${historyList(facts)}</section>`;
  }

  function positionSheet() {
    return html`<section class="sheet"><h2>Positions</h2>
      <div data-live-position ${stopWatch ? '' : html`hidden`}></div>
      ${stopWatch
        ? html`<div class="actions"><button type="button" class="button hill" data-stop-fix>Not now</button><button type="button" class="button primary hill" data-keep-fix>${icon('fix')}Keep this one</button></div>`
        : html`<button type="button" class="button hill" data-take-fix>${icon('fix')}Take it here</button>`}
      ${fixList(newest(facts.fixes, 'fixed_at'))}
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
    const away = best && latest.fix ? showDistance(metresBetween(latest.fix, best)) : null;
    const twins = facts.trees.filter((one) => one.id !== id && fields.tag && one.fields.tag === fields.tag).length;
    const standing = stage === 'marked';
    render(root, html`<div class="page tree">
      <div class="page-head"><a class="back" href="#/trees">${icon('back')}Trees</a>
        <h1><span class="tag big">${fields.tag ?? 'no tag'}</span> ${speciesName(facts.pack, fields.species)}</h1>
        <p class="under"><span class="state">${icon(`stage_${stage}`)}${stageWord(stage)}</span></p>${conflictLine()}
        ${twins > 0 && html`<p class="state ask">${icon('ask')}Another tree has the tag ${fields.tag} too. Give one of them a new one.</p>`}</div>
      <div class="cols wide-first"><div>
        ${editing ? editForm(fields, draft) : html`<section class="sheet"><div class="sheet-head"><h2>The tree</h2><button type="button" class="button" data-edit>${icon('edit')}Change</button></div>${factList(facts, best, away)}</section>`}
        ${photoSheet(facts.photos)}
        ${historySheet()}
      </div><div>
        ${liftSheet(newest(facts.lifts, 'lifted_on')[0] ?? null, stage)}
        ${taskSheet(facts, openTasks(facts.tasks, facts.settled, todayOn()), todayOn())}
        ${positionSheet()}
        <div>${fields.ended_as ? html`<button type="button" class="button" data-not-ended>${icon('undo')}It has not ended after all</button>` : html`<button type="button" class="button rust" data-end>It has come to its end</button>`}</div>
      </div></div>
      ${standing && html`<div class="actions stuck"><a class="button hill" href="#/may-i?tree=${id}">${icon('may_i')}May I dig it?</a><a class="button primary hill" href="#/lift/${id}">${icon('spade')}Log the lift</a></div>`}
    </div>`);
    live = stopWatch ? livePosition(root.querySelector('[data-live-position]')) : null;
    live?.show(latest.fix);
    trying(() => thumbs.show(root))();
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
    await keep(changes, `Position taken, ${sureWords(fix.accuracy_m)}.`);
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
    const next = { ...treeOfForm(read), site: read.site };
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
    on(root, 'change', 'input[name="photo"]', trying((ev, input) => addPhotos(input, { ...facts, latest }))),
    on(root, 'change', 'input[name="chosen"]', trying((ev, input) => addPhotos(input, { ...facts, latest: null }))),
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
    thumbs.close();
  };
}
