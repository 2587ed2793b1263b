/** What the trees show: which are to be looked at for an event, when it is expected of them, and what was seen in other years. */

import { plusDays } from '../core/dates.js';
import { plainKind } from '../core/leave.js';
import { firstCounts, isAbout, seasonOf, sightingsIn } from '../core/sightings.js';
import { getPack, listRecords } from '../store.js';
import { showDay, speciesName, tagName } from '../ui/words.js';
import { listGardens, placeNames, standingPlaces } from './gardens.js';

export const FROST = 'frost'; // an event of a place and of no tree
const CAUTIOUS = 'default'; // the card for a kind that is not told or has none
const SAME_SEASON_DAYS = 150; // where home told no season: noted closer than this it is the same one; common practice
const YEARS_SHOWN = 3;

/** Everything the page needs: the living trees by tag, where each stands, and all that was seen. */
export async function readSightings() {
  const [pack, trees, lifts, gardens, events, places] = await Promise.all([getPack(), listRecords('tree'), listRecords('lift'), listGardens(), listRecords('event'), placeNames()]);
  const standing = standingPlaces(trees, lifts, gardens);
  const rows = trees.filter(({ fields }) => !fields.ended_as).map(({ id, fields }) => ({ id, tag: fields.tag ?? null, kind: fields.species ?? null, place: standing.get(id) ?? null }));
  rows.sort((a, b) => tagName(a.tag, '~').localeCompare(tagName(b.tag, '~'), 'en', { numeric: true }));
  return { pack, rows, places, events: events.map(({ fields }) => fields).filter(({ happened_on: on }) => on), gardens: gardens.map(({ id }) => id) };
}

/** The seasons of an event for a kind at a place, as home sent them; null where home sent none, [] where the kind does not show it. */
function seasonsOf(pack, place, kind, event) {
  const known = kind ? plainKind(kind) : CAUTIOUS;
  const { at = {}, anywhere = {} } = pack?.ask ?? {};
  const events = (at[place]?.[known] ?? anywhere[known] ?? at[place]?.[CAUTIOUS] ?? anywhere[CAUTIOUS])?.events;
  return events ? (events[event] ?? []) : null;
}

/** Of the days of other years the one that counts of each, the latest year first. @param {string[]} days in order */
function oneASeason(event, days) {
  const seasons = [];
  for (const day of days) {
    const last = seasons.at(-1);
    if (last && day < plusDays(last[0], SAME_SEASON_DAYS)) last.push(day);
    else seasons.push([day]);
  }
  return seasons.map((some) => (firstCounts(event) ? some[0] : some.at(-1))).reverse();
}

/**
 * What is known of one event of one tree or place on a day.
 * @param {string} event @param {string[]} days on which it was seen @param {string} on @param {object[]|null} seasons
 * @returns {{noted: string[], before: string[], counts: string|null}} noted: in this season; before: in other years, one day of each, the latest first
 */
export function sightingOn(event, days, on, seasons) {
  const season = seasons === null ? null : seasonOf(seasons, on);
  const near = days.filter((day) => plusDays(day, SAME_SEASON_DAYS) > on && plusDays(day, -SAME_SEASON_DAYS) < on).sort();
  const noted = season === null ? near : sightingsIn(event, days, season).days;
  const counts = (firstCounts(event) ? noted[0] : noted.at(-1)) ?? null;
  return { noted, before: oneASeason(event, days.filter((day) => !noted.includes(day)).sort()).slice(0, YEARS_SHOWN), counts };
}

/** '2025: 3 Apr, 2024: 29 Mar'. */
export const yearsWords = (days) => days.map((day) => `${day.slice(0, 4)}: ${showDay(day)}`).join(', ');

/** What is said of an event that was noted already: which day counts. */
export function notedWords(event, { noted, counts }) {
  if (noted.length === 0) return null;
  const rule = `of several in one season the ${firstCounts(event) ? 'first' : 'last'} counts`;
  return noted.length === 1 ? `noted already, ${showDay(noted[0])}: ${rule}` : `noted ${noted.map(showDay).join(' and ')}: ${showDay(counts)} counts, the ${firstCounts(event) ? 'first' : 'last'}`;
}

/** Whether it is expected about now, and when, in words. */
function expectation(seasons, on) {
  if (seasons === null) return { rank: 1, words: null, from: '' };
  if (seasons.length === 0) return { rank: 3, words: 'this kind keeps its leaves: seldom seen on it', from: '' };
  const season = seasonOf(seasons, on);
  if (season === null) return { rank: 2, words: 'not expected at this time of the year', from: '' };
  const words = `expected ${season.from === season.until ? `about ${showDay(season.from)}` : `${showDay(season.from)} to ${showDay(season.until)}`}`;
  return { rank: isAbout(season, on) ? 0 : 1, words, from: season.from };
}

/** Of one kind of event: id of the tree (or of the place, for what no tree is named with) -> the days on which it was seen. */
function daysBy(events, kind, field) {
  const found = new Map();
  for (const one of events) {
    const id = kind === FROST && one.tree ? null : one[field];
    if (one.kind === kind && id) found.set(id, [...(found.get(id) ?? []), one.happened_on]);
  }
  return found;
}

/**
 * The trees to look at for an event, by kind and in each by place, gardens before the hill; kinds of which it is expected about
 * now come first, and in each place the trees of which it is not noted yet.
 * @param {object} facts of readSightings @param {string} event @param {string} on 'YYYY-MM-DD'
 * @returns {{name: string, places: {name: string|null, words: string|null, about: boolean,
 *   rows: {id: string, name: string, place: string|null, noted: string[], before: string[], counts: string|null}[]}[]}[]}
 */
export function groupsFor({ pack, rows, places, events, gardens }, event, on) {
  const days = daysBy(events, event, 'tree');
  const kinds = new Map();
  for (const row of rows) {
    const name = speciesName(pack, row.kind);
    if (!kinds.has(name)) kinds.set(name, new Map());
    const at = kinds.get(name);
    if (!at.has(row.place)) {
      const seasons = seasonsOf(pack, row.place, row.kind, event);
      at.set(row.place, { name: places.get(row.place) ?? 'On no site', far: gardens.includes(row.place) ? 0 : 1, seasons, ...expectation(seasons, on), rows: [] });
    }
    const group = at.get(row.place);
    group.rows.push({ id: row.id, name: tagName(row.tag, 'no tag'), place: row.place, ...sightingOn(event, days.get(row.id) ?? [], on, group.seasons) });
  }
  const byTime = (a, b) => a.rank - b.rank || a.far - b.far || a.from.localeCompare(b.from) || a.name.localeCompare(b.name);
  const found = [...kinds].map(([name, at]) => ({ at: [...at.values()].sort((a, b) => a.far - b.far || byTime(a, b)), name }));
  const nearest = ({ name, at }) => ({ ...[...at].sort(byTime)[0], name });
  found.sort((a, b) => byTime(nearest(a), nearest(b)));
  for (const group of found.flatMap(({ at }) => at)) group.rows.sort((a, b) => Number(a.noted.length > 0) - Number(b.noted.length > 0));
  return found.map(({ name, at }) => ({ name, places: at.map(({ name: place, words, rank, rows: some }) => ({ name: place, words, about: rank === 0, rows: some })) }));
}

/** The places where frost can be noted: the gardens, and all ground that a living tree stands on. @returns {object[]} one group as of groupsFor */
export function placesForFrost({ pack, rows, places, events, gardens }, on) {
  const days = daysBy(events, FROST, 'site');
  const ids = [...new Set([...gardens, ...rows.map(({ place }) => place)])].filter((id) => id && places.has(id));
  const seasons = seasonsOf(pack, ids[0], null, FROST);
  const some = ids.map((id) => ({ id, name: places.get(id), place: id, ...sightingOn(FROST, days.get(id) ?? [], on, seasonsOf(pack, id, null, FROST)) }));
  return [{ name: 'Places', places: [{ name: null, words: expectation(seasons, on).words, about: false, rows: some }] }];
}
