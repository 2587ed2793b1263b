/** What is known of the box a tree stands in, and of the air around it: for its mix and for its waterings. */

import { dryingOfDay } from '../core/evapotranspiration.js';
import { daysBetween } from '../core/dates.js';
import { boxVolumeL } from '../core/mix.js';
import { latestLift, liftDay } from '../core/stage.js';
import { getPack, getRecord, listRecords, recordsWhere } from '../store.js';
import { cardOfKind } from './kind_card.js';
import { lastDaysOf } from './last_days.js';
import { latOfPlace, placeOfTree } from './tree_ground.js';

export const WATER = 'water';
const ROUND = 'round';
const DAYS_BACK = 7; // weather noted longer ago says nothing of the days to come; common practice
const SEEN_DAYS = 200; // what a tree showed longer ago belongs to another season; common practice

const known = (value) => (typeof value === 'number' && value > 0 ? value : null);

/**
 * @param {string} id of the tree @param {string} today
 * @returns {Promise<object|null>} tree, pack, card, box (its latest box record or null), place, lat, lifted_on, works, events
 *   and days of the last week's weather there; null: the tree is not kept here
 */
export async function readBox(id, today) {
  const [tree, pack, boxes, lifts, works, events, gardens, sites] = await Promise.all([
    getRecord(id), getPack(), recordsWhere('box', 'tree', id), recordsWhere('lift', 'tree', id), recordsWhere('work', 'tree', id), recordsWhere('event', 'tree', id), listRecords('garden'), listRecords('site'),
  ]);
  if (!tree || tree.deleted) return null;
  const place = placeOfTree(tree.fields, lifts.length > 0, { gardens, sites });
  const days = place ? await lastDaysOf(place.id, today, DAYS_BACK) : new Map();
  const box = boxes.reduce((best, one) => (best === null || String(one.fields.boxed_on ?? '') > String(best.fields.boxed_on ?? '') ? one : best), null);
  const liftedOn = lifts.length > 0 ? liftDay(latestLift(lifts.map((lift) => ({ id: lift.id, ...lift.fields })))) : null;
  return { tree, pack, card: cardOfKind(pack, tree.fields.species), box, place, lat: latOfPlace(place), lifted_on: liftedOn, works, events, days };
}

/**
 * The shape of a box record, as the forms type it.
 * @param {object|null} fields
 * @returns {{shape: 'box'|'round'|'litres', length_cm: number|null, width_cm: number|null, height_cm: number|null, volume_l: number|null}}
 */
export function shapeOf(fields) {
  const [length, width, height] = ['length_mm', 'width_mm', 'height_mm'].map((name) => known(fields?.[name]));
  const shape = length !== null && height !== null && fields.form === ROUND ? 'round' : length !== null && width !== null && height !== null ? 'box' : 'litres';
  const cm = (mm) => (mm === null ? null : mm / 10);
  return { shape, length_cm: cm(length), width_cm: cm(width), height_cm: cm(height), volume_l: known(fields?.volume_l) };
}

/**
 * What a shape holds.
 * @returns {{litres: number|null, depth_cm: number|null, fields: object}} litres: null as long as something is not told; fields: of a box record
 */
export function boxOfShape({ shape, length_cm: length, width_cm: width, height_cm: height, volume_l: volume }) {
  const mm = (cm) => (typeof cm === 'number' ? Math.round(cm * 10) : null);
  if (shape === 'litres') return { litres: known(volume), depth_cm: known(height), fields: { volume_l: known(volume), height_mm: mm(known(height)) } };
  const across = shape === 'round' ? length : width;
  if (known(length) === null || known(across) === null || known(height) === null) return { litres: null, depth_cm: null, fields: {} };
  const litres = boxVolumeL(length * 10, shape === 'round' ? null : width * 10, height * 10);
  const form = shape === 'round' ? { form: ROUND } : {};
  return { litres, depth_cm: height, fields: { ...form, length_mm: mm(length), width_mm: mm(across), height_mm: mm(height), volume_l: Math.round(litres * 10) / 10 } };
}

/**
 * What the air took on the last days that were noted at the place.
 * @param {object} facts of `readBox`
 * @returns {{et0_mm_d: number, from: string, until: string, days: number, cautions: object[]}|null}
 */
export function recentAir({ days, lat }) {
  if (lat === null) return null;
  const whole = [...days].filter(([, day]) => day.low !== null && day.high !== null);
  if (whole.length === 0) return null;
  const each = whole.map(([on, { low, high }]) => dryingOfDay(low, high, lat, on));
  return { et0_mm_d: each.reduce((sum, one) => sum + one.et0_mm_d, 0) / each.length, from: whole[0][0], until: whole.at(-1)[0], days: whole.length, cautions: each[0].cautions };
}

/**
 * Whether the tree should stand bare today: by what it showed lately, else by the dates of its kind at its place.
 * @param {object} facts of `readBox` @param {string} today
 */
export function isBare({ pack, card, place, events }, today) {
  if (!card || !String(card.traits.leaf_type?.[0] ?? '').startsWith('deciduous')) return false;
  const shown = events.filter(({ fields: { kind, happened_on: on } }) => ['bud_break', 'leaf_fall'].includes(kind) && on <= today && daysBetween(on, today) < SEEN_DAYS);
  const last = shown.reduce((best, one) => (best === null || one.fields.happened_on > best.fields.happened_on ? one : best), null);
  if (last) return last.fields.kind === 'leaf_fall';
  const bare = pack?.care?.bare;
  const parts = bare?.[place?.id]?.[card.kind] ?? bare?.anywhere?.[card.kind] ?? [];
  return parts.some(([from, until]) => from <= today && today <= until);
}
