/**
 * How the leaves of a site stand on a day, in a word: for lists and headings.
 * It decides nothing: whether to dig at a spot is answered by may_dig alone, and follows the same edges (both days of a leave
 * count; a withdrawal counts from its very day).
 */

const ENDING_DAYS = 3; // as in May I?: a leave that ends within three days is to be asked about
const RANK = { good: 0, ask: 1, bad: 2 };
export const STATE_ICONS = { good: 'yes', ask: 'ask', bad: 'no', quiet: 'info' };

/** Whole days from one 'YYYY-MM-DD' to another. */
function daysBetween(from, to) {
  return Math.round((Date.parse(`${to}T00:00:00Z`) - Date.parse(`${from}T00:00:00Z`)) / 86_400_000);
}

/** '1 over the number agreed': two phones may each take the last tree, and neither lift is ever refused. */
export const overWords = (over) => `${over} over the number agreed`;

/** How many more were lifted than agreed; 0 where no number was. */
const overBy = ({ allowance }, lifted) => (Number.isInteger(allowance) ? Math.max(0, lifted - allowance) : 0);

/** What the form of a leave leaves open, or null: a leave that is good in every other way is only as good as its paper. */
function formState(leave, changed) {
  if (changed) return { word: 'changed since it was signed', kind: 'ask', on: null };
  if (leave.form === 'spoken') return { word: 'spoken only', kind: 'ask', on: null };
  return leave.form === 'signed' ? null : { word: 'not in writing', kind: 'ask', on: null };
}

/**
 * @param {object} leave fields of a leave record
 * @param {number} lifted trees lifted under it so far
 * @param {string} on 'YYYY-MM-DD' at the site
 * @param {boolean} [changed] its terms are not those that were signed last
 * @returns {{word: string, kind: 'good'|'ask'|'bad', on: string|null, also?: object}} on: the date the word is about; also: a
 *   second state, where the first would hide it
 */
export function leaveState(leave, lifted, on, changed = false) {
  if (leave.withdrawn_on && leave.withdrawn_on <= on) return { word: 'withdrawn', kind: 'bad', on: leave.withdrawn_on };
  if (leave.ends_on && leave.ends_on < on) return { word: 'ended', kind: 'bad', on: leave.ends_on };
  if (leave.form === 'asked') return { word: 'asked, no answer yet', kind: 'bad', on: null };
  if (leave.starts_on && leave.starts_on > on) {
    const also = formState(leave, changed);
    return { word: 'not begun', kind: 'bad', on: leave.starts_on, ...(also ? { also } : {}) };
  }
  const over = overBy(leave, lifted);
  if (over > 0) return { word: overWords(over), kind: 'bad', on: null };
  if (Number.isInteger(leave.allowance) && lifted === leave.allowance) return { word: 'used up', kind: 'bad', on: null };
  if (leave.entitled === false) return { word: 'signer not entitled', kind: 'bad', on: null };
  if (leave.withdrawn_on) return { word: 'to be withdrawn', kind: 'ask', on: leave.withdrawn_on };
  if (leave.ends_on && daysBetween(on, leave.ends_on) <= ENDING_DAYS) return { word: 'ends soon', kind: 'ask', on: leave.ends_on };
  const form = formState(leave, changed);
  if (form) return form;
  if (leave.entitled !== true) return { word: 'signer not checked', kind: 'ask', on: null };
  return { word: 'good', kind: 'good', on: leave.ends_on ?? null };
}

/**
 * How one consent stands.
 * @param {object} consent fields of a consent record @param {string} on 'YYYY-MM-DD' at the site
 * @returns {{word: string, kind: 'good'|'ask'|'bad', on: string|null}}
 */
export function consentState(consent, on) {
  if (consent.state === 'not_needed') return { word: 'not needed', kind: 'good', on: null };
  if (consent.state === 'needed') return { word: 'needed, not held', kind: 'bad', on: null };
  if (consent.state !== 'held') return { word: 'not known', kind: 'ask', on: null };
  if (consent.until && consent.until < on) return { word: 'expired', kind: 'bad', on: consent.until };
  if (consent.starts_on && consent.starts_on > on) return { word: 'not begun', kind: 'bad', on: consent.starts_on };
  return { word: 'held', kind: 'good', on: consent.until ?? null };
}

/**
 * What the other consents of a site come to.
 * @param {object} site fields of the site record
 * @param {object[]} consents fields of its consent records
 * @param {string} on 'YYYY-MM-DD'
 * @returns {{word: string, kind: 'ask'|'bad', on: string|null}|null} null: nothing stands against it
 */
export function consentsState(site, consents, on) {
  if (consents.some((it) => it.state === 'needed')) return { word: 'consent missing', kind: 'bad', on: null };
  const expired = consents.find((it) => it.state === 'held' && it.until && it.until < on);
  if (expired) return { word: 'consent expired', kind: 'bad', on: expired.until };
  const later = consents.find((it) => it.state === 'held' && it.starts_on && it.starts_on > on);
  if (later) return { word: 'consent not begun', kind: 'bad', on: later.starts_on };
  if (site.protected === true && !consents.some((it) => it.kind === 'protected_area')) {
    return { word: 'protected, no consent', kind: 'bad', on: null };
  }
  if (consents.some((it) => it.state === 'unknown' || !it.state)) return { word: 'consent not known', kind: 'ask', on: null };
  return null;
}

/** Trees over the number under leaves that are not over, together: that is told until they are. */
function overOf(leaves, on) {
  const live = leaves.filter(({ fields }) => !(fields.ends_on && fields.ends_on < on) && !(fields.withdrawn_on && fields.withdrawn_on <= on));
  const over = live.reduce((sum, { fields, lifted }) => sum + overBy(fields, lifted), 0);
  return over > 0 ? { word: overWords(over), kind: 'bad', on: null } : null;
}

/**
 * How a site stands: the worst that matters. Trees over the number come first, then a consent that stands against it, then its
 * best leave; a second one is told beside the first, but nothing good beside what is not.
 * @param {object} site fields @param {{fields: object, lifted: number, changed?: boolean}[]} leaves @param {object[]} consents fields
 * @param {string} on 'YYYY-MM-DD'
 * @returns {{word: string, kind: 'good'|'ask'|'bad', on: string|null, also?: object}} also: the second one
 */
export function siteState(site, leaves, consents, on) {
  if (leaves.length === 0) return { word: 'no leave', kind: 'bad', on: null };
  const states = leaves.map(({ fields, lifted, changed }) => leaveState(fields, lifted, on, changed));
  // Of several that are no good the one that may still become good is told, then the one that stood last: it is the one people remember.
  const waits = ({ word }) => (word === 'asked, no answer yet' ? 0 : 1);
  states.sort((a, b) => RANK[a.kind] - RANK[b.kind] || waits(a) - waits(b) || (b.on ?? '').localeCompare(a.on ?? ''));
  const [best] = states;
  const against = consentsState(site, consents, on);
  const found = [overOf(leaves, on), against, best, best.also].filter(Boolean);
  const words = new Set();
  const told = found.filter(({ word }) => !words.has(word) && words.add(word));
  const worst = told.filter(({ kind }) => kind !== 'good');
  if (worst.length === 0) return best;
  const ranked = [...worst.filter(({ kind }) => kind === 'bad'), ...worst.filter(({ kind }) => kind === 'ask')];
  const [{ word, kind, on: day }, also] = ranked;
  return { word, kind, on: day, ...(also ? { also: { word: also.word, kind: also.kind, on: also.on } } : {}) };
}
