/** Under which name a phone is paired. */

import { deviceId, getIdentity, takeNewName } from '../store.js';
import { askHome } from '../store/home.js';

const WAIT_MS = 15_000;

const LET_OUT = new Set(['unpaired', 'shut-out']);

/**
 * The name to pair under: the one it writes under, unless home shut it out. Then it takes a new one, for a copy of this phone
 * may be paired under the old: each time one of the two was paired, the other would be shut out.
 * @returns {Promise<string>}
 */
export async function nameToPairUnder() {
  const before = await getIdentity();
  const own = await deviceId();
  if (before?.device !== own) return own; // never paired; or a copy, which goes by a name of its own by now
  try {
    await askHome('/api/devices', { waitMs: WAIT_MS });
  } catch (fault) {
    if (!LET_OUT.has(fault.code)) return own;
    await takeNewName();
    return deviceId();
  }
  return own;
}
