/** Due: what wants doing, why, and by when; ticked off with a note, passed over, or taken back. Works with no signal. */

import { siteNames, todayOn, treeWords } from '../hill/ground_facts.js';
import { plusDays } from '../core/dates.js';
import { getPack, listRecords, onStoreChange, saveChange } from '../store.js';
import { ask } from '../ui/dialog.js';
import { chips, dateField, noteField } from '../ui/form.js';
import { html, on, render } from '../ui/html.js';
import { icon } from '../ui/icons.js';
import { notice } from '../ui/notice.js';
import { count, showDate, workWord } from '../ui/words.js';

const SOON_DAYS = 7;
const ROWS_AT_ONCE = 10; // of a group; more would be scrolled past and not read
const LATER_DAYS = 60; // what lies further off is kept out of sight until asked for

/**
 * Put the open tasks into groups by the day they are due.
 * @param {object[]} tasks of the pack
 * @param {Map<string, object>} states task_state fields by record id
 * @param {string} today 'YYYY-MM-DD'
 * @returns {{overdue: object[], week: object[], later: object[], far: object[], settled: object[]}}
 */
export function groupTasks(tasks, states, today) {
  const groups = { overdue: [], week: [], later: [], far: [], settled: [] };
  const weekEnds = plusDays(today, SOON_DAYS);
  const laterEnds = plusDays(today, LATER_DAYS);
  for (const task of [...tasks].sort((a, b) => String(a.by ?? a.from).localeCompare(String(b.by ?? b.from)))) {
    const state = states.get(task.rec)?.state ?? null;
    if (state === 'done' || state === 'skipped') groups.settled.push(task);
    else if (task.by !== null && task.by < today) groups.overdue.push(task);
    else if (task.from === null || task.from <= weekEnds) groups.week.push(task);
    else if (task.from <= laterEnds) groups.later.push(task);
    else groups.far.push(task);
  }
  return groups;
}

/** 'by 3 Mar 2027', '1 to 14 Mar 2027'... as plain dates. */
function dueWords(task, today) {
  if (task.from && task.from > today) return `from ${showDate(task.from)}${task.by ? `, by ${showDate(task.by)}` : ''}`;
  return task.by ? `by ${showDate(task.by)}` : `since ${showDate(task.from)}`;
}

/**
 * Open the screen.
 * @param {Element} root
 * @param {{tree?: string}} params tree: only this tree's tasks
 */
export async function open(root, params = {}) {
  let facts = null;
  let filter = null;
  let farShown = false;
  const whole = new Set(); // titles of the groups shown to their end

  async function read() {
    const [pack, trees, states, sites] = await Promise.all([getPack(), listRecords('tree'), listRecords('task_state'), siteNames()]);
    facts = {
      pack,
      trees: new Map(trees.map((tree) => [tree.id, tree])),
      states: new Map(states.map((one) => [one.id, one.fields])),
      sites,
    };
    draw();
  }

  function taskRow(task, today, settled = false) {
    const tree = facts.trees.get(task.tree);
    const site = facts.sites.get(task.site ?? tree?.fields.site);
    const state = facts.states.get(task.rec);
    const late = !settled && task.by !== null && task.by < today;
    return html`<li class="task" data-task="${task.id}">
      <div class="task-head">
        ${tree ? html`<a class="tag" href="#/tree/${tree.id}" aria-label="Tree ${tree.fields.tag ?? 'without a tag'}">${tree.fields.tag ?? 'no tag'}</a>` : html`<span class="tag">${site ?? 'all'}</span>`}
        <span class="muted">${tree ? treeWords(facts.pack, tree) : ''}${site && tree ? `, ${site}` : ''}</span>
      </div>
      <p class="task-text">${task.text}</p>
      ${settled
        ? html`<p class="state quiet">${icon(state.state === 'done' ? 'done' : 'skipped')}${state.state === 'done' ? 'done' : 'passed over'} ${showDate(state.settled_on)}</p>${state.note && html`<p class="note">${state.note}</p>`}
          <button type="button" class="button" data-open-again="${task.rec}">${icon('undo')}Open again</button>`
        : html`<p class="state ${late ? 'bad' : 'quiet'}">${icon(late ? 'warn' : 'clock')}${late ? `overdue, ${dueWords(task, today)}` : dueWords(task, today)}</p>
          ${task.why && html`<p class="muted">${task.why}</p>`}
          ${task.moved_from && html`<p class="muted">Moved here from ${showDate(task.moved_from)}, to a date that is safe for this kind.</p>`}
          <div class="task-acts">
            <button type="button" class="button primary hill" id="done-${task.rec}" data-done="${task.rec}">${icon('done')}Done</button>
            <button type="button" class="button hill" data-note-done="${task.rec}" aria-label="Done, with a note">With a note</button>
            <button type="button" class="button hill quiet" data-skip="${task.rec}">Skip</button>
          </div>`}
    </li>`;
  }

  function group(title, tasks, today, empty = null) {
    if (tasks.length === 0 && !empty) return null;
    return html`<section class="sheet"><h2>${title} <span class="muted">${tasks.length > 0 ? tasks.length : ''}</span></h2>
      ${tasks.length > 0 ? html`<ul class="tasks">${(whole.has(title) ? tasks : tasks.slice(0, ROWS_AT_ONCE)).map((task) => taskRow(task, today))}</ul>
        ${tasks.length > ROWS_AT_ONCE && !whole.has(title) && html`<button type="button" class="button wide hill" data-whole="${title}">Show ${tasks.length - ROWS_AT_ONCE} more</button>`}` : html`<p class="muted">${empty}</p>`}</section>`;
  }

  function draw() {
    const today = todayOn();
    const all = (facts.pack?.tasks ?? []).filter((task) => !params.tree || task.tree === params.tree);
    const places = [...new Set(all.map((task) => task.site ?? facts.trees.get(task.tree)?.fields.site).filter(Boolean))];
    const tasks = filter === null ? all : all.filter((task) => (task.site ?? facts.trees.get(task.tree)?.fields.site) === filter);
    const groups = groupTasks(tasks, facts.states, today);
    const waiting = groups.overdue.length + groups.week.length;
    render(root, html`<div class="page due">
      <div class="page-head"><h1 tabindex="-1">Due</h1>
        <p class="under" role="status">${all.length === 0 ? 'Nothing planned' : groups.overdue.length > 0 ? `${count(groups.overdue.length, 'task is', 'tasks are')} overdue` : waiting > 0 ? `${count(waiting, 'task', 'tasks')} this week` : 'Nothing due this week'}</p>
        ${params.tree && html`<p>Only tree ${facts.trees.get(params.tree)?.fields.tag ?? ''}. <a href="#/due">Show all trees</a></p>`}</div>
      ${facts.pack?.made_on && facts.pack.made_on < plusDays(today, -1) && html`<p class="muted">Planned at home on ${showDate(facts.pack.made_on)}. What was noted since is counted in at the next sync.</p>`}
      ${places.length > 1 && html`<form>${chips({ name: 'place', label: 'Site', value: filter, options: [{ value: null, label: 'all' }, ...places.map((id) => ({ value: id, label: facts.sites.get(id) ?? 'unnamed' }))] })}</form>`}
      ${all.length === 0
        ? html`<div class="empty">${icon('due')}<p>${facts.pack ? 'No task is planned. A lifted tree gets its care plan when home has the lift.' : 'This phone has not had its plans from home yet.'}</p>
            ${facts.pack ? html`<a class="button" href="#/trees">See the trees</a>` : html`<a class="button" href="#/sync">See what home has</a>`}</div>`
        : html`<div class="cols wide-first"><div>
            ${group('Overdue', groups.overdue, today)}
            ${group('This week', groups.week, today, 'Nothing more this week.')}
            ${group('Later', groups.later, today)}
            ${groups.far.length > 0 && (farShown ? group('Further off', groups.far, today) : html`<button type="button" class="button wide" data-far>Show ${count(groups.far.length, 'task', 'tasks')} more than ${LATER_DAYS} days off</button>`)}
          </div><div>${groups.settled.length > 0 && html`<details class="fold sheet" data-settled><summary>Settled: ${groups.settled.length}</summary>
            <ul class="tasks">${groups.settled.slice().sort((a, b) => String(facts.states.get(b.rec).settled_on).localeCompare(String(facts.states.get(a.rec).settled_on))).slice(0, 50).map((task) => taskRow(task, today, true))}</ul></details>`}</div></div>`}
    </div>`);
  }

  async function settle(rec, state, { note = null, on: settledOn = todayOn() } = {}) {
    const task = facts.pack.tasks.find((one) => one.rec === rec);
    const before = facts.states.get(rec) ?? {};
    await saveChange({ rec, type: 'task_state', set: { task: task.id, tree: task.tree, state, settled_on: state ? settledOn : null, note } });
    const tag = facts.trees.get(task.tree)?.fields.tag;
    const words = state === 'done' ? 'Done' : state === 'skipped' ? 'Passed over' : 'Open again';
    notice(`${words}: ${task.work ? workWord(task.work) : task.text}${tag ? `, ${tag}` : ''}. Saved on this phone.`, {
      undo: async () => {
        await saveChange({ rec, type: 'task_state', set: { task: task.id, tree: task.tree, state: before.state ?? null, settled_on: before.settled_on ?? null, note: before.note ?? null } });
      },
    });
    const rows = [...root.querySelectorAll('[data-done]')].map((button) => button.dataset.done);
    const next = rows[rows.indexOf(rec) + 1] ?? rows.at(-2) ?? null;
    await read();
    // The keyboard goes on with the task below, not back to the top of the page.
    (root.querySelector(`[data-done="${next}"]`) ?? root.querySelector('h1')).focus({ preventScroll: true });
  }

  async function settleWithNote(rec) {
    const said = await ask({
      title: 'Done, with a note',
      fields: html`${noteField({ name: 'note', label: 'What was seen and done' })}${dateField({ name: 'on', label: 'Done on', value: todayOn(), required: true })}`,
      yes: 'Save',
    });
    if (said) await settle(rec, 'done', { note: said.note, on: said.on });
  }

  const trying = (work) => async (ev, el) => {
    try {
      await work(ev, el);
    } catch (fault) {
      notice(`Not saved: ${fault.message}`, { kind: 'trouble' });
    }
  };

  await read();
  const stops = [
    onStoreChange(() => { if (!document.querySelector('dialog[open]')) read().catch((fault) => notice(fault.message, { kind: 'trouble' })); }),
    on(root, 'click', '[data-done]', trying((ev, el) => settle(el.dataset.done, 'done'))),
    on(root, 'click', '[data-note-done]', trying((ev, el) => settleWithNote(el.dataset.noteDone))),
    on(root, 'click', '[data-skip]', trying((ev, el) => settle(el.dataset.skip, 'skipped'))),
    on(root, 'click', '[data-open-again]', trying((ev, el) => settle(el.dataset.openAgain, null))),
    on(root, 'click', '[data-whole]', (ev, el) => { whole.add(el.dataset.whole); draw(); }),
    on(root, 'click', '[data-far]', () => { farShown = true; draw(); }),
    on(root, 'change', '[name="place"]', (ev, el) => { filter = JSON.parse(el.value); draw(); }),
  ];
  return () => stops.forEach((stop) => stop());
}
