/** The season beside the answer: reads the dated windows that came from home; which days are safe is decided there. */

import { plusDays } from '../core/dates.js';
import { plainKind } from '../core/leave.js';
import { kindWords } from '../core/reasons.js';
import { getPack, listRecords } from '../store.js';
import { plainSources, showDate, showDistance, showRange } from '../ui/words.js';
import { nearestSite } from './ground_facts.js';

export const WINDOW_DAYS = 400; // how far ahead home works the windows out: field/services/build_pack.py
const CAUTIOUS = 'default'; // the card of kinds without one of their own: no season of this kind

const unknown = (why) => ({ state: 'unknown', text: `Season: not known, ${why}.`, why: null, source: null, opens: null, closes: null });

/** The reason of an edge without how its date was reckoned, which stands in brackets at its end. */
function shortReason(why) {
  const at = why.lastIndexOf(' (');
  return at > 0 && why.endsWith(')') ? why.slice(0, at) : why;
}

/** The reason of an edge as it stands after a date and a colon. */
const plainReason = (why) => why.replaceAll(': ', '; ');

function told(state, text, window) {
  return {
    state, text, opens: window.opens, closes: window.closes,
    why: `Opens ${showDate(window.opens)}: ${plainReason(window.why_opens)}. Closes ${showDate(window.closes)}: ${plainReason(window.why_closes)}.${window.other ? ` Not all agree. ${plainSources(window.other)}.` : ''}`,
    source: plainSources(window.source),
  };
}

/**
 * What is known of the season for lifting a kind at a site on a day. It is advice beside the answer, never a part of it.
 * @param {object|null} pack as home made it
 * @param {string|null} site id
 * @param {string|null} species short name of the kind
 * @param {string} on 'YYYY-MM-DD'
 * @param {{windows: object, head: string}|null} [other] what holds until home has worked it out for this ground: of `windowsElsewhere`
 * @returns {{state: 'open'|'closed'|'unknown', text: string, why: string|null, source: string|null, opens: string|null,
 *   closes: string|null, elsewhere?: true}} elsewhere: it is that of other ground; text: one sentence; why: both edges with their reasons; the dates of the window it speaks of
 */
export function seasonOf(pack, site, species, on, other = null) {
  const kind = species ? plainKind(species) : null;
  if (site === null) return unknown('for no ground of yours is here');
  if (!kind) return unknown('for the kind is not told');
  if (!pack?.windows?.[site]) return other ? seasonElsewhere(pack, kind, on, other) : unknown('for home has not worked it out for this ground yet');
  const windows = kind === CAUTIOUS ? undefined : pack.windows[site][kind]?.lift;
  const name = kindWords(kind);
  if (!windows) return unknown(`for home has no card for ${name}`);
  // Of windows that overlap, the one that stays open longest is told.
  const open = windows.filter((one) => one.opens <= on && on <= one.closes).sort((a, b) => (a.closes < b.closes ? 1 : -1))[0];
  if (open) return told('open', `Season: safe to lift ${name} here, ${showRange(open.opens, open.closes)}.`, open);
  if (on < pack.made_on) return unknown('for the day has passed');
  const last = plusDays(pack.made_on, WINDOW_DAYS);
  if (on > last) return unknown(`for home has worked it out up to ${showDate(last)} only`);
  const next = windows.find((one) => one.opens > on);
  if (next) {
    return told('closed', `Season: outside the safe time to lift ${name} here. It opens ${showDate(next.opens)}: ${plainReason(shortReason(next.why_opens))}.`, next);
  }
  const before = windows.filter((one) => one.closes < on).at(-1);
  if (before) return told('closed', `Season: outside the safe time to lift ${name} here. It closed ${showDate(before.closes)}: ${plainReason(shortReason(before.why_closes))}.`, before);
  return { ...unknown(''), state: 'closed', text: `Season: no safe time to lift ${name} here up to ${showDate(last)}, by the card that home keeps.` };
}

/** The season as it is elsewhere, and said to be so: on new ground, before the first sync, it is better than no word at all. */
function seasonElsewhere(pack, kind, on, { windows, head }) {
  const season = seasonOf({ ...pack, windows: { elsewhere: windows } }, 'elsewhere', kind, on);
  if (season.state === 'unknown') return season;
  const text = season.text.replace('Season:', `${head}:`).replace(/ here(?=[ ,.])/, '');
  return { ...season, elsewhere: true, text: `${text} Home has not worked it out for this ground yet: here it may be some weeks earlier or later.` };
}

/**
 * The windows to go by where home has worked out none for a ground: of the nearest one it has, else of no place in particular.
 * @param {object|null} pack @param {object[]} sites merged site records @param {{lat: number, lon: number}} at
 * @returns {{windows: object, head: string}|null}
 */
export function windowsElsewhere(pack, sites, at) {
  const near = nearestSite(sites.filter(({ id }) => pack?.windows?.[id]), at);
  if (near) return { windows: pack.windows[near.site.id], head: `Season of ${near.site.fields.name ?? 'other ground'}, ${showDistance(near.distance_m)} away` };
  return pack?.windows_anywhere ? { windows: pack.windows_anywhere, head: 'Season in general' } : null;
}

/** What `seasonOf` says, from what this phone holds now. @param {{site: string|null, at: {lat: number, lon: number}, species: string|null, on: string}} asked */
export async function readSeason({ site, at, species, on }) {
  const pack = await getPack();
  const other = site === null || pack?.windows?.[site] ? null : windowsElsewhere(pack, await listRecords('site'), at);
  return seasonOf(pack, site, species, on, other);
}
