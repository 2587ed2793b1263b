/** A phone that was copied had to take a name of its own; here it takes a token of its own too, so that home can tell the two apart. */

import { deviceId, getIdentity, takeToken, tokenToTake } from '../store.js';
import { askHomeJson, HomeError } from '../store/home.js';

const WAIT_MS = 8000;

/**
 * Take a token of its own where this phone goes by another name than the one it was paired under; else do nothing.
 * @returns {Promise<boolean>} whether it took one
 * @throws {HomeError} shut-out: home let this one in no more
 */
export async function takeOwnToken() {
  const [identity, device] = await Promise.all([getIdentity(), deviceId()]);
  if (!identity?.token || identity.device === device) return false;
  const token = await tokenToTake(device);
  try {
    await askHomeJson('/api/own-token', { json: { device, token }, waitMs: WAIT_MS });
  } catch (fault) {
    // An older home does not know the question, and one out of reach is asked at the next sync: the old token is good till then.
    if (!(fault instanceof HomeError) || fault.code === 'shut-out') throw fault;
    return false;
  }
  return takeToken(identity.token, { device, token });
}
