/**
 * The records that bear on leave, and which of them changed since one last looked. The number and the names of what changed
 * are written in the very transaction that changes a record, whichever window or sync that is: who looks cannot miss it.
 */

import { ask, read } from './db.js';

const KEY = 'ground_changes';
const MOST = 400; // names remembered; who is farther behind reads all anew
const TYPES = ['site', 'leave', 'consent', 'lift', 'landholder', 'holding', 'ground_check', 'signing'];
const NONE = { number: 0, complete_from: 0, last: [] };

const changesIn = async (tx) => (await ask(tx.objectStore('meta').get(KEY)))?.value ?? NONE;

/**
 * Note which records changed; inside the transaction that changes them.
 * @param {IDBTransaction} tx
 * @param {string[]} ids
 * @param {(object|null)[]} merged the records as they are now, null where nothing is left
 */
export async function noteGroundIn(tx, ids, merged) {
  const changed = ids.filter((_, i) => merged[i] === null || TYPES.includes(merged[i].type));
  if (changed.length === 0) return;
  const before = await changesIn(tx);
  const number = before.number + 1;
  const all = [...before.last, ...changed.map((id) => [number, id])];
  const last = all.slice(-MOST);
  // Of the number of the last name that was let go, not all names are here any more.
  const completeFrom = all.length > MOST ? all[all.length - MOST - 1][0] : before.complete_from;
  await ask(tx.objectStore('meta').put({ key: KEY, value: { number, complete_from: completeFrom, last } }));
}

const present = (record) => (record && !record.deleted ? record : null);

/**
 * What changed since a number.
 * @param {number|null} number what was told before; null: nothing is known yet
 * @returns {Promise<{number: number, changed: [string, object|null][]|null}>} changed: id and merged record, null for one that
 *   is gone; null as a whole: too much to tell, all is to be read
 */
export function groundSince(number) {
  return read(['meta', 'records'], async (tx) => {
    const now = await changesIn(tx);
    if (number === null || number < now.complete_from || number > now.number) return { number: now.number, changed: null };
    const ids = [...new Set(now.last.filter(([at]) => at > number).map(([, id]) => id))];
    const rows = await Promise.all(ids.map((id) => ask(tx.objectStore('records').get(id))));
    return { number: now.number, changed: ids.map((id, i) => [id, present(rows[i])]) };
  });
}

/** All records that bear on leave. @returns {Promise<{number: number, records: object[]}>} deleted ones left out */
export function allGround() {
  return read(['meta', 'records'], async (tx) => {
    const { number } = await changesIn(tx);
    const index = tx.objectStore('records').index('type');
    const lists = await Promise.all(TYPES.map((type) => ask(index.getAll(type))));
    return { number, records: lists.flat().filter((record) => !record.deleted) };
  });
}

/** Some records by their ids, with the number they are of. @returns {Promise<{number: number, records: Map<string, object>}>} */
export function groundRecords(ids) {
  return read(['meta', 'records'], async (tx) => {
    const { number } = await changesIn(tx);
    const rows = await Promise.all(ids.map((id) => ask(tx.objectStore('records').get(id))));
    return { number, records: new Map(rows.filter(present).map((record) => [record.id, record])) };
  });
}
