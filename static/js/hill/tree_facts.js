/** Everything this phone knows of one tree, put together for its page. */

import { getPack, getRecord, listRecords, recordsWhere } from '../store.js';
import { tagName, speciesName } from '../ui/words.js';
import { listGardens, standingPlaces } from './gardens.js';
import { siteNames } from './ground_facts.js';
import { cardOfKind } from './kind_card.js';
import { latOfPlace } from './tree_ground.js';
import { ofOthers } from './whose.js';

/**
 * @param {string} id of the tree
 * @returns {Promise<object>} tree (null: not kept here), pack, sites (names by id), gardens, standing (id of the garden or site where it stands), wire (as `wireOn` takes it), its lifts, the leaves they are logged under, fixes, photos, events, works and
 *   boxes, loose (photos of its site or of none, without a tree), the visits and trees of all, its tasks, `settled`, the
 *   fields of its task states by record id, and `others`, the ids of those records that this phone may not change or remove
 */
export async function readTree(id) {
  const of = (type) => recordsWhere(type, 'tree', id);
  const [tree, pack, sites, lifts, fixes, pictures, events, works, boxes, visits, states, trees, gardens] = await Promise.all([
    getRecord(id), getPack(), siteNames(), of('lift'), of('fix'), listRecords('photo'), of('event'), of('work'), of('box'), listRecords('visit'), of('task_state'), listRecords('tree'), listGardens(),
  ]);
  const leaves = await Promise.all([...new Set(lifts.map((lift) => lift.fields.leave))].filter(Boolean).map((leave) => getRecord(leave)));
  const settled = new Map(states.map((state) => [state.id, state.fields]));
  const tasks = (pack?.tasks ?? []).filter((task) => task.tree === id);
  const photos = newest(pictures.filter((one) => one.fields.tree === id), 'taken_at');
  const site = tree?.fields.site ?? null;
  const loose = newest(pictures.filter((one) => one.fields.sha256 && (one.fields.tree ?? null) === null && [null, site].includes(one.fields.site ?? null)), 'taken_at');
  const others = await ofOthers([tree, ...lifts, ...fixes, ...photos, ...loose, ...events, ...works, ...boxes].filter(Boolean));
  const standing = tree ? (standingPlaces([tree], lifts, gardens).get(id) ?? null) : null;
  const lat = latOfPlace(standing ? await getRecord(standing) : null);
  const wire = { works, card: cardOfKind(pack, tree?.fields.species ?? null), south: lat !== null && lat < 0 };
  return { others, tree, pack, sites, gardens, standing, wire, lifts, leaves: leaves.filter(Boolean), fixes, photos, loose, events, works, boxes, visits, trees, tasks, settled };
}

/** Records by one of their dates, the newest first. */
export function newest(records, field) {
  return [...records].sort((a, b) => String(b.fields[field] ?? '').localeCompare(String(a.fields[field] ?? '')));
}

/**
 * The tasks that are neither done nor passed over nor over by themselves, the nearest first.
 * @param {object[]} tasks of the pack @param {Map<string, object>} settled fields of task states by record id
 * @param {string} today 'YYYY-MM-DD'
 */
export function openTasks(tasks, settled, today) {
  const order = (task) => String(task.by ?? task.from ?? '~');
  return tasks
    .filter((task) => !['done', 'skipped'].includes(settled.get(task.rec)?.state) && !(task.lapses_on && task.lapses_on < today))
    .sort((a, b) => order(a).localeCompare(order(b)));
}

/**
 * What is due next for each tree.
 * @param {object[]} tasks of the pack @param {object[]} states merged task_state records @param {string} today 'YYYY-MM-DD'
 * @returns {Map<string, object>} tree id -> its nearest open task
 */
export function nextTasks(tasks, states, today) {
  const next = new Map();
  for (const task of openTasks(tasks, new Map(states.map((state) => [state.id, state.fields])), today)) {
    if (task.tree && !next.has(task.tree)) next.set(task.tree, task);
  }
  return next;
}

/** Every other tree, as a dialog offers them: by tag, as a person counts. */
export function otherTrees({ trees, pack, sites }, id) {
  return trees.filter((one) => one.id !== id)
    .map(({ id: other, fields }) => ({
      id: other, tag: tagName(fields.tag, 'no tag'), name: tagName(fields.tag), site: fields.site ?? null,
      words: [speciesName(pack, fields.species), sites.get(fields.site)].filter(Boolean).join(', '),
    }))
    .sort((a, b) => a.tag.localeCompare(b.tag, 'en', { numeric: true }));
}
