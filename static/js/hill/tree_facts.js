/** Everything this phone knows of one tree, put together for its page. */

import { getPack, getRecord, listRecords, recordsWhere } from '../store.js';
import { siteNames } from './ground_facts.js';

/**
 * @param {string} id of the tree
 * @returns {Promise<object>} tree (null: not kept here), pack, sites (names by id), its lifts, fixes, photos, events, works and
 *   boxes, the visits and trees of all, its tasks and `settled`, the fields of its task states by record id
 */
export async function readTree(id) {
  const of = (type) => recordsWhere(type, 'tree', id);
  const [tree, pack, sites, lifts, fixes, photos, events, works, boxes, visits, states, trees] = await Promise.all([
    getRecord(id), getPack(), siteNames(), of('lift'), of('fix'), of('photo'), of('event'), of('work'), of('box'), listRecords('visit'), of('task_state'), listRecords('tree'),
  ]);
  const settled = new Map(states.map((state) => [state.id, state.fields]));
  const tasks = (pack?.tasks ?? []).filter((task) => task.tree === id);
  return { tree, pack, sites, lifts, fixes, photos, events, works, boxes, visits, trees, tasks, settled };
}

/** Records by one of their dates, the newest first. */
export function newest(records, field) {
  return [...records].sort((a, b) => String(b.fields[field] ?? '').localeCompare(String(a.fields[field] ?? '')));
}

/** The tasks that are neither done nor passed over, and whose time is not over, the nearest first. */
export function openTasks(tasks, settled, today) {
  const isOpen = (task) => !['done', 'skipped'].includes(settled.get(task.rec)?.state) && !(task.lapses_on && task.lapses_on < today);
  return tasks.filter(isOpen).sort((a, b) => String(a.by ?? a.from).localeCompare(String(b.by ?? b.from)));
}
