/** Trees marked by mistake: taken away with what hangs on them, listed afterwards, and put back as they were. */

import { getRecord, listDeleted, listRecords, recordsWhere, saveChanges } from '../store.js';

const WITH_IT = ['fix', 'event', 'work', 'box']; // goes with its tree; its photos stay, without a tree

/** A stamp without its counter: the same for all that one phone saved at one go. */
const actOf = (stamp) => stamp?.replace(/^([0-9a-f]{12})-[0-9a-f]{4}-/, '$1-') ?? null;
const lastAct = (record, name) => actOf(record.stamps[name]?.at(-1));

/**
 * Take a tree away: its positions and notes go with it, its photos stay as photos without a tree.
 * @param {string} id of the tree
 * @returns {Promise<number>} how many photos are without a tree now
 */
export async function takeTreeAway(id) {
  const hanging = (await Promise.all(WITH_IT.map((type) => recordsWhere(type, 'tree', id)))).flat();
  const photos = await recordsWhere('photo', 'tree', id);
  await saveChanges([
    { rec: id, type: 'tree', set: { deleted: true } },
    ...hanging.map(({ id: rec, type }) => ({ rec, type, set: { deleted: true } })),
    ...photos.map(({ id: rec, type }) => ({ rec, type, set: { tree: null } })),
  ]);
  return photos.length;
}

/**
 * Put a tree back that was taken away, with all that went at the same go; what was taken out before it stays out, and a photo
 * that has been put with another tree meanwhile stays there.
 * @param {string} id of the tree
 */
export async function putTreeBack(id) {
  const tree = await getRecord(id);
  if (!tree?.deleted) return;
  const act = lastAct(tree, 'deleted');
  const gone = (await Promise.all([...WITH_IT, 'photo'].map(listDeleted))).flat()
    .filter((one) => one.fields.tree === id && lastAct(one, 'deleted') === act);
  const loose = (await listRecords('photo')).filter((one) => (one.fields.tree ?? null) === null && lastAct(one, 'tree') === act);
  await saveChanges([
    { rec: id, type: 'tree', set: { deleted: false } },
    ...gone.map(({ id: rec, type }) => ({ rec, type, set: { deleted: false } })),
    ...loose.map(({ id: rec, type }) => ({ rec, type, set: { tree: id } })),
  ]);
}

/** The trees that were taken away, the latest first. @returns {Promise<object[]>} merged tree records */
export async function treesTakenAway() {
  const trees = await listDeleted('tree');
  const when = (tree) => tree.stamps.deleted?.at(-1) ?? '';
  return trees.sort((a, b) => (when(a) < when(b) ? 1 : -1)); // stamps sort as text
}
