/** Where a tree stands, as far as its care asks: the latitude of its garden or site, and which half of the earth that is. */

import { readArea } from '../core/area.js';
import { middleOf } from '../core/ground_middle.js';
import { standsAt } from '../core/stands_at.js';

/** The latitude of a site's or garden's record; null where it tells none. */
export function latOfPlace(place) {
  if (!place) return null;
  if (typeof place.fields.lat === 'number') return place.fields.lat;
  if (!place.fields.boundary) return null;
  try {
    return middleOf(readArea(place.fields.boundary)).lat;
  } catch {
    return null; // a boundary that cannot be read: the screens of the ground say so
  }
}

/**
 * The record of the garden or site where a tree stands; null where neither is told.
 * @param {object} tree merged fields @param {boolean} isLifted
 * @param {{gardens: object[], sites: object[]}} places merged records
 */
export function placeOfTree(tree, isLifted, { gardens, sites }) {
  const id = standsAt(tree, isLifted, gardens);
  return [...gardens, ...sites].find((one) => one.id === id) ?? null;
}
