/** Due: what wants doing, why, and by when; ticked off with a note, skipped, or taken back. Works with no signal. */

import { plusDays } from '../core/dates.js';
import { pagesOfCare } from '../hill/care_pages.js';
import { readFrostRound } from '../hill/frost.js';
import { placeNames } from '../hill/gardens.js';
import { todayOn, treeWords } from '../hill/ground_facts.js';
import { withRounds } from '../hill/rounds.js';
import { pagesOfTask, phonesOfTasks } from '../hill/site_tasks.js';
import { askTick, dropTick, photoOfTick } from '../hill/tick_note.js';
import { TONIGHT } from '../hill/tonight.js';
import { getDraft, getPack, listRecords, onStoreChange, saveChanges, saveDraft } from '../store.js';
import { chips } from '../ui/form.js';
import { frostLine } from '../ui/frost_line.js';
import { html, on, render } from '../ui/html.js';
import { icon } from '../ui/icons.js';
import { notice } from '../ui/notice.js';
import { reachButtons } from '../ui/reach.js';
import { count, plainSources, showDate, speciesName } from '../ui/words.js';
import { byPlace, byTree, countOpen, freshTrees, gist, groupTasks, isOfTheEvening, LATER_DAYS, unplannedLifts } from './due_groups.js';
import { roundRow, treeLists } from './due_round.js';

const LATE_AT_ONCE = 3; // what is late stands above today and must not push it out of sight
const ROWS_AT_ONCE = 10; // of a group; more would be scrolled past and not read
const SECOND_TAP_MS = 600; // a second tap this soon was meant for the first
const STAY_MS = 5000; // a ticked row keeps its place so long after the last touch
const VIEW = 'due-view'; // kept as a draft: how the person likes to read the page
const FAR = 'Further off';
const OWED = 'Owed to the landholder';
const TONIGHT_TITLE = 'Tonight';
const WEEKDAYS = ['Sunday', 'Monday', 'Tuesday', 'Wednesday', 'Thursday', 'Friday', 'Saturday'];

/** '2026-11-27' -> 'Friday, 27 Nov 2026'; the day after today is told as tomorrow. */
function dayWords(on, today) {
  const name = on === plusDays(today, 1) ? 'Tomorrow' : WEEKDAYS[new Date(`${on}T12:00:00Z`).getUTCDay()];
  return `${name}, ${showDate(on)}`;
}

/** 'by 3 Mar 2027', 'from 1 Mar 2027, by 14 Mar 2027'... as plain dates. */
function dueWords(task, today) {
  if (task.by !== null && task.by < today) return `overdue, by ${showDate(task.by)}`;
  if (task.from && task.from > today) return `from ${showDate(task.from)}${task.by ? `, by ${showDate(task.by)}` : ''}`;
  if (task.by === today) return 'today';
  return task.by ? `by ${showDate(task.by)}` : `since ${showDate(task.from)}`;
}

/**
 * Open the screen.
 * @param {Element} root
 * @param {{tree?: string, site?: string}} params tree: only this tree's tasks; site: at first only those of this site
 */
export async function open(root, params = {}) {
  let facts = null;
  let filter = params.site ?? null;
  let farShown = false;
  let lastTap = -Infinity; // when the list was last ticked or redrawn by a tick
  let lastTouch = -Infinity; // when a pointer was last in the list
  let busy = false;
  let waiting = null; // timer of the redraw that lets ticked rows go
  const stay = new Set(); // records of tasks settled just now, which keep their place
  const whole = new Set(); // titles of the groups shown to their end
  const ways = new Map(); // id of a round settled just now -> what puts it back
  let { view } = (await getDraft(VIEW)) ?? { view: 'place' }; // place: rounds and all else by place; tree: everything by tree
  let drawn = null; // the tasks as they are drawn, with their rounds
  let rounds = new Map(); // of these the rounds, by id
  let opened = new Set(); // names of the folds that were open when it was drawn

  async function read() {
    const [pack, trees, states, sites, lifts, gardens] = await Promise.all([getPack(), listRecords('tree'), listRecords('task_state'), placeNames(), listRecords('lift'), listRecords('garden')]);
    facts = {
      pack,
      trees: new Map(trees.map((tree) => [tree.id, tree])),
      states: new Map(states.map((one) => [one.id, one.fields])),
      sites,
      gardens: new Set(gardens.map(({ id }) => id)),
      lifts,
      phones: await phonesOfTasks(pack?.tasks ?? []),
      frost: params.tree ? null : await readFrostRound(todayOn()),
    };
    draw();
  }

  const tagOf = (tree) => tree.fields.tag ?? `${speciesName(facts.pack, tree.fields.species)} without a tag`;
  const siteName = (id) => facts.sites.get(id) ?? 'a site that is not kept here';
  /** Whose a task is, in a word: a tree's tag, or the name of a site. */
  const whoseTask = (task) => (task.parts ? task.text : task.tree ? facts.trees.has(task.tree) && tagOf(facts.trees.get(task.tree)) : siteName(task.site)) || null;
  const siteOf = (task) => task.site ?? facts.trees.get(task.tree)?.fields.site ?? null;

  const noteWords = (state) => (state.note ? 'Change the note' : state.state === 'skipped' ? 'Say why' : 'Add a note');

  function settledLine(state) {
    return html`<p class="state quiet">${icon(state.state === 'done' ? 'done' : 'skipped')}${state.state === 'done' ? 'done' : 'skipped'} ${showDate(state.settled_on)}</p>${state.note && html`<p class="note">${state.note}</p>`}`;
  }

  const roundFacts = (today) => ({ states: drawn.states, today, treeOf: (id) => facts.trees.get(id) ?? null, wordsOf: (tree) => (tree ? speciesName(facts.pack, tree.fields.species) : 'not kept here') });

  function taskRow(task, today, settled = false) {
    if (task.parts) return roundRow(task, { ...roundFacts(today), when: dueWords(task, today), ticked: drawn.stay.has(task.id), settled, opened: opened.has(task.id) });
    const state = facts.states.get(task.rec);
    const ticked = !settled && stay.has(task.rec) && Boolean(state?.state);
    const late = !settled && task.by !== null && task.by < today;
    const why = [plainSources(task.why), task.moved_from && `Moved here from ${showDate(task.moved_from)}, to a date that is safe for this kind.`].filter(Boolean).join(' ');
    return html`<li class="task ${ticked ? 'ticked' : ''}" data-task="${task.id}">
      <p class="task-text">${ticked ? html`<s>${task.text}</s>` : task.text}</p>
      ${settled || ticked
        ? html`${settledLine(state)}<div class="task-acts"><button type="button" class="button hill" id="again-${task.rec}" data-open-again="${task.rec}" aria-label="${ticked ? 'Undo' : 'Open again'}: ${gist(task.text)}">${icon('undo')}${ticked ? 'Undo' : 'Open again'}</button>
            <button type="button" class="button hill" data-note-done="${task.rec}" aria-label="${noteWords(state)}: ${gist(task.text)}">${noteWords(state)}</button></div>`
        : html`<div class="task-when"><p class="state ${late ? 'bad' : 'quiet'}">${icon(late ? 'warn' : 'clock')}${dueWords(task, today)}</p>
            ${why && html`<details class="fold why" data-why="${task.rec}"><summary aria-label="Why: ${gist(task.text)}">Why</summary><p class="muted">${why}</p></details>`}</div>
          ${waysOn(task)}
          <div class="task-acts">
            <button type="button" class="button primary hill" id="done-${task.rec}" data-done="${task.rec}">${icon('done')}Done</button>
            <button type="button" class="button hill" data-note-done="${task.rec}" aria-label="Done, with a note">With a note</button>
            <button type="button" class="button hill quiet" data-skip="${task.rec}">Skip</button>
          </div>`}
    </li>`;
  }

  /** Where a task is seen to; of a site's task also whom to ring. */
  function waysOn(task) {
    const tagHere = (id) => (facts.trees.has(id) ? tagOf(facts.trees.get(id)) : null);
    const pages = [...pagesOfTask(task, tagHere), ...pagesOfCare(task)];
    if (pages.length === 0) return null;
    const phones = facts.phones.get(task.rec) ?? [];
    return html`<div class="task-ways">${pages.map(({ href, words }) => html`<a class="button hill" href="${href}">${words}</a>`)}${phones.map(({ name, phone }) => (name ? html`<span class="row"><span class="whose">${name}</span>${reachButtons({ phone })}</span>` : reachButtons({ phone })))}</div>`;
  }

  function siteHead(id) {
    if (facts.gardens.has(id)) return html`<div class="task-head"><span class="site-name">${icon('house')}${siteName(id)}</span></div>`;
    return html`<div class="task-head"><a class="site-name" href="#/site/${id}">${icon('site')}${siteName(id)}</a></div>`;
  }

  function treeHead(id, task) {
    if (!id && task.site) return siteHead(task.site);
    if (task.parts) return html`<div class="task-head"><span class="site-name">On no site</span></div>`;
    const tree = facts.trees.get(id);
    const site = facts.sites.get(siteOf(task));
    return html`<div class="task-head">
      ${tree ? html`<a class="tag" href="#/tree/${tree.id}" aria-label="Tree ${tagOf(tree)}">${tree.fields.tag ?? 'without a tag'}</a>` : html`<span class="tag">${site ?? 'all'}</span>`}
      <span class="muted">${tree ? treeWords(facts.pack, tree) : ''}${site && tree ? `, ${site}` : ''}</span></div>`;
  }

  function treeBlocks(tasks, today, settled = false) {
    return byTree(view === 'place' ? byPlace(tasks, siteOf) : tasks).map(({ tree, tasks: some }) => html`<div class="task-tree">${treeHead(tree, some[0])}<ul class="tasks">${some.map((task) => taskRow(task, today, settled))}</ul></div>`);
  }

  /** How many of a group are open: '3', or '2, and 3 with time left' where not all of them are due by today. */
  function openWords(title, tasks, today) {
    const { late, today: due, left } = countOpen(tasks, drawn.states, today);
    const time = title === TONIGHT_TITLE ? 'by tomorrow' : 'with time left';
    if (late + due === 0) return left > 0 ? `${left} ${time}` : '';
    return left > 0 ? `${late + due}${title === TONIGHT_TITLE ? ' today' : ''}, and ${left} ${time}` : `${late + due}`;
  }

  /** One group; `above` stands before its tasks, `atOnce` of them are shown until more are asked for; folded: at a tap. */
  function group(title, tasks, today, { empty = null, above = null, atOnce = ROWS_AT_ONCE, folded = false } = {}) {
    if (tasks.length === 0 && !empty && !above) return null;
    const shown = whole.has(title) ? tasks : tasks.slice(0, atOnce);
    if (folded) {
      const whose = [...new Set(tasks.map(whoseTask).filter(Boolean))];
      return html`<details class="fold sheet" data-group="${title}" data-fold="${title}"><summary><span>${title} <span class="muted">${tasks.filter((task) => !drawn.stay.has(task.rec)).length}: ${whose.slice(0, 3).join(', ')}${whose.length > 3 ? '…' : ''}</span></span></summary>
        ${treeBlocks(shown, today)}${tasks.length > shown.length && html`<button type="button" class="button wide hill" data-whole="${title}">Show ${tasks.length - shown.length} more</button>`}</details>`;
    }
    return html`<section class="sheet" data-group="${title}"><h2 tabindex="-1">${title} <span class="muted">${title === FAR ? tasks.length : openWords(title, tasks, today)}</span></h2>
      ${above}${tasks.length > 0 ? treeBlocks(shown, today) : !above && html`<p class="muted">${empty}</p>`}
      ${tasks.length > shown.length && html`<button type="button" class="button wide hill" data-whole="${title}">Show ${tasks.length - shown.length} more</button>`}</section>`;
  }

  /** Lifts that home has not planned for yet: their first evening, as the lift page told it. */
  function unplanned(today, tasks) {
    const lifts = unplannedLifts(facts.lifts, tasks, facts.trees, today).filter(({ fields }) => (!params.tree || fields.tree === params.tree) && (filter === null || siteOf({ tree: fields.tree, site: null }) === filter));
    return lifts.length === 0 ? null : lifts.map(({ fields }) => html`<div class="task-tree" data-unplanned="${fields.tree}">${treeHead(fields.tree, { tree: fields.tree, site: null })}
      <p class="muted">Lifted ${fields.lifted_on === today ? 'today' : `on ${showDate(fields.lifted_on)}`}. The dated plan comes once home has it.</p>
      <ul class="plain-list">${TONIGHT.map((line) => html`<li>${line}</li>`)}</ul></div>`);
  }

  /** What stands further down and is wanted today: [title of its group, what its button says]. */
  function waysDown(groups, isTonight, today) {
    const isAny = (some) => some.some((task) => !['done', 'skipped'].includes(drawn.states.get(task.rec)?.state));
    const above = groups.owed.length + groups.overdue.length > 0 || isTonight;
    return [
      isTonight && countOpen(groups.overdue, drawn.states, today).late > 0 && ['Overdue', 'See what is overdue'],
      above && isAny(groups.today.filter((task) => task.parts)) && ['Today', 'See today’s rounds'],
    ].filter(Boolean);
  }

  /** The day in a line: all that is due or late, what of it a landholder is owed, and what of the evening may wait until tomorrow. */
  function headLine(groups, all, tonight, today) {
    const now = [...groups.owed, ...groups.tonight, ...groups.overdue, ...groups.today];
    const { late, today: due, left } = countOpen(now, drawn.states, today);
    const week = left + countOpen([...groups.days.flatMap((day) => day.tasks), ...groups.open], drawn.states, today).left;
    const owed = countOpen(groups.owed, drawn.states, today);
    const more = countOpen(groups.tonight, drawn.states, today).left;
    const parts = [
      due > 0 && `${count(due, 'task', 'tasks')} today`,
      late > 0 && (due > 0 ? `${late} overdue` : `${count(late, 'task is', 'tasks are')} overdue`),
      owed.late + owed.today > 0 && `${due + late > 1 ? `${owed.late + owed.today} of them ` : ''}owed to a landholder`,
      due + late > 0 && more > 0 && `${more} more of tonight by tomorrow`,
    ].filter(Boolean);
    if (parts.length > 0) return parts.join(', ');
    if (tonight) return 'A fresh lift to look after tonight';
    if (all.length === 0) return 'Nothing planned';
    return week > 0 ? `Nothing today, ${count(week, 'task', 'tasks')} this week` : 'Nothing due this week';
  }

  function draw() {
    const today = todayOn();
    opened = new Set([...root.querySelectorAll('details[open]')].map((el) => el.dataset.why ?? el.dataset.fold));
    const all = (facts.pack?.tasks ?? []).filter((task) => !params.tree || task.tree === params.tree);
    const places = [...new Set([...all.map(siteOf), filter].filter(Boolean))];
    const tasks = filter === null ? all : all.filter((task) => siteOf(task) === filter);
    const fresh = freshTrees(facts.lifts, today);
    const apart = (task) => view === 'tree' || isOfTheEvening(task, fresh, today);
    drawn = withRounds(tasks, facts.states, today, { stay, apart });
    rounds = new Map(drawn.tasks.filter((task) => task.parts).map((round) => [round.id, round]));
    const groups = groupTasks(drawn.tasks, drawn.states, today, { fresh, stay: drawn.stay });
    const tonight = unplanned(today, all);
    const isTonight = tonight !== null || groups.tonight.length > 0;
    const down = waysDown(groups, isTonight, today);
    const settled = groups.settled.sort((a, b) => String(drawn.states.get(b.rec).settled_on).localeCompare(String(drawn.states.get(a.rec).settled_on)));
    render(root, html`<div class="page due">
      <div class="page-head"><div class="due-head"><h1 tabindex="-1">Due</h1>
          ${all.length > 0 && !params.tree && html`<form class="due-view">${chips({ name: 'view', label: 'Read it', value: view, options: [{ value: 'place', label: 'By place' }, { value: 'tree', label: 'By tree' }] })}</form>`}</div>
        <p class="under" role="status">${headLine(groups, all, tonight, today)}</p>
        ${down.length > 0 && html`<div class="pick-row">${down.map(([title, words]) => html`<button type="button" class="button" data-to="${title}">${words}</button>`)}</div>`}
        ${params.tree && html`<p>Only tree ${facts.trees.get(params.tree)?.fields.tag ?? ''}. <a href="#/due">Show all trees</a></p>`}</div>
      ${frostLine(facts.frost)}
      ${facts.trees.size > 0 && !params.tree && html`<div class="pick-row"><a class="button" href="#/seen?from=due">${icon('leafbud')}What do they show today?</a></div>`}
      ${facts.pack?.made_on && facts.pack.made_on < plusDays(today, -1) && html`<p class="muted">Planned at home on ${showDate(facts.pack.made_on)}. What was noted since is counted in at the next sync.</p>`}
      ${(places.length > 1 || filter !== null) && !params.tree && html`<details class="fold" data-fold="site" ${filter === null ? '' : html`open`}><summary>${filter === null ? 'Only one place' : `Only ${facts.sites.get(filter) ?? 'one place'}`}</summary><form>${chips({ name: 'place', label: 'Place', value: filter, options: [{ value: null, label: 'all' }, ...places.map((id) => ({ value: id, label: facts.sites.get(id) ?? 'unnamed' }))] })}</form></details>`}
      ${all.length === 0 && tonight === null
        ? html`<div class="empty">${icon('due')}<p>${facts.pack ? 'No task is planned. A lifted tree gets its care plan when home has the lift.' : 'This phone has not had its plans from home yet.'}</p>
            ${facts.pack ? html`<a class="button" href="#/trees">See the trees</a>` : html`<a class="button" href="#/sync">See what home has</a>`}</div>`
        : html`<div class="cols" data-lists><div>
            ${group(OWED, groups.owed, today)}
            ${group(TONIGHT_TITLE, groups.tonight, today, { above: tonight, atOnce: 20 })}
            ${group('Overdue', groups.overdue, today, { atOnce: LATE_AT_ONCE })}
            ${group('Today', groups.today, today, { empty: isTonight || groups.owed.length > 0 ? null : 'Nothing for today.' })}
          </div><div>
            ${groups.days.map((day) => group(dayWords(day.on, today), day.tasks, today, { folded: true }))}
            ${group('Begun, with time left', groups.open, today, { folded: true })}
            ${group('The week after', groups.second, today, { folded: true })}
            ${group('Later', groups.later, today, { folded: true })}
            ${groups.far.length > 0 && (farShown ? group(FAR, groups.far, today) : html`<button type="button" class="button wide" data-far>Show ${count(groups.far.length, 'task', 'tasks')} more than ${LATER_DAYS} days off</button>`)}
            ${settled.length > 0 && html`<details class="fold sheet" data-settled data-fold="settled"><summary>Settled: ${settled.length}</summary>${treeBlocks(settled.slice(0, 50), today, true)}</details>`}
          </div></div>
          <div class="pick-row"><a class="button hill" href="#/bench${filter === null ? '' : `/${filter}`}">${icon('papers')}On paper, for the bench</a><a class="button hill" href="#/weather">${icon('water')}Weather</a></div>`}
    </div>`);
    for (const el of root.querySelectorAll('details')) if (opened.has(el.dataset.why ?? el.dataset.fold)) el.open = true;
  }

  /** Let ticked rows go, and take in what came meanwhile, once no finger has been in the list for a while. */
  function drawWhenQuiet() {
    clearTimeout(waiting);
    const quietFor = performance.now() - Math.max(lastTouch, lastTap);
    if (quietFor < STAY_MS || busy || root.querySelector('[data-lists]:hover') || document.querySelector('dialog[open]')) {
      waiting = setTimeout(drawWhenQuiet, Math.max(500, STAY_MS - quietFor));
      return;
    }
    stay.clear();
    read().catch((fault) => notice(fault.message, { kind: 'trouble' }));
  }

  /** Save the states of some tasks in one go, with what goes beside them. @param {[object, object][]} some each task with its fields */
  async function put(some, { changes = [], photos = [] } = {}) {
    const states = some.map(([task, fields]) => ({ rec: task.rec, type: 'task_state', set: { task: task.id, tree: task.tree, ...(task.tree ? {} : { site: task.site }), ...fields } }));
    await saveChanges([...states, ...changes], { photos });
    for (const [{ rec }, fields] of some) facts.states.set(rec, { ...facts.states.get(rec), ...fields });
  }

  /** What puts the states of some tasks back as they are now. */
  function wayBack(tasks) {
    const before = tasks.map((task) => {
      const { state = null, settled_on: on = null, note = null } = facts.states.get(task.rec) ?? {};
      return [task, { state, settled_on: on, note }];
    });
    return (more) => put(before, more);
  }

  const taskOf = (rec) => facts.pack.tasks.find((one) => one.rec === rec);

  /** Draw what was settled just now in its place, and let the keyboard go on with the task below, not back to the top of the page. */
  function drawSettled(focus) {
    draw();
    lastTap = performance.now();
    drawWhenQuiet();
    (focus() ?? root.querySelector('h1')).focus({ preventScroll: true });
  }

  async function settle(rec, state, { note = null, on: settledOn = todayOn(), shot = null } = {}) {
    const task = taskOf(rec);
    const back = wayBack([task]);
    const photo = photoOfTick(shot, task);
    await put([[task, { state, settled_on: state ? settledOn : null, note }]], photo);
    stay.add(rec);
    const whose = whoseTask(task);
    const words = state === 'done' ? 'Done' : state === 'skipped' ? 'Skipped' : 'Open again';
    const what = `${gist(task.text)}${whose ? `, ${whose}` : ''}`;
    notice(`${words}: ${what}. Saved on this phone.`, {
      backOnPage: shot === null,
      undo: async () => {
        await back({ changes: photo.changes.map((change) => ({ rec: change.rec, type: 'photo', set: { deleted: true } })) });
        draw();
      },
    });
    // What is folded away takes no focus: a closed round stands there by its own button.
    const rows = [...root.querySelectorAll('[data-done], [data-round-done]')].filter((button) => button.offsetParent !== null);
    const at = rows.findIndex((button) => button.dataset.done === rec);
    const next = rows[at + 1] ?? rows.at(-2) ?? null;
    drawSettled(() => (state === null ? root.querySelector(`[data-done="${rec}"]`) : next && document.getElementById(next.id)));
  }

  async function settleRound(id) {
    const round = rounds.get(id);
    const open = round.parts.filter((task) => !['done', 'skipped'].includes(facts.states.get(task.rec)?.state));
    const back = wayBack(open);
    await put(open.map((task) => [task, { state: 'done', settled_on: todayOn(), note: null }]));
    for (const task of open) stay.add(task.rec);
    ways.set(id, back);
    notice(`Done: ${round.text}${round.site ? `, ${siteName(round.site)}` : ''}. Saved on this phone.`, {
      backOnPage: true,
      undo: async () => {
        await back();
        draw();
      },
    });
    drawSettled(() => root.querySelector(`[data-round-undo="${id}"]`));
  }

  async function openRound(id) {
    await ways.get(id)();
    drawSettled(() => document.getElementById(`done-${id}`));
  }

  async function settleWithNote(rec) {
    const task = taskOf(rec);
    const said = await askTick(rec, [gist(task.text), whoseTask(task)].filter(Boolean).join(', '), facts.states.get(rec) ?? {}, 'done');
    if (!said) return;
    await settle(rec, said.state, said);
    await dropTick(rec);
  }

  /** A tap on a row: one at a time, and a second one at once is the shake of a hand. */
  const tapping = (work) => async (ev, el) => {
    if (busy || performance.now() - lastTap < SECOND_TAP_MS) return;
    busy = true;
    lastTap = performance.now();
    try {
      await work(ev, el);
    } catch (fault) {
      notice(`Not saved: ${fault.message}`, { kind: 'trouble' });
    } finally {
      busy = false;
    }
  };

  const touched = () => { lastTouch = performance.now(); };

  await read();
  const stops = [
    onStoreChange(() => {
      if (stay.size > 0 || busy || document.querySelector('dialog[open]')) drawWhenQuiet();
      else read().catch((fault) => notice(fault.message, { kind: 'trouble' }));
    }),
    on(root, 'pointerdown', '[data-lists]', touched),
    on(root, 'pointermove', '[data-lists]', touched),
    on(root, 'click', '[data-done]', tapping((ev, el) => settle(el.dataset.done, 'done'))),
    on(root, 'click', '[data-note-done]', tapping((ev, el) => settleWithNote(el.dataset.noteDone))),
    on(root, 'click', '[data-skip]', tapping((ev, el) => settle(el.dataset.skip, 'skipped'))),
    on(root, 'click', '[data-open-again]', tapping((ev, el) => settle(el.dataset.openAgain, null))),
    on(root, 'click', '.round-trees > summary', (ev, summary) => {
      const place = summary.parentElement.querySelector('[data-round-trees]');
      if (place.childElementCount === 0) render(place, html`${treeLists(rounds.get(place.dataset.roundTrees), roundFacts(todayOn()))}`);
    }),
    on(root, 'click', '[data-round-done]', tapping((ev, el) => settleRound(el.dataset.roundDone))),
    on(root, 'click', '[data-round-undo]', tapping((ev, el) => openRound(el.dataset.roundUndo))),
    on(root, 'click', '[data-whole]', (ev, el) => { whole.add(el.dataset.whole); draw(); }),
    on(root, 'click', '[data-to]', (ev, el) => {
      const head = root.querySelector(`[data-group="${el.dataset.to}"] h2`);
      head.scrollIntoView({ block: 'center' });
      head.focus({ preventScroll: true });
    }),
    on(root, 'click', '[data-far]', () => { farShown = true; draw(); }),
    on(root, 'change', '[name="place"]', (ev, el) => { filter = JSON.parse(el.value); draw(); }),
    on(root, 'change', '[name="view"]', (ev, el) => {
      view = JSON.parse(el.value);
      draw();
      root.querySelector('[name="view"]:checked').focus({ preventScroll: true });
      return saveDraft(VIEW, { view });
    }),
  ];
  return () => {
    clearTimeout(waiting);
    stops.forEach((stop) => stop());
  };
}
