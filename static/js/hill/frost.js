/** A night's cold put to every boxed tree this phone knows, by the place where each stands. */

import { judgeNight } from '../core/cold.js';
import { daysBetween } from '../core/dates.js';
import { latestLift, liftDay } from '../core/stage.js';
import { mainGarden } from '../core/stands_at.js';
import { getMeta, getPack, listRecords, setMeta } from '../store.js';
import { groupBy } from './ground_facts.js';
import { cardOfKind } from './kind_card.js';
import { lastDaysOf } from './last_days.js';
import { latOfPlace, placeOfTree } from './tree_ground.js';

const TYPED = 'cold-tonight'; // what was typed for the coming night: {on, tmin_c}; it is a forecast and no record
export const SHELTER = 'shelter';
export const UNSHELTER = 'unshelter';
const WINTER_DAYS = 200; // what was sheltered longer ago belongs to another winter; own rule

/** The boxed trees with what a night is judged from, the nights that were logged lately, and what was typed for tonight. */
export async function readFrost(today) {
  const [pack, trees, lifts, boxes, works, gardens, sites, typed] = await Promise.all([
    getPack(), listRecords('tree'), listRecords('lift'), listRecords('box'), listRecords('work'), listRecords('garden'), listRecords('site'), tonight(today),
  ]);
  const [liftsOf, boxesOf] = [groupBy(lifts, 'tree'), groupBy(boxes, 'tree')];
  const sheltered = standingShelters(works, today);
  const rows = [];
  for (const tree of trees) {
    const own = liftsOf.get(tree.id) ?? [];
    const isLifted = own.length > 0;
    const ended = tree.fields.ended_as && (!tree.fields.ended_on || tree.fields.ended_on <= today);
    const card = cardOfKind(pack, tree.fields.species);
    if (ended || !card || !(isLifted || tree.fields.origin === 'client')) continue;
    const place = placeOfTree(tree.fields, isLifted, { gardens, sites });
    const lat = latOfPlace(place);
    rows.push({
      id: tree.id, tag: tree.fields.tag ?? null, card, place,
      lifted_on: isLifted ? liftDay(latestLift(own.map(({ id, fields }) => ({ id, ...fields })))) : null,
      south: lat !== null && lat < 0, box_depth_cm: depthOf(boxesOf.get(tree.id) ?? []), sheltered_on: sheltered.get(tree.id)?.on ?? null, shelters: sheltered.get(tree.id)?.recs ?? [],
    });
  }
  return { pack, rows, typed, logged: await lastNights(new Set(rows.map(({ place }) => place?.id).filter(Boolean)), today) };
}

/**
 * What is in its shelter: sheltered this winter, and not noted as out again since.
 * @param {object[]} works records @param {string} today
 * @returns {Map<string, {on: string, recs: string[]}>} by tree: the last day it was sheltered, and the works that say so. Of one
 *   day, what came out is known by the works it names
 */
export function standingShelters(works, today) {
  const [gone, out, standing] = [new Set(), new Map(), new Map()];
  for (const { fields } of works) {
    if (fields.kind !== UNSHELTER || !fields.done_on) continue;
    if (Array.isArray(fields.detail?.shelters)) for (const rec of fields.detail.shelters) gone.add(rec);
    if (fields.done_on > (out.get(fields.tree) ?? '')) out.set(fields.tree, fields.done_on);
  }
  for (const { id, fields } of works) {
    const { tree, kind, done_on: on } = fields;
    if (kind !== SHELTER || !on || gone.has(id) || on < (out.get(tree) ?? '') || daysBetween(on, today) > WINTER_DAYS) continue;
    const one = standing.get(tree) ?? { on, recs: [] };
    standing.set(tree, { on: on > one.on ? on : one.on, recs: [...one.recs, id] });
  }
  return standing;
}

/** What was typed for the night of today, or null. */
async function tonight(today) {
  const typed = await getMeta(TYPED);
  return typed?.on === today && typeof typed.tmin_c === 'number' ? typed.tmin_c : null;
}

/** The depth of the box a tree stands in, of the latest box that tells one. */
function depthOf(boxes) {
  const told = boxes.filter(({ fields }) => typeof fields.height_mm === 'number' && fields.height_mm > 0);
  const last = told.reduce((best, one) => (best === null || String(one.fields.boxed_on ?? '') > String(best.fields.boxed_on ?? '') ? one : best), null);
  return last === null ? null : last.fields.height_mm / 10;
}

/** Place -> its lowest of last night, as far as it was noted today or yesterday. @param {Set<string>} places */
async function lastNights(places, today) {
  const each = await Promise.all([...places].map(async (id) => {
    const [on, day] = [...(await lastDaysOf(id, today, 2))].reverse().find(([, { low }]) => low !== null) ?? [];
    return on ? [id, { on, tmin_c: day.low }] : null;
  }));
  return new Map(each.filter(Boolean));
}

/** Keep what is expected of the coming night, on this phone only; null: nothing is. */
export const keepTonight = (today, tminC) => setMeta(TYPED, { on: today, tmin_c: tminC });

/**
 * The trees by place, each judged for a night.
 * @param {object} facts of `readFrost`
 * @param {(place: object|null) => {tmin_c: number, on: string}|null} nightAt what night to judge by at a place; null: none is known
 * @returns {{place: object|null, night: object, shelter: object[], near: object[], safe: object[]}[]} the places with most to do
 *   first; rows have `night` and `is_sheltered`
 */
export function judgeAll({ rows }, nightAt) {
  const places = new Map();
  for (const row of rows) {
    const id = row.place?.id ?? null;
    const night = nightAt(row.place);
    if (!night) continue;
    if (!places.has(id)) places.set(id, { place: row.place, night, shelter: [], near: [], safe: [] });
    const judged = judgeNight(row.card, night.tmin_c, night.on, row.lifted_on, row);
    places.get(id)[judged.answer].push({ ...row, night: judged, is_sheltered: row.sheltered_on !== null && row.sheltered_on >= night.on });
  }
  const byTag = (a, b) => String(a.tag ?? '~').localeCompare(String(b.tag ?? '~'), 'en', { numeric: true });
  for (const one of places.values()) for (const list of [one.shelter, one.near, one.safe]) list.sort(byTag);
  return [...places.values()].sort((a, b) => b.shelter.length - a.shelter.length || String(a.place?.fields.name ?? '~').localeCompare(String(b.place?.fields.name ?? '~')));
}

/**
 * The frost round that is due: by what is expected tonight, else by the last night that was logged at each place.
 * @param {object} facts of `readFrost` @param {string} today
 * @returns {{trees: string[], tmin_c: number, is_expected: boolean}|null} trees: whose line is reached and that were not
 *   sheltered since; null: no round is due
 */
export function frostRound(facts, today) {
  const nightAt = (place) => (facts.typed === null ? (facts.logged.get(place?.id) ?? null) : { tmin_c: facts.typed, on: today });
  const open = judgeAll(facts, nightAt).map((one) => ({ ...one, shelter: one.shelter.filter((row) => !row.is_sheltered) })).filter(({ shelter }) => shelter.length > 0);
  if (open.length === 0) return null;
  return { trees: open.flatMap(({ shelter }) => shelter.map(({ id }) => id)), tmin_c: Math.min(...open.map(({ night }) => night.tmin_c)), is_expected: facts.typed !== null };
}

/**
 * The frost round that is due, for a page that is about more: trees are read only when a night may have reached any line.
 * @param {string} today
 */
export async function readFrostRound(today) {
  const [pack, typed, gardens, lifts] = await Promise.all([getPack(), tonight(today), listRecords('garden'), listRecords('lift')]);
  // Without a main garden lifted trees may stand on the ground they came from.
  const grounds = mainGarden(gardens) === null ? lifts.map(({ fields }) => fields.site).filter(Boolean) : [];
  const places = new Set([...gardens.map(({ id }) => id), ...grounds]);
  const lines = Object.values(pack?.care?.kinds ?? {}).flatMap(({ traits }) => [traits.protect_below_c_year1?.[0], traits.root_kill_young_c?.[0]]).filter((line) => typeof line === 'number');
  const nights = typed === null ? [...(await lastNights(places, today)).values()].map((one) => one.tmin_c) : [typed];
  if (lines.length === 0 || nights.length === 0 || Math.min(...nights) > Math.max(...lines)) return null;
  return frostRound(await readFrost(today), today);
}
