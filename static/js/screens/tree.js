/** One tree: what it is, its photos, its lift with the answer, what is due, and what was seen and done. */

import { gardenName } from '../hill/gardens.js';
import { stageOf, takenTags, todayOn, recentKinds } from '../hill/ground_facts.js';
import { viewPhotos } from '../hill/photo_view.js';
import { LatestFix, Thumbs } from '../hill/shots.js';
import { hasPosition } from '../hill/steady_fix.js';
import { putTreeBack, takeTreeAway } from '../hill/taken_away.js';
import { newest, openTasks, otherTrees, readTree } from '../hill/tree_facts.js';
import { addPhotos, photoSheet } from '../hill/tree_photos.js';
import { treePlace } from '../hill/tree_place.js';
import { wireOn } from '../hill/wire_facts.js';
import { dropDraft, getDraft, newId, onStoreChange, saveChange, saveDraft } from '../store.js';
import { flagsOf } from '../ui/flag_line.js';
import { careLinks } from '../ui/care_links.js';
import { FormFault, readDraft, readForm, showFault } from '../ui/form.js';
import { html, on, render } from '../ui/html.js';
import { icon } from '../ui/icons.js';
import { notice } from '../ui/notice.js';
import { oneTap } from '../ui/one_tap.js';
import { changeOfEntry, ENTRY_NAMES, entryForm, entryWords, faultOfEnd, faultOfEntry } from '../ui/tree_entry.js';
import { faultOfMarked, faultOfTree, followKind, formOfTree, gardenField, kindField, markedField, measureFields, sayTakenTag, siteField, treeOfForm } from '../ui/tree_form.js';
import { factList, historyList, liftSheet, placeSheet, stageFold, taskSheet, termsHeld, treeTitle } from '../ui/tree_sheets.js';
import { speciesName, tagName } from '../ui/words.js';

const EDIT = 'edit';
const LIFT = 'lift';

/**
 * Open the screen.
 * @param {Element} root
 * @param {{id: string, change?: string, lift?: string}} params change, lift: come to change the tree, or what its lift says
 */
export async function open(root, params) {
  const { id } = params;
  let facts = await readTree(id);
  const latest = new LatestFix();
  const thumbs = new Thumbs();
  const whole = new Set(); // lists shown to their end

  const drawMissing = () => render(root, html`<div class="page"><div class="page-head"><h1>Tree</h1></div><div class="empty">${icon('trees')}<p>That tree is not kept on this phone.</p><a class="button hill" href="#/trees">See the trees</a></div></div>`);
  if (!facts.tree) {
    drawMissing();
    return () => {};
  }

  // Forms left open come back as they were, each with what was typed in it.
  const keyOf = (what) => (what === EDIT ? `tree-${id}` : `tree-${id}-${what}`);
  const seenKey = `tree-${id}-seen`;
  const drafts = new Map();
  for (const what of [EDIT, LIFT, ...ENTRY_NAMES]) {
    const draft = await getDraft(keyOf(what));
    if (draft) drafts.set(what, draft);
  }
  // Come to write down what it is: said once, so that the page opened again is only the page.
  const toChange = Boolean(params.change) && !facts.tree.deleted && !drafts.has(EDIT);
  const toLift = Boolean(params.lift) && !facts.tree.deleted && facts.lifts.length > 0 && !drafts.has(LIFT);
  if (params.change || params.lift) globalThis.history.replaceState(null, '', `#/tree/${id}`);
  let seen = (await getDraft(seenKey)) ?? facts.tree; // the tree as the form was opened: nothing newer is overruled unseen

  const lift = () => newest(facts.lifts, 'lifted_on')[0] ?? null;
  const cards = () => facts.pack?.species ?? [];
  const about = () => ({ today: todayOn(), id, tag: facts.tree.fields.tag ?? null, lifted: facts.lifts.length > 0 });
  const liftValues = () => drafts.has(LIFT) && lift() && (Object.keys(drafts.get(LIFT)).length > 0 ? drafts.get(LIFT) : lift().fields);
  const entry = (what) => drafts.has(what) && entryForm(what, drafts.get(what), about());

  function editForm(fields) {
    const v = Object.keys(drafts.get(EDIT)).length > 0 ? drafts.get(EDIT) : formOfTree(seen.fields);
    return html`<form novalidate id="tree-edit" class="sheet" data-form="${EDIT}"><h2>Change what is written</h2>
      ${kindField({ value: v.species ?? null, typed: v.species_typed ?? null, kinds: recentKinds(facts.trees, fields.site ?? null, facts.pack), nameOf: (kind) => speciesName(facts.pack, kind) })}
      ${measureFields(v)}
      ${siteField({ value: v.site ?? null, sites: [...facts.sites], first: 'none' })}
      ${gardenField('stands_at' in v ? v.stands_at : (seen.fields.stands_at ?? null), facts.gardens, gardenName)}
      ${markedField('marked_on' in v ? v : seen.fields, { isClient: fields.origin === 'client', required: Boolean(seen.fields.marked_on) })}
      <div class="actions"><button type="button" class="button hill" data-entry-off="${EDIT}">Leave it as it was</button><button type="submit" class="button primary hill">Save</button></div></form>`;
  }

  function headLines(fields) {
    const twins = facts.trees.filter((one) => one.id !== id && fields.tag && one.fields.tag === fields.tag).length;
    return html`${Object.keys(facts.tree.conflicts ?? {}).length > 0 && html`<p class="state ask">${icon('ask')}Two people wrote different things here. <a href="#/sync">Settle it</a></p>`}
      ${twins > 0 && html`<p class="state ask">${icon('ask')}Another tree has the tag ${fields.tag} too. Give one of them a new one.</p>`}`;
  }

  function endBlock(fields) {
    if (fields.ended_as) return html`<button type="button" class="button" data-not-ended>${icon('undo')}It has not ended after all</button>`;
    return drafts.has('end') ? html`<section class="sheet">${entry('end')}</section>` : html`<button type="button" class="button rust" data-entry-on="end">It has come to its end</button>`;
  }

  /** Whether something would go with the tree that others wrote, on a phone that may only record. */
  const goesOfOthers = () => [facts.tree, ...facts.fixes, ...facts.photos, ...facts.events, ...facts.works, ...facts.boxes].some(({ id: rec }) => facts.others.has(rec));

  /** Only what was never lifted can have been a mistake: a tree that was dug out stays in the books. */
  const awayButton = () => facts.lifts.length === 0 && !goesOfOthers() && html`<p><button type="button" class="button quiet" data-take-away>${icon('bin')}Marked by mistake: take this tree away</button></p>`;

  /** Said where its page would be: gone, and how it comes back. */
  function drawGone() {
    render(root, html`<div class="page"><div class="page-head"><h1 tabindex="-1">${treeTitle(facts.tree.fields.tag, speciesName(facts.pack, facts.tree.fields.species))}</h1></div>
      <div class="empty">${icon('bin')}<p>This tree was taken away.</p>${!facts.others.has(id) && html`<button type="button" class="button hill" data-put-back>${icon('undo')}Put it back</button>`}<a class="button hill" href="#/trees">See the trees</a></div></div>`);
  }

  function draw() {
    const { fields } = facts.tree;
    const stage = stageOf(facts.tree, facts.lifts, facts.pack);
    const today = todayOn();
    const many = facts.fixes.filter((one) => hasPosition(one.fields)).length;
    const folds = [...root.querySelectorAll('details[open][data-fold]')].map((one) => one.dataset.fold);
    render(root, html`<div class="page tree">
      <div class="page-head"><a class="back" href="#/trees">${icon('back')}Trees</a>
        <h1>${treeTitle(fields.tag, speciesName(facts.pack, fields.species))}</h1>
        ${stageFold(stage)}${headLines(fields)}</div>
      <div class="cols wide-first"><div>
        ${drafts.has(EDIT) ? editForm(fields) : html`<section class="sheet"><div class="sheet-head"><h2>The tree</h2><button type="button" class="button" data-entry-on="${EDIT}">${icon('edit')}Change</button></div>${factList(facts)}</section>`}
        ${photoSheet(facts, whole)}
        <section class="sheet"><h2>Seen and done</h2>
          <div class="pick-row">${!drafts.has('event') && html`<button type="button" class="button hill" data-entry-on="event">${icon('leafbud')}Note what it does</button>`}${!drafts.has('work') && html`<button type="button" class="button hill" data-entry-on="work">${icon('edit')}Note what was done</button>`}</div>
          ${entry('event')}${entry('work')}${historyList(facts, whole.has('history'))}</section>
      </div><div>
        ${!['marked', 'left_standing', 'lost', 'parted'].includes(stage) && html`<p><a class="button hill wide" href="#/cut/${id}">${icon('cut')}Ask before you cut</a></p>${careLinks(id, wireOn(facts.wire, today))}`}
        ${taskSheet(facts, openTasks(facts.tasks, facts.settled, today), today, whole.has('tasks'))}
        ${liftSheet(lift(), stage, flagsOf(facts.pack, lift()?.id), { leaves: facts.leaves, form: liftValues(), mayChange: !facts.others.has(lift()?.id) })}
        ${placeSheet(id, treePlace(facts.fixes), many, ['marked', 'left_standing'].includes(stage))}
        <div class="stack">${endBlock(fields)}${awayButton()}</div>
      </div></div>
      ${stage === 'marked' && html`<div class="actions stuck"><a class="button hill" href="#/may-i?tree=${id}">${icon('may_i')}May I dig it?</a><a class="button primary hill" href="#/lift/${id}">${icon('spade')}Log the lift</a></div>`}
    </div>`);
    for (const fold of folds) root.querySelector(`details[data-fold="${fold}"]`)?.setAttribute('open', '');
    trying(() => thumbs.show(root), 'A picture cannot be shown')();
  }

  async function openForm(what) {
    if (what === EDIT) {
      seen = facts.tree;
      await saveDraft(seenKey, seen);
    }
    drafts.set(what, {});
    draw();
    const form = root.querySelector(`#tree-${what}`);
    form.scrollIntoView({ block: 'nearest' });
    form.querySelector('input').focus({ preventScroll: true });
  }

  async function letGo(what) {
    drafts.delete(what);
    await dropDraft(keyOf(what));
    if (what === EDIT) await dropDraft(seenKey);
    draw();
    root.querySelector(`[data-entry-on="${what}"]`)?.focus();
  }

  /** Close a form unsaved; what had been typed can be had back. */
  async function closeForm(what) {
    const typed = drafts.get(what);
    const asOpened = seen;
    await letGo(what);
    if (Object.keys(typed).length === 0) return;
    notice('What you had typed is put away.', { undo: async () => {
      if (what === EDIT) await saveDraft(seenKey, (seen = asOpened));
      await saveDraft(keyOf(what), typed);
      drafts.set(what, typed);
      draw();
    } });
  }

  async function keepDraft(ev) {
    const { form } = ev.target;
    const what = form.dataset.form ?? form.dataset.entry;
    if (what === EDIT) followKind(ev);
    drafts.set(what, readDraft(form));
    await saveDraft(keyOf(what), drafts.get(what));
  }

  /** Read a form; a fault stands at its field and is thrown. */
  function readWith(form, findFault) {
    const read = readForm(form);
    const fault = findFault(read);
    if (!fault) return read;
    form.querySelector(`[name="${fault.field}"]`)?.closest('details')?.setAttribute('open', '');
    showFault(form, fault.field, fault.sentence);
    throw new FormFault(fault.field, fault.sentence);
  }

  async function saveEdit(form) {
    const days = { lifted_on: newest(facts.lifts, 'lifted_on').at(-1)?.fields.lifted_on ?? null, ended_on: facts.tree.fields.ended_on ?? null };
    const read = readWith(form, (values) => faultOfTree(values, takenTags(facts, id), seen.fields.tag ?? null) ?? faultOfMarked(values.marked_on, days));
    const next = { ...treeOfForm(read, cards()), site: read.site, marked_on: read.marked_on, ...('stands_at' in read ? { stands_at: read.stands_at } : {}) };
    const { fields } = seen;
    const set = Object.fromEntries(Object.entries(next).filter(([name, value]) => value !== (fields[name] ?? null)));
    const before = Object.fromEntries(Object.keys(set).map((name) => [name, fields[name] ?? null]));
    if (Object.keys(set).length > 0) {
      await saveChange({ rec: id, type: 'tree', set, seen });
      notice('Saved on this phone.', { undo: () => saveChange({ rec: id, type: 'tree', set: before }) });
    }
    await letGo(EDIT);
  }

  /** What was kept and filled, told afterwards; a tick for a term that is not in the list stays. */
  async function saveLift(form) {
    const read = readWith(form, () => null);
    const { id: rec, fields } = lift();
    const terms = termsHeld(lift(), facts.leaves).all;
    const others = (fields.kept_conditions ?? []).filter((term) => !terms.includes(term));
    const next = { kept_conditions: [...(read.kept_conditions ?? []), ...others], hole_filled: read.hole_filled ? true : fields.hole_filled === true ? false : (fields.hole_filled ?? null) };
    const set = Object.fromEntries(Object.entries(next).filter(([name, value]) => JSON.stringify(value) !== JSON.stringify(fields[name] ?? (name === 'kept_conditions' ? [] : null))));
    const before = Object.fromEntries(Object.keys(set).map((name) => [name, fields[name] ?? null]));
    if (Object.keys(set).length > 0) {
      await saveChange({ rec, type: 'lift', set });
      notice('Saved on this phone.', { undo: () => saveChange({ rec, type: 'lift', set: before }) });
    }
    await letGo(LIFT);
  }

  async function saveEnd(form) {
    const read = readWith(form, (values) => faultOfEnd(values.ended_on, { marked_on: facts.tree.fields.marked_on ?? null, lifted_on: lift()?.fields.lifted_on ?? null }));
    await settleEnd(read, `${entryWords('end', read)} Saved on this phone.`);
    await letGo('end');
  }

  async function settleEnd(set, words) {
    const before = { ended_as: facts.tree.fields.ended_as ?? null, ended_on: facts.tree.fields.ended_on ?? null };
    await saveChange({ rec: id, type: 'tree', set });
    notice(words, { undo: () => saveChange({ rec: id, type: 'tree', set: before }) });
  }

  async function saveEntry(what, form) {
    const read = readWith(form, (values) => faultOfEntry(what, values));
    const rec = newId();
    const { type, set } = changeOfEntry(what, read, { id, site: facts.tree.fields.site ?? null });
    await saveChange({ rec, type, set });
    notice(`${entryWords(what, read)} Saved on this phone.`, { undo: () => saveChange({ rec, type, set: { deleted: true } }) });
    await letGo(what);
  }

  async function takeOut({ takeOut: rec, type, words }) {
    await saveChange({ rec, type, set: { deleted: true } });
    notice(`Taken out: ${words}.`, { undoWords: 'Undo the removal', undo: () => saveChange({ rec, type, set: { deleted: false } }) });
  }

  /** Undo in the notice is the quick way back; the list of trees and the tree's own address stay the slow one. */
  async function takeAway() {
    const photos = await takeTreeAway(id);
    const words = photos === 0 ? '' : photos === 1 ? ' Its photo waits without a tree.' : ` Its ${photos} photos wait without a tree.`;
    globalThis.location.hash = '#/trees';
    notice(`${tagName(facts.tree.fields.tag, 'The tree')} is taken away.${words}`, { undoWords: 'Undo the removal', undo: () => putTreeBack(id) });
  }

  /** Show a list to its end; the keyboard goes on at the first of what was folded. */
  function showWhole(name) {
    const before = root.querySelector(`[data-list="${name}"]`).children.length;
    whole.add(name);
    draw();
    const first = root.querySelector(`[data-list="${name}"]`).children[before];
    first.tabIndex = -1;
    first.focus({ preventScroll: true });
  }

  async function submit(ev, form) {
    ev.preventDefault();
    const what = form.dataset.form ?? form.dataset.entry;
    try {
      if (what === EDIT) await saveEdit(form);
      else if (what === LIFT) await saveLift(form);
      else if (what === 'end') await saveEnd(form);
      else await saveEntry(what, form);
      return true;
    } catch (fault) {
      if (!(fault instanceof FormFault)) throw fault; // else its sentence stands at the field
      return false;
    }
  }

  async function see(from, at) {
    const { fields } = facts.tree;
    const list = facts[from];
    const last = await viewPhotos(list, at, {
      tree: { id, name: tagName(fields.tag, 'this tree'), site: fields.site ?? null },
      stands: treePlace(facts.fixes),
      others: otherTrees(facts, id),
      mayChange: ({ id: rec }) => !facts.others.has(rec),
    });
    (root.querySelector(last === null ? '[data-see]' : `#photo-${list[last].id}`) ?? root.querySelector('h1')).focus();
  }

  const trying = (work, words = 'Not saved') => async (...args) => {
    try {
      await work(...args);
    } catch (fault) {
      notice(`${words}: ${fault.message}`, { kind: 'trouble' });
    }
  };

  async function again() {
    facts = await readTree(id);
    if (!facts.tree) drawMissing();
    else if (facts.tree.deleted) drawGone();
    else if (!document.activeElement?.closest('form[data-form], form[data-entry]')) draw();
  }

  if (facts.tree.deleted) drawGone();
  else if (toChange) await openForm(EDIT);
  else if (toLift) await openForm(LIFT);
  else draw();
  if (params.lift) root.querySelector(`#tree-${LIFT}`)?.setAttribute('data-arrive', '');
  const tap = oneTap();
  const click = (selector, work) => on(root, 'click', selector, trying(work));
  const stops = [
    onStoreChange(trying(again, 'The page could not be brought up to date')),
    click('[data-entry-on]', (ev, el) => openForm(el.dataset.entryOn)),
    click('[data-entry-off]', (ev, el) => closeForm(el.dataset.entryOff)),
    on(root, 'input', 'form[data-form], form[data-entry]', trying(keepDraft)),
    on(root, 'input', '#tree-edit [name="tag"]', (ev) => sayTakenTag(ev, () => takenTags(facts, id), () => seen.fields.tag ?? null)),
    on(root, 'submit', 'form[data-form], form[data-entry]', tap(submit)),
    on(root, 'change', 'input[name="photo"]', trying((ev, input) => addPhotos(input, { ...facts, latest }))),
    on(root, 'change', 'input[name="chosen"]', trying((ev, input) => addPhotos(input, { ...facts, latest: null }))),
    click('[data-see]', (ev, el) => see(el.dataset.see, Number(el.dataset.at))),
    click('[data-whole]', (ev, el) => showWhole(el.dataset.whole)),
    click('[data-take-away]', takeAway),
    click('[data-put-back]', () => putTreeBack(id)),
    click('[data-take-out]', (ev, el) => takeOut(el.dataset)),
    click('[data-not-ended]', () => settleEnd({ ended_as: null, ended_on: null }, 'It has not ended. Saved on this phone.')),
  ];
  return () => {
    stops.forEach((stop) => stop());
    thumbs.close();
  };
}
