/** The gardens where lifted trees grow on: which tree stands in which, and what a place is called. */

import { latestLift } from '../core/stage.js';
import { standsAt } from '../core/stands_at.js';
import { listRecords } from '../store.js';
import { groupBy, siteNames } from './ground_facts.js';

const NO_NAME = 'unnamed garden';

/** Every garden kept, the main one first, then by name. */
export async function listGardens() {
  const gardens = await listRecords('garden');
  const order = ({ fields }) => `${fields.is_main === true ? 0 : 1}${fields.name ?? '~'}`;
  return gardens.sort((a, b) => order(a).localeCompare(order(b)));
}

/** What a garden is called. @param {object} garden merged record */
export const gardenName = (garden) => garden.fields.name ?? NO_NAME;

/** Names of all sites and gardens by id. */
export async function placeNames() {
  const [sites, gardens] = await Promise.all([siteNames(), listRecords('garden')]);
  return new Map([...sites, ...gardens.map((garden) => [garden.id, gardenName(garden)])]);
}

/**
 * Where trees stand now.
 * @param {object[]} trees merged tree records @param {object[]} lifts merged lift records of all of them @param {object[]} gardens
 * @returns {Map<string, string|null>} tree id -> id of a garden or site
 */
export function standingPlaces(trees, lifts, gardens) {
  const liftsOf = groupBy(lifts, 'tree');
  const isLifted = (tree) => latestLift((liftsOf.get(tree.id) ?? []).map(({ id, fields }) => ({ id, ...fields }))) !== null;
  return new Map(trees.map((tree) => [tree.id, standsAt(tree.fields, isLifted(tree), gardens)]));
}
