/** Under which name a phone is paired. */

import { deviceId, getIdentity, takeNewName } from '../store.js';
import { askHome } from '../store/home.js';

const WAIT_MS = 15_000;

/**
 * The name to pair under: the one it has, unless home shut it out. Then it takes a new one, for a copy of this phone may be
 * paired under the old: each time one of the two was paired, the other would be shut out.
 * @returns {Promise<string>}
 */
export async function nameToPairUnder() {
  const before = await getIdentity();
  if (before === null) return deviceId();
  try {
    await askHome('/api/devices', { waitMs: WAIT_MS });
  } catch (fault) {
    if (fault.code !== 'unpaired') return before.device;
    await takeNewName();
    return deviceId();
  }
  return before.device;
}
