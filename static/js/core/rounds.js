/** Rounds: the routine steps of many trees at one place on one day. Twin of field/core/rounds.py, where each rule is explained. */

const SETTLED = ['done', 'skipped'];
const ON_NO_SITE = '-';

const inOrder = (a, b) => (a < b ? -1 : a > b ? 1 : 0);

function dayOf(task, state, isOpen, today) {
  if (!isOpen) return typeof state.settled_on === 'string' && state.settled_on >= task.from ? state.settled_on : task.from;
  if (today === null || task.from > today) return task.from;
  return task.from === today || task.by <= today ? today : task.by;
}

// What these ask for is a look; watering itself comes of what is felt.
const LOOKS = { water: 'Water look', wire: 'Wire look', look: 'Look over' };

/** Whether a round asks for a look at the trees, and for a deed only where one is wanted. @param {string} kind */
export const isLook = (kind) => Object.hasOwn(LOOKS, kind);

/** What a round is called: 'Water look', 'Frost round'. @param {string} kind */
export function roundName(kind) {
  const word = kind.replaceAll('-', ' ');
  return isLook(kind) ? LOOKS[kind] : `${word.charAt(0).toUpperCase()}${word.slice(1)} round`;
}

/**
 * The rounds of some tasks by day, and the tasks that belong to none in the order given. What has lapsed by today and was never
 * settled is in neither.
 * @param {object[]} tasks of the pack; those with a `round` are walked
 * @param {Map<string, object>} states task_state fields by record id
 * @param {string|null} today 'YYYY-MM-DD'; null: no day is today, every task stands under its first one
 * @returns {{rounds: {id: string, kind: string, site: string|null, day_on: string, tasks: object[]}[], single: object[]}}
 */
export function gatherRounds(tasks, states, today) {
  const found = new Map();
  const single = [];
  for (const task of tasks) {
    const state = states.get(task.rec) ?? {};
    const isOpen = !SETTLED.includes(state.state);
    if (isOpen && today !== null && typeof task.lapses_on === 'string' && task.lapses_on < today) continue;
    if (typeof task.round !== 'string' || typeof task.tree !== 'string') {
      single.push(task);
      continue;
    }
    const day = dayOf(task, state, isOpen, today);
    const site = task.site || null;
    const key = `${day}\n${site ?? ON_NO_SITE}\n${task.round}`;
    if (!found.has(key)) found.set(key, { id: `round:${site ?? ON_NO_SITE}:${task.round}:${day}`, kind: task.round, site, day_on: day, tasks: [] });
    found.get(key).tasks.push(task);
  }
  const rounds = [...found.values()];
  for (const round of rounds) round.tasks.sort((a, b) => inOrder(a.id, b.id));
  rounds.sort((a, b) => inOrder(a.day_on, b.day_on) || inOrder(a.site ?? ON_NO_SITE, b.site ?? ON_NO_SITE) || inOrder(a.kind, b.kind));
  return { rounds, single };
}
