/** Whose a record is, for a phone that may only record: what others wrote to it leaves as it is, and home holds it to that. */

import { changesOf, deviceId, getIdentity } from '../store.js';

/**
 * Which of some records somebody else has written to.
 * @param {object[]} records merged ones
 * @returns {Promise<Set<string>>} their ids; none on a phone that may do everything, which may change them all
 */
export async function ofOthers(records) {
  const [identity, own] = await Promise.all([getIdentity(), deviceId()]);
  if (identity?.role !== 'record') return new Set();
  const names = new Set([own, identity.device]);
  const found = await Promise.all(records.map(async ({ id }) => (await changesOf(id)).some(({ dev }) => !names.has(dev))));
  return new Set(records.filter((_, i) => found[i]).map(({ id }) => id));
}
