/** What the terms of a leave are: which a signature covers, how they carry over to the leave that follows, and whether an area fits its site. */

import { placeInArea } from './area.js';
import { sameField } from './changed.js';
import { daysBetween, plusDays } from './dates.js';
import { TERMS } from './signing.js';

/** A word for each of the terms that a signature covers. */
const TERM_WORDS = {
  landholder: 'who gives it', starts_on: 'the first day', ends_on: 'the last day', species: 'the kinds', allowance: 'the number', max_girth_mm: 'the girth limit',
  methods: 'how it is dug', conditions: 'the terms to keep', area: 'the area',
};
// What the same landholder agreed for the same ground; dates, signature and withdrawal are each leave's own.
const CARRIED = ['site', 'landholder', 'by_role', 'by_right', 'area', 'species', 'max_girth_mm', 'allowance', 'methods', 'entitled', 'conditions'];
const STEP_M = 10; // own rule: corners of a boundary are hardly known better
const MOST_STEPS = 100; // along one edge
const SLACK_M = 1; // as the margin of May I?: nearer to a line nobody can tell

/**
 * The terms that a change touches, in words.
 * @param {object} before fields of the leave as it stands @param {object} set fields to be set
 * @returns {string[]} as 'the number'; empty when only what stays free is changed
 */
export function touchedTerms(before, set) {
  return TERMS.filter((name) => name in set && !sameField(name, before[name], set[name])).map((name) => TERM_WORDS[name]);
}

/**
 * A leave that follows another: its terms, with the dates set on. It is only asked for, from today, until somebody
 * said yes.
 * @param {string} id of the old leave @param {object} old its fields @param {string} today 'YYYY-MM-DD' at the site
 * @returns {object} fields of the new leave
 */
export function renewalOf(id, old, today) {
  const after = old.ends_on ? plusDays(old.ends_on, 1) : today;
  const starts = after > today ? after : today;
  const days = old.starts_on && old.ends_on ? daysBetween(old.starts_on, old.ends_on) : null;
  const carried = Object.fromEntries(CARRIED.filter((name) => old[name] !== undefined).map((name) => [name, old[name]]));
  return { ...carried, renews: id, form: 'asked', given_on: today, starts_on: starts, ends_on: days === null || days < 0 ? null : plusDays(starts, days) };
}

/**
 * The leaves before and after one, by what each renews; a ring of two that name each other is walked once.
 * @param {{id: string, fields: object}[]} leaves of one site @param {string} id
 * @returns {{before: object[], after: object[]}} before: the nearest first; after: all that renew it, and what renews those
 */
export function leaveChain(leaves, id) {
  const byId = new Map(leaves.map((leave) => [leave.id, leave]));
  const seen = new Set([id]);
  const before = [];
  for (let one = byId.get(byId.get(id)?.fields.renews); one && !seen.has(one.id); one = byId.get(one.fields.renews)) {
    seen.add(one.id);
    before.push(one);
  }
  const after = [];
  const open = [id];
  while (open.length) {
    const from = open.shift();
    for (const one of leaves.filter(({ fields }) => fields.renews === from)) {
      if (seen.has(one.id)) continue;
      seen.add(one.id);
      after.push(one);
      open.push(one.id);
    }
  }
  return { before, after };
}

/**
 * Which leaves of a site are history: over for good, while a later one is there to look at.
 * @param {{record: object, state: {word: string}}[]} leaves
 * @returns {{now: object[], history: object[]}} in the order given; now is empty only when there are none at all
 */
export function splitHistory(leaves) {
  const isOver = ({ state }) => state.word === 'ended' || state.word === 'withdrawn';
  const now = leaves.filter((one) => !isOver(one));
  const over = leaves.filter(isOver);
  if (now.length > 0) return { now, history: over };
  const renewed = new Set(leaves.map(({ record }) => record.fields.renews).filter(Boolean));
  const last = over.find(({ record }) => !renewed.has(record.id)) ?? over[0];
  return { now: last ? [last] : [], history: over.filter((one) => one !== last) };
}

function ringsOf(area) {
  return (area.type === 'MultiPolygon' ? area.coordinates : [area.coordinates]).map((part) => part[0]);
}

/**
 * How far the area of a leave reaches out of its site's boundary, found along its edges in steps of ten metres or more.
 * @param {object|null} boundary @param {object|null} area GeoJSON
 * @returns {number|null} metres, 0 when it lies inside; null where one of them is not drawn
 * @throws {BadShape} where one of them cannot be read
 */
export function areaBeyondM(boundary, area) {
  if (!boundary || !area) return null;
  let furthest = 0;
  const look = (lat, lon) => {
    const place = placeInArea(boundary, lat, lon);
    if (!place.covers) furthest = Math.max(furthest, place.edge_m);
  };
  for (const ring of ringsOf(area)) {
    for (let i = 1; i < ring.length; i += 1) {
      const [[lon, lat], [toLon, toLat]] = [ring[i - 1], ring[i]];
      const across = ((toLon - lon + 540) % 360) - 180; // the short way round, also over the 180th meridian
      const metres = Math.hypot((toLat - lat) * 111_000, across * 111_000 * Math.cos((lat * Math.PI) / 180));
      const steps = Math.min(MOST_STEPS, Math.max(1, Math.ceil(metres / STEP_M)));
      for (let n = 0; n < steps; n += 1) {
        const x = lon + (across * n) / steps;
        look(lat + ((toLat - lat) * n) / steps, x > 180 ? x - 360 : x < -180 ? x + 360 : x);
      }
    }
  }
  return furthest > SLACK_M ? furthest : 0;
}

const HINTS = {
  owner: 'An owner may give leave for what grows on their ground, unless it was let or sold with its trees. Ask whether anybody else has a say.',
  occupier: 'A tenant or grazier may not own the trees. Ask what their agreement says, or have the owner say yes as well.',
  agent: 'An agent needs the owner’s word. Ask to see by what letter they act, and note it above.',
};

/** What to ask before writing down that somebody may give leave. Advice only: nothing is set by it. @param {string|null} role */
export function entitledHint(role) {
  return HINTS[role] ?? 'The owner may; a tenant, neighbour or warden may not be able to. Ask to be sure.';
}

/**
 * What stands against the word of the one who signs: said before the phone is handed over, and decides nothing.
 * @param {{name: string|null, role: string|null, right: string|null, entitled: boolean|null, owners: string[], asked: boolean}} signer
 *   owners: names of the other owners of this ground who gave no leave for it; asked: all the others did
 * @returns {string[]} sentences
 */
export function signerDoubts({ name, role, right, entitled, owners, asked }) {
  const who = name ?? 'The one who signs';
  const isOwner = role === 'owner';
  const found = [];
  if (entitled === false) found.push(`It is recorded that ${name ?? 'the one who signs'} may not give leave here.`);
  else if (entitled !== true) found.push(`Whether ${name ?? 'the one who signs'} may give leave here is not recorded.`);
  if (!isOwner && !right) found.push(role ? `${who} is ${role === 'agent' ? 'an agent' : 'an occupier'}, and by what right they give leave is not recorded.` : `What ${name ?? 'the one who signs'} is to this ground is not recorded.`);
  if (asked) return found;
  if (owners.length > 0) found.push(`${owners.join(' and ')} ${owners.length === 1 ? 'owns' : 'own'} ${isOwner ? 'this ground as well' : 'this ground'}, and no word of theirs is recorded.`);
  else if (!isOwner) found.push('Who owns this ground is not recorded. Ask, and have the owner say yes as well.');
  return found;
}

/** Rights to offer while typing, by what somebody is to the ground. */
export function rightsOf(role) {
  const rights = {
    owner: ['owns the ground', 'owns it together with others'],
    occupier: ['the tenancy allows it', 'tenancy; the owner agrees as well', 'grazing right only'],
    agent: ['letter of authority from the owner', 'acts for the owner by word of mouth'],
  };
  return rights[role] ?? Object.values(rights).flat();
}
