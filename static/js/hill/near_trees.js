/** Which trees a photo may show, by where both are: the likeliest first. The rule is that of home's intake. */

import { R95 } from '../core/fix.js';
import { wrapLon } from '../core/geodesy.js';
import { metresBetween } from './ground_facts.js';

const NEAR_TREE_M = 15; // a person with a camera stands at least so far from the trunk; common practice
const USUAL_ACCURACY_M = 10; // of a place that does not say; common practice for receivers among trees
const FAR_DEG = 0.1; // no place is so unsure; spares measuring to every tree of other hills

/**
 * The trees near a place.
 * @param {{lat: number, lon: number, accuracy_m: number|null}|null} spot of a photo
 * @param {{id: string, tag: string, place: {lat: number, lon: number, accuracy_m: number|null}|null}[]} trees
 * @returns {{tree: string, tag: string, distance_m: number}[]} likeliest first: circular normal errors of both together
 */
export function nearTrees(spot, trees) {
  if (!spot) return [];
  const found = [];
  for (const { id, tag, place } of trees) {
    if (!place || Math.abs(place.lat - spot.lat) > FAR_DEG || (Math.abs(wrapLon(place.lon - spot.lon)) > FAR_DEG && Math.abs(spot.lat) < 60)) continue;
    const accuracyM = Math.max(1, Math.hypot(spot.accuracy_m ?? USUAL_ACCURACY_M, place.accuracy_m ?? USUAL_ACCURACY_M));
    const awayM = metresBetween(spot, place);
    if (awayM > Math.max(NEAR_TREE_M, R95 * accuracyM)) continue;
    found.push({ likely: -((awayM / accuracyM) ** 2) / 2 - 2 * Math.log(accuracyM), one: { tree: id, tag, distance_m: awayM } });
  }
  return found.sort((a, b) => b.likely - a.likely || a.one.distance_m - b.one.distance_m).map(({ one }) => one);
}
