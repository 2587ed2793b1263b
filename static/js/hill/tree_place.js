/** Where a tree stands: the one position that every screen goes by, out of all its fixes, and whether they agree. */

import { R95 } from '../core/fix.js';
import { distanceM } from '../core/geodesy.js';
import { hasPosition, weighFixes } from './steady_fix.js';

/** What a tree's fix records amount to, with the records beside it. */
export function weighRecords(records) {
  const usable = records.filter((record) => hasPosition(record.fields));
  const weighed = weighFixes(usable.map((record) => record.fields));
  return { weighed, usable, aside: new Map((weighed?.aside ?? []).map((one) => [usable[one.place].id, one])) };
}

/** Whether a fix lies further off than its accuracy and the mean's explain. */
export function isFar(record, off, weighed) {
  return !record.fields.accuracy_m || !weighed.accuracy_m || off > R95 * (record.fields.accuracy_m + weighed.accuracy_m);
}

/** Whether fixes that make the position contradict each other: of two nobody can tell which is wrong. */
function quarrel({ weighed, usable }) {
  return weighed.used.some((place) => {
    const { fields } = usable[place];
    return Boolean(fields.accuracy_m) && isFar(usable[place], distanceM(fields.lat, fields.lon, weighed.lat, weighed.lon), weighed);
  });
}

/**
 * How far from the middle the fixes lie that make a position and contradict each other.
 * @returns {number|null} metres; null where they agree
 */
export function quarrelM(records) {
  const found = weighRecords(records);
  return found.weighed && quarrel(found) ? found.weighed.furthest_m : null;
}

/**
 * The position to go by.
 * @param {object[]} records fix records of one tree
 * @returns {{lat: number, lon: number, accuracy_m: number|null}|null} the mean by core/fix.js; where its fixes contradict
 *   each other its accuracy reaches as far as the furthest of them. Null where no fix has a position
 */
export function treePlace(records) {
  const { weighed } = weighRecords(records);
  if (!weighed) return null;
  const apart = quarrelM(records);
  return { lat: weighed.lat, lon: weighed.lon, accuracy_m: apart === null ? weighed.accuracy_m : Math.max(apart, weighed.accuracy_m) };
}
