/** The wire that is on a tree: every wiring since wire last came off, its looks, and what each wants today. */

import { BITES, judgeWire, planWireDates } from '../core/wire.js';
import { getPack, getRecord, listRecords, recordsWhere } from '../store.js';
import { cardOfKind } from './kind_card.js';
import { latOfPlace, placeOfTree } from './tree_ground.js';

/** The kinds of work that are about wire. */
export const WIRE = 'wire';
export const UNWIRE = 'unwire';
export const LOOK = 'look';

const wireOf = ({ fields }) => fields.detail?.wire ?? null;

/**
 * @param {string} id of the tree
 * @returns {Promise<object|null>} tree, pack, card, south, works, others (null: not kept here)
 */
export async function readWire(id) {
  const [tree, pack, works, lifts, gardens, sites] = await Promise.all([
    getRecord(id), getPack(), recordsWhere('work', 'tree', id), recordsWhere('lift', 'tree', id), listRecords('garden'), listRecords('site'),
  ]);
  if (!tree || tree.deleted) return null;
  const lat = latOfPlace(placeOfTree(tree.fields, lifts.length > 0, { gardens, sites }));
  return { tree, pack, works, isLifted: lifts.length > 0, card: cardOfKind(pack, tree.fields.species), south: lat !== null && lat < 0 };
}

/**
 * What is on the tree, the oldest first.
 * @param {{works: object[], card: object|null, south: boolean}} facts @param {string} today
 * @returns {{id: string, on: string, detail: object, note: string|null, dates: object|null, state: object|null, looks: [string, string][]}[]}
 */
export function wireOn({ works, card, south }, today) {
  const of = (kind) => works.filter(({ fields }) => fields.kind === kind && fields.done_on);
  const off = of(UNWIRE);
  const allOff = off.filter((one) => wireOf(one) === null).map(({ fields }) => fields.done_on).sort().at(-1) ?? '';
  const gone = new Set(off.map(wireOf));
  return of(WIRE)
    .filter(({ id, fields }) => !gone.has(id) && fields.done_on > allOff)
    .sort((a, b) => (a.fields.done_on < b.fields.done_on ? -1 : 1))
    .map(({ id, fields }) => {
      const on = fields.done_on;
      const looks = of(LOOK).filter((one) => [null, id].includes(wireOf(one)) && one.fields.done_on >= on && Object.hasOwn(BITES, one.fields.detail?.bites ?? '')).map((one) => [one.fields.done_on, one.fields.detail.bites]);
      return { id, on, detail: fields.detail ?? {}, note: fields.note ?? null, looks, dates: card && planWireDates(card, on, south), state: card && judgeWire(card, on, looks, today, south) };
    });
}
