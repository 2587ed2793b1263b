/** Which task stands where on the page Due: what a landholder is owed, a fresh lift's evening, what is late, today, then day by day. Pure: tasks in, groups out. */

import { daysBetween, plusDays } from '../core/dates.js';
import { isReport, owedRank } from '../hill/site_tasks.js';

const SOON_DAYS = 7; // of these each day stands by itself
const SECOND_DAYS = 14;
export const LATER_DAYS = 60; // what lies further off is kept out of sight until asked for
const FRESH_DAYS = 1; // the steps of a lift stand on top that evening and the day after
const UNPLANNED_DAYS = 14; // a lift older than this is no longer a matter of tonight

/** Whether a task comes before the lift: what is told of the lift's window is no care plan yet. */
const isBeforeLift = (task) => String(task.id).includes(':lift-window:');

/**
 * Trees lifted so lately that their first evening still counts.
 * @param {object[]} lifts merged lift records
 * @returns {Set<string>} ids of trees
 */
export function freshTrees(lifts, today) {
  return new Set(lifts.filter(({ fields }) => {
    const on = fields.lifted_on ?? null;
    return on !== null && on <= today && daysBetween(on, today) <= FRESH_DAYS;
  }).map(({ fields }) => fields.tree));
}

/**
 * Lifts whose dated plan has not come from home yet, the latest first; one for each tree that is still here.
 * @param {object[]} lifts merged lift records
 * @param {object[]} tasks of the pack
 * @param {Map<string, object>} trees merged records by id
 */
export function unplannedLifts(lifts, tasks, trees, today) {
  const planned = new Set(tasks.filter((task) => !isBeforeLift(task)).map((task) => task.tree));
  const told = new Set();
  return [...lifts].sort((a, b) => String(b.fields.lifted_on ?? '').localeCompare(String(a.fields.lifted_on ?? ''))).filter(({ fields }) => {
    const tree = trees.get(fields.tree);
    const on = fields.lifted_on ?? null;
    if (!tree || tree.fields.ended_as || planned.has(fields.tree) || told.has(fields.tree)) return false;
    if (on === null || on > today || daysBetween(on, today) > UNPLANNED_DAYS) return false;
    told.add(fields.tree);
    return true;
  });
}

/**
 * The day of the coming week a task stands under, or null when it may be done on any of them.
 * A task that has not begun stands under its first day, one that has under its last.
 */
function dayOf(task, today, weekEnds) {
  if (task.from !== null && task.from > today) return task.from;
  return task.by !== null && task.by <= weekEnds ? task.by : null;
}

/** Whether a task is a step of the first evening of a fresh lift: to be done by the day after at the latest. */
export const isOfTheEvening = (task, fresh, today) => fresh.has(task.tree) && !isBeforeLift(task) && task.by !== null && task.by <= plusDays(today, FRESH_DAYS);

/** Whether a task is neither done nor passed over, also where it keeps its place for a moment. */
const isOpen = (task, states) => !['done', 'skipped'].includes(states.get(task.rec)?.state);

/**
 * How much of some tasks is still open.
 * @param {object[]} tasks
 * @param {Map<string, object>} states task_state fields by record id
 * @returns {{late: number, today: number, left: number}} late: their last day is past; today: it is today; left: it is to come
 */
export function countOpen(tasks, states, today) {
  const counts = { late: 0, today: 0, left: 0 };
  for (const task of tasks.filter((one) => isOpen(one, states))) {
    counts[task.by === null || task.by > today ? 'left' : task.by === today ? 'today' : 'late'] += 1;
  }
  return counts;
}

/** Whether the time of a task is over: advice is not late, it goes. A task of an older pack does not tell, and stays. */
const hasLapsed = (task, today) => Boolean(task.lapses_on) && task.lapses_on < today;

/**
 * Put the open tasks into groups; those that have lapsed stand in none.
 * @param {object[]} tasks of the pack
 * @param {Map<string, object>} states task_state fields by record id
 * @param {string} today 'YYYY-MM-DD'
 * @param {{fresh?: Set<string>, stay?: Set<string>}} [more] fresh: trees of a fresh lift; stay: records of tasks that were
 *   just settled and keep their place
 * @returns {{owed: object[], tonight: object[], overdue: object[], today: object[], days: {on: string, tasks: object[]}[], open: object[],
 *   second: object[], later: object[], far: object[], settled: object[]}} owed: what a landholder has to hear, and what a visit left undone,
 *   however late; tonight: of a fresh lift; open: begun, with time beyond the week; second: in the week after it
 */
export function groupTasks(tasks, states, today, { fresh = new Set(), stay = new Set() } = {}) {
  const groups = { owed: [], tonight: [], overdue: [], today: [], days: [], open: [], second: [], later: [], far: [], settled: [] };
  const weekEnds = plusDays(today, SOON_DAYS);
  const secondEnds = plusDays(today, SECOND_DAYS);
  const laterEnds = plusDays(today, LATER_DAYS);
  const byDay = new Map();
  for (const task of [...tasks].sort((a, b) => String(a.by ?? a.from).localeCompare(String(b.by ?? b.from)))) {
    const state = stay.has(task.rec) ? null : (states.get(task.rec)?.state ?? null);
    const begun = task.from === null || task.from <= today;
    const day = dayOf(task, today, weekEnds);
    if (state === 'done' || state === 'skipped') groups.settled.push(task);
    else if (hasLapsed(task, today)) continue;
    else if (begun && owedRank(task, today) !== null) groups.owed.push(task);
    else if (begun && isOfTheEvening(task, fresh, today)) groups.tonight.push(task);
    else if (task.by !== null && task.by < today) groups.overdue.push(task);
    else if (begun && (task.by === today || task.from === today)) groups.today.push(task);
    else if (day === null) groups.open.push(task);
    else if (day <= weekEnds) byDay.set(day, [...(byDay.get(day) ?? []), task]);
    else if (day <= secondEnds) groups.second.push(task);
    else if (day <= laterEnds) groups.later.push(task);
    else groups.far.push(task);
  }
  groups.owed.sort((a, b) => owedRank(a, today) - owedRank(b, today)); // a stable sort: the earlier stays first
  groups.today.sort((a, b) => isReport(b) - isReport(a)); // a word to a landholder is told before the day's work on trees
  groups.days = [...byDay].sort(([a], [b]) => a.localeCompare(b)).map(([on, some]) => ({ on, tasks: some }));
  return groups;
}

/**
 * The tasks of one group by tree, each tree where its first task stands.
 * @param {object[]} tasks
 * @returns {{tree: string|null, tasks: object[]}[]}
 */
export function byTree(tasks) {
  const found = new Map();
  for (const task of tasks) {
    const key = task.tree ?? `site ${task.site}`;
    if (!found.has(key)) found.set(key, { tree: task.tree ?? null, tasks: [] });
    found.get(key).tasks.push(task);
  }
  return [...found.values()];
}

/**
 * Tasks with those of one place beside each other, each place where its first task stands.
 * @param {object[]} tasks @param {(task: object) => string|null} placeOf
 */
export function byPlace(tasks, placeOf) {
  const found = new Map();
  for (const task of tasks) {
    const place = placeOf(task);
    if (!found.has(place)) found.set(place, []);
    found.get(place).push(task);
  }
  return [...found.values()].flat();
}

/** The gist of a task for a notice: its first sentence, cut at a word when it is long. */
export function gist(text) {
  const first = String(text ?? '').split(/(?<=[.:;])\s/)[0].replace(/[.:;]$/, '');
  if (first.length <= 60) return first;
  return `${first.slice(0, 60).replace(/\s+\S*$/, '')}…`;
}
