/** A person's own change of a species card, as the form of its page makes it. Home judges it; see field/core/card_edit.py. */

import { canonicalText } from './merge.js';
import { nameId } from './name_id.js';

const LENGTHS = [31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31];
const SPRING_ENDS = 6; // the month; up to it what comes northward and upward comes later, after it earlier
const ENDS = ['opens', 'closes'];
const SAY_WHY = 'Say why: a date without its reason is only an opinion.';

/**
 * The id of the record of a change: the same on every phone. Twin of edit_id.
 * @param {string} kind @param {string} part 'traits.<name>', 'events.<event>' or 'windows.<work>.<number>'
 */
export const cardEditId = (kind, part) => nameId(`fellside:card:${kind}:${part}`);

const isNamed = (value) => value !== null && typeof value === 'object' && !Array.isArray(value);

/** The card of a record that changes one part. @param {string} part @param {object} change */
export function editOf(part, change) {
  return { edit: part.split('.').reduceRight((inner, name) => ({ [name]: inner }), change) };
}

/**
 * The parts that a record's card changes, each with its change; none of a whole card and of what cannot be read.
 * @returns {[string, object][]}
 */
export function changesIn(card) {
  const edit = isNamed(card) && isNamed(card.edit) ? card.edit : {};
  const flat = ['traits', 'events'].flatMap((layer) => Object.entries(isNamed(edit[layer]) ? edit[layer] : {}).map(([name, change]) => [`${layer}.${name}`, change]));
  const windows = Object.entries(isNamed(edit.windows) ? edit.windows : {}).flatMap(([work, numbered]) =>
    Object.entries(isNamed(numbered) ? numbered : {}).map(([number, change]) => [`windows.${work}.${number}`, change]));
  return [...flat, ...windows].filter(([, change]) => isNamed(change));
}

/** An edge as home tells it, out of any form a card may have it in: {event, days}, or {on, moves}. */
export function plainEdge(edge) {
  const dated = typeof edge === 'string' ? { on: edge } : edge;
  if (dated?.event !== undefined) return { event: dated.event, days: dated.days ?? 0 };
  const month = Number(String(dated?.on).slice(0, 2));
  return { on: dated?.on ?? null, moves: dated?.moves ?? (month <= SPRING_ENDS ? 'later' : 'earlier') };
}

/** 'MM-DD', or null where that month has no such day in any year. */
export function monthDay(month, day) {
  const two = (n) => String(n).padStart(2, '0');
  return Number.isInteger(day) && day >= 1 && day <= (LENGTHS[month - 1] ?? 0) ? `${two(month)}-${two(day)}` : null;
}

function edgeFrom(values, end, was) {
  if (values[`${end}_by`] === 'event') {
    const days = values[`${end}_days`] ?? 0;
    return { event: values[`${end}_event`], days: values[`${end}_side`] === 'before' && days !== 0 ? -days : days };
  }
  const on = monthDay(Number(values[`${end}_month`]), values[`${end}_day`]);
  if (values[`${end}_fixed`]) return { on, moves: 'no' };
  return was.on === on && was.moves !== 'no' ? { on, moves: was.moves } : plainEdge(on);
}

/**
 * What a form says of a window, beside what the card has.
 * @param {object} values of the form; for each end: <end>_by 'date' or 'event', _month, _day, _fixed, _event, _days, _side
 *   'before' or 'after', hard_<open or close>, why_<end>
 * @param {object} was {opens, closes, hard_open, hard_close} without the person's change, as home tells it
 * @returns {{change: object|null, fault: {field: string, text: string}|null}} change: null when nothing differs
 */
export function windowChange(values, was) {
  const change = {};
  for (const end of ENDS) {
    const [hard, why] = [end === 'opens' ? 'hard_open' : 'hard_close', `why_${end}`];
    const edge = edgeFrom(values, end, was[end]);
    if (edge.on === null) return faultAt(`${end}_day`, 'There is no such day in that month. Set it again.');
    const moved = canonicalText(edge) !== canonicalText(was[end]);
    if (moved && !values[why]) return faultAt(why, SAY_WHY);
    if (moved) change[end] = edge;
    if (values[why]) change[why] = values[why];
    if (values[hard] !== was[hard]) change[hard] = values[hard];
  }
  return { change: Object.keys(change).length === 0 ? null : change, fault: null };
}

/** What a form says of an event's usual date. @param {{month, day, why}} values @param {{usual: string}} was */
export function eventChange(values, was) {
  const on = monthDay(Number(values.month), values.day);
  if (on === null) return faultAt('day', 'There is no such day in that month. Set it again.');
  return plainChange({ on }, on === was.usual, values.why);
}

/** What a form says of a value. @param {{value, why}} values @param {{value}} was */
export function traitChange(values, was) {
  return plainChange({ value: values.value }, values.value === was.value, values.why);
}

function plainChange(change, isSame, why) {
  if (isSame) return { change: null, fault: null };
  return why ? { change: { ...change, why }, fault: null } : faultAt('why', SAY_WHY);
}

const faultAt = (field, text) => ({ change: null, fault: { field, text } });

/**
 * What this phone has changed that home has not told of yet.
 * @param {string} kind
 * @param {object[]} records merged species_card records of this phone, deleted ones too
 * @param {object|null} told the card as home told it last
 * @returns {{rec: string, part: string, change: object|null}[]} change: null where a change was taken back
 */
export function waitingChanges(kind, records, told) {
  const known = told?.edits ?? {};
  return records.filter(({ fields }) => fields.kind === kind).flatMap(({ id, deleted, fields }) => {
    const now = deleted || !isNamed(fields.card) ? null : fields.card;
    const before = known[id] ?? null;
    if ((now === null && before === null) || (now !== null && before !== null && canonicalText(now) === canonicalText(before))) return [];
    return now === null ? changesIn(before).map(([part]) => ({ rec: id, part, change: null })) : changesIn(now).map(([part, change]) => ({ rec: id, part, change }));
  });
}
