/** Species cards on this phone: as home told them last, and what the person changed here; changing, and taking it back. */

import { cardEditId, changesIn, editOf, waitingChanges } from '../core/card_edit.js';
import { getMeta, getRecord, listDeleted, listRecords, saveChanges, setMeta } from '../store.js';
import { askHomeJson, HomeError } from '../store/home.js';
import { todayOn } from './ground_facts.js';

const WAIT_MS = 8000;
const KEPT = 'cards_told'; // {path: {at, told}}: what home told last, for where it is out of reach
const MOST_KEPT = 40;
const TYPE = 'species_card';
const REFUSED = new Set(['no-card', 'no-site', 'bad-request']); // home is there, and says so; anything else is no answer to the question

/**
 * What home tells at an address; out of its reach what it told last, with the day.
 * @returns {Promise<{told: object|null, at: string|null, trouble: HomeError|null}>}
 */
export async function readTold(path) {
  const kept = (await getMeta(KEPT)) ?? {};
  try {
    const told = await askHomeJson(path, { waitMs: WAIT_MS });
    const rest = Object.entries(kept).filter(([name]) => name !== path).slice(1 - MOST_KEPT);
    await setMeta(KEPT, Object.fromEntries([...rest, [path, { at: todayOn(), told }]]));
    return { told, at: null, trouble: null };
  } catch (fault) {
    if (!(fault instanceof HomeError)) throw fault;
    const old = REFUSED.has(fault.code) ? null : (kept[path] ?? null);
    return { told: old?.told ?? null, at: old?.at ?? null, trouble: fault };
  }
}

/** Where home tells of a kind, for the place of a site. @param {string} site id or '' @param {string} year four digits, or '' for this one */
export function cardPath(kind, site, year = '') {
  const asked = new URLSearchParams(Object.entries({ site, year }).filter(([, value]) => value)).toString();
  return `/api/cards/${encodeURIComponent(kind)}${asked && `?${asked}`}`;
}

/**
 * What this phone keeps of a kind that home has not told of yet.
 * @returns {Promise<{waiting: {rec, part, change}[], disputed: {rec, part}[], made: boolean}>} disputed: two people wrote it
 *   without having seen each other; made: this phone has a whole card of it
 */
export async function ownOfKind(kind, told) {
  const [live, gone] = await Promise.all([listRecords(TYPE), listDeleted(TYPE)]);
  const mine = live.filter(({ fields }) => fields.kind === kind);
  return {
    waiting: waitingChanges(kind, [...live, ...gone], told),
    disputed: mine.filter(({ conflicts }) => Object.keys(conflicts).length > 0).flatMap(({ id, fields }) => changesIn(fields.card).map(([part]) => ({ rec: id, part }))),
    made: mine.some(({ fields }) => fields.card && !fields.card.edit),
  };
}

/**
 * The change of a part that is kept here, as a form begins with it.
 * @returns {Promise<{change: object|null, seen: object|null}>} seen: its record
 */
export async function keptChange(kind, part) {
  const seen = await getRecord(cardEditId(kind, part));
  const card = seen && !seen.deleted ? seen.fields.card : null;
  return { change: changesIn(card).find(([name]) => name === part)?.[1] ?? null, seen };
}

/**
 * Ask home whether a change can be.
 * @returns {Promise<{fault: object|null, told: object|null}|null>} null: home cannot be asked now, and will say it later
 */
export async function judgeChange(kind, part, change, site) {
  const path = `/api/cards/${encodeURIComponent(kind)}/judge${site ? `?site=${site}` : ''}`;
  try {
    return await askHomeJson(path, { json: { card: editOf(part, change) }, waitMs: WAIT_MS });
  } catch (fault) {
    if (!(fault instanceof HomeError)) throw fault;
    return null;
  }
}

/** Ask home for what makes a new kind out of a card. @returns {Promise<{fault, fields}>} @throws {HomeError} */
export function judgeCopy(fromKind, names) {
  return askHomeJson(`/api/cards/${encodeURIComponent(fromKind)}/copy`, { json: names, waitMs: WAIT_MS });
}

/**
 * Save a change of a part in place of every other one of it.
 * @param {object} change @param {string[]} others ids of records that change the same part
 * @param {object|null} seen the part's record as the form was opened: what another phone wrote meanwhile is not overruled unseen
 * @returns {Promise<() => Promise<any>>} takes it back to what was there before
 */
export async function keepChange(kind, part, change, others, seen) {
  const rec = cardEditId(kind, part);
  const before = await getRecord(rec);
  const wasThere = before !== null && !before.deleted;
  const drop = others.filter((id) => id !== rec);
  await saveChanges([
    { rec, type: TYPE, set: { kind, card: editOf(part, change), ...(before ? { deleted: false } : {}) }, seen },
    ...drop.map((id) => ({ rec: id, type: TYPE, set: { deleted: true } })),
  ]);
  return () => saveChanges([
    { rec, type: TYPE, set: wasThere ? { card: before.fields.card ?? null } : { deleted: true } },
    ...drop.map((id) => ({ rec: id, type: TYPE, set: { deleted: false } })),
  ]);
}

/** Keep a new kind. @returns {Promise<string>} the record's id */
export async function keepKind(fields) {
  const [rec] = await saveChanges([{ type: TYPE, set: fields }]);
  return rec;
}

/** Put records of the person's own away, or with `deleted` false take them up again. */
export const putAway = (recs, deleted = true) => saveChanges(recs.map((rec) => ({ rec, type: TYPE, set: { deleted } })));
