/** What is said of a copy beside what waits: that one was kept, and whether it is time for the next. */

import { copyDue } from '../core/copy_due.js';
import { copyKept, keptHereOnly } from '../store/copy.js';
import { count, here, showInstant } from '../ui/words.js';

/** Why a copy is due, in words; null when it is not. @param {object} only of `keptHereOnly` @param {number} nowMs */
export function dueWords(only, nowMs) {
  const due = copyDue(only, nowMs);
  if (due === null) return null;
  if (due === 'photos') return `${count(only.photos, 'photo is', 'photos are')} on this ${here()} only. A copy of them elsewhere outlives it.`;
  return `Some of it has been on this ${here()} only since ${showInstant(only.oldest_at)}. Let home take it, or keep a copy elsewhere.`;
}

/** @param {number} nowMs @returns {Promise<{due: string|null, kept: string}>} */
export async function nudgeWords(nowMs) {
  const [only, kept] = await Promise.all([keptHereOnly(), copyKept()]);
  return {
    due: dueWords(only, nowMs),
    kept: kept === null ? `One file with everything this ${here()} has, for the day when it is lost.`
      : `The last one: ${showInstant(kept.at)}, with ${count(kept.changes, 'change', 'changes')} and ${count(kept.photos, 'photo', 'photos')}.`,
  };
}
