/** Says in time that room on this phone is getting short: while a photo is taken, and not with every one. */

import { roomFor } from '../core/room.js';
import { photoSizes } from '../store/room.js';
import { notice } from '../ui/notice.js';
import { count } from '../ui/words.js';

const EVERY_MS = 30 * 60 * 1000;
let saidAt = -Infinity;

/** The sentence. @param {number} photosLeft */
export function shortWords(photosLeft) {
  const left = photosLeft === 0 ? 'There is room for no more photo on this phone.' : `Room on this phone is getting short: about ${count(photosLeft, 'more photo', 'more photos')}.`;
  return `${left} Let home take what waits, or make room.`;
}

/** Warn if it is short, and was not said within the last half hour. @param {number} nowMs */
export async function warnIfShort(nowMs) {
  if (nowMs - saidAt < EVERY_MS) return;
  const [estimate, sizes] = await Promise.all([navigator.storage?.estimate?.(), photoSizes()]);
  const room = roomFor(estimate ?? {}, sizes);
  if (!room.is_short) return;
  saidAt = nowMs;
  notice(shortWords(room.photos_left), {
    kind: 'trouble',
    act: { label: 'See what can go', run: () => { globalThis.location.hash = '#/copy?part=room'; } },
  });
}
