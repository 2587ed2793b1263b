/** The values of a kind's card as home sent them; the careful card where the kind is not told or has none. */

import { plainKind } from '../core/leave.js';

const CAREFUL = 'default';

/**
 * @param {object|null} pack @param {string|null} species
 * @returns {object|null} {kind, name, stands_in, traits} as the twins of wire and cold take it; null: home sent none yet
 */
export function cardOfKind(pack, species) {
  const kinds = pack?.care?.kinds;
  const kind = species ? plainKind(species) : null;
  return (kind && kinds?.[kind]) || (kinds?.[CAREFUL] ?? null);
}
