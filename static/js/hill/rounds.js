/** Rounds among the tasks of Due: each is put where a task would stand, with the trees' own tasks as its parts. */

import { gatherRounds, roundName } from '../core/rounds.js';
import { count } from '../ui/words.js';

const trees = (round) => new Set(round.tasks.map((task) => task.tree)).size;
const least = (texts) => texts.reduce((a, b) => (a < b ? a : b));

/** A round in the shape of a task: of today it is due today; else from its day, by the first of its trees' last days. */
function asTask({ id, kind, site, day_on: day, tasks }, today, isOpen) {
  const open = tasks.filter(isOpen);
  const some = open.length > 0 ? open : tasks;
  const begun = some.filter((task) => task.from < day).map((task) => task.from);
  const from = day === today ? today : begun.length > 0 ? least(begun) : day;
  const by = day === today ? today : least(some.map((task) => task.by));
  return {
    id, rec: id, round: kind, parts: tasks, tree: null, site, from, by, lapses_on: null, moved_from: null, why: '',
    text: `${roundName(kind)}: ${count(trees({ tasks }), 'tree', 'trees')}`,
  };
}

/** How a round as a whole stands: settled once every tree of it is; passed over when not one of them was done. */
function stateOf(parts, states) {
  const some = parts.map((task) => states.get(task.rec) ?? {});
  if (!some.every(({ state }) => state === 'done' || state === 'skipped')) return {};
  const last = some.map(({ settled_on: on }) => on ?? '').sort().at(-1);
  return { state: some.some(({ state }) => state === 'done') ? 'done' : 'skipped', settled_on: last || null, note: null };
}

/**
 * The tasks with those of one round put together; a round of one tree stays that tree's task.
 * @param {object[]} tasks of the pack
 * @param {Map<string, object>} states task_state fields by record id
 * @param {string} today 'YYYY-MM-DD'
 * @param {{stay?: Set<string>, apart?: (task: object) => boolean}} [how] stay: records that were just settled and keep their
 *   place; apart: what stands alone whatever its kind
 * @returns {{tasks: object[], states: Map<string, object>, stay: Set<string>}} as given, with the rounds among them
 */
export function withRounds(tasks, states, today, { stay = new Set(), apart = () => false } = {}) {
  const asBefore = new Map([...states].map(([rec, fields]) => [rec, stay.has(rec) ? {} : fields]));
  const alone = tasks.filter(apart);
  const { rounds, single } = gatherRounds(tasks.filter((task) => !apart(task)), asBefore, today);
  const walked = rounds.filter((round) => trees(round) > 1);
  const isOpen = (task) => !['done', 'skipped'].includes(asBefore.get(task.rec)?.state);
  const found = {
    tasks: [...alone, ...single, ...rounds.filter((round) => trees(round) === 1).flatMap((round) => round.tasks), ...walked.map((round) => asTask(round, today, isOpen))],
    states: new Map(states),
    stay: new Set(stay),
  };
  for (const { id, tasks: parts } of walked) {
    found.states.set(id, stateOf(parts, states));
    if (parts.some((task) => stay.has(task.rec))) found.stay.add(id);
  }
  return found;
}
