/** What this phone knows of the ground and its trees, put together for the screens: sites, tags, kinds, visits, stages. */

import { placeInArea } from '../core/area.js';
import { localDate } from '../core/dates.js';
import { distanceM } from '../core/geodesy.js';
import { showCm } from '../core/lengths.js';
import { marginM } from '../core/may_dig.js';
import { stage } from '../core/stage.js';
import { getPack, listRecords, newId } from '../store.js';
import { speciesName } from '../ui/words.js';
import { treePlace } from './tree_place.js';

/** This phone's own zone name. */
export function ownZone() {
  return Intl.DateTimeFormat().resolvedOptions().timeZone || 'UTC';
}

/** Today as 'YYYY-MM-DD' in a zone, by default the phone's own. */
export function todayOn(zone = ownZone()) {
  return localDate(new Date().toISOString(), zone);
}

/** Every site kept, by name. */
export async function listSites() {
  const sites = await listRecords('site');
  return sites.sort((a, b) => String(a.fields.name ?? '~').localeCompare(String(b.fields.name ?? '~')));
}

/** Names of all sites by id. */
export async function siteNames() {
  return new Map((await listRecords('site')).map((site) => [site.id, site.fields.name ?? 'unnamed site']));
}

/**
 * How far a position lies outside a boundary, in metres; 0 inside or on it; null where there is no boundary.
 * @throws {BadShape} where the boundary cannot be read
 */
export function metresOutside(geometry, fix) {
  if (!geometry || !fix) return null;
  const place = placeInArea(geometry, fix.lat, fix.lon);
  return place.covers ? 0 : place.edge_m;
}

/** The margin of the May I? rule for a fix, in metres; of a fix whose accuracy is not known, the least there is. */
export function margin(fix) {
  return marginM(fix?.accuracy_m ?? 0);
}

/** As metresOutside; a site whose boundary cannot be read has none here. May I? says so where it matters. */
function readableMetresOutside(site, fix) {
  try {
    return metresOutside(site.fields.boundary, fix);
  } catch (fault) {
    console.warn(`${site.fields.name}: ${fault.message}`);
    return null;
  }
}

/**
 * The site whose ground is nearest to a position; of those on whose ground it is, the first.
 * @param {object[]} sites merged site records @param {{lat: number, lon: number}} at
 * @returns {{site: object, distance_m: number}|null}
 */
export function nearestSite(sites, at) {
  let near = null;
  for (const site of sites) {
    const distance = readableMetresOutside(site, at);
    if (distance !== null && (near === null || distance < near.distance_m)) near = { site, distance_m: distance };
  }
  return near;
}

/** The stamp under which a phone wrote a field of a record, or null: a stamp ends in the name of who wrote. */
function ownStamp(record, name, device) {
  return (record.stamps?.[name] ?? []).findLast((stamp) => stamp.endsWith(`-${device}`)) ?? null;
}

/**
 * The site this very phone marked or walked on last that day. Where another phone went says nothing of where this one is.
 * @param {{visits: object[], trees: object[], on: string, device: string|null}} day
 * @returns {string|null} id of the site
 */
export function siteOfLastMark({ visits, trees, on, device }) {
  const ofDay = (records, name) => records.filter((one) => one.fields[name] === on).map((one) => ({ site: one.fields.site ?? null, stamp: ownStamp(one, name, device) }));
  const own = [...ofDay(visits, 'visited_on'), ...ofDay(trees, 'marked_on')].filter(({ stamp }) => stamp !== null);
  own.sort((a, b) => (a.stamp < b.stamp ? -1 : 1)); // stamps sort as text
  return own.at(-1)?.site ?? null;
}

/**
 * The site a position belongs to.
 * @param {object[]} sites merged site records
 * @param {object|null} fix
 * @param {string|null} [lastMarked] without a position, this site is taken: see siteOfLastMark
 * @returns {{site: object|null, by: 'position'|'visit'|null, near: {site: object, distance_m: number}|null}}
 */
export function siteAt(sites, fix, lastMarked = null) {
  if (!fix) {
    const site = sites.find((one) => one.id === lastMarked) ?? null;
    return { site, by: site ? 'visit' : null, near: null };
  }
  const near = nearestSite(sites, fix);
  const here = near !== null && near.distance_m <= margin(fix);
  return { site: here ? near.site : null, by: here ? 'position' : null, near: here ? null : near };
}

/** The visit of a day and site: the one there is, else the change that makes it. */
export function visitChange(visits, site, on) {
  const there = visits.find((visit) => visit.fields.visited_on === on && (visit.fields.site ?? null) === (site?.id ?? null));
  if (there) return { id: there.id, change: null };
  const id = newId();
  return { id, change: { rec: id, type: 'visit', set: { site: site?.id ?? null, visited_on: on, zone: site?.fields.zone ?? ownZone() } } };
}

/**
 * A short tag no tree here has yet: the site's letter and the next number.
 * @param {object[]} trees merged tree records
 * @param {object|null} site
 */
export function proposeTag(trees, site) {
  const letter = (site?.fields.name ?? '').normalize('NFD').match(/\p{L}/u)?.[0].toUpperCase() ?? 'T';
  let highest = 0;
  for (const { fields } of trees) {
    const match = /^(\p{L}+)[ -]?0*(\d+)$/u.exec(fields.tag ?? '');
    if (match && match[1].toUpperCase() === letter) highest = Math.max(highest, Number(match[2]));
  }
  return `${letter}${highest + 1}`;
}

/**
 * Kinds to offer: those the leaves of this ground name first, then those marked latest on this site, then anywhere, then the
 * rest of the pack by name.
 * @param {object[]} trees merged tree records
 * @param {string|null} siteId
 * @param {object|null} pack
 * @param {string[]} [named] what kindsOfLeaves gave
 */
export function recentKinds(trees, siteId, pack, named = []) {
  const recent = (list) => [...list].sort((a, b) => String(b.fields.marked_on ?? '').localeCompare(String(a.fields.marked_on ?? ''))).map((tree) => tree.fields.species);
  const here = recent(trees.filter((tree) => siteId && tree.fields.site === siteId));
  const rest = [...(pack?.species ?? [])].sort((a, b) => a.name.localeCompare(b.name)).map((card) => card.kind);
  return [...new Set([...named, ...here, ...recent(trees), ...rest])].filter((kind) => kind && kind !== 'default');
}

/**
 * The kinds that the leaves of a site name, of those leaves that have not ended and were not withdrawn.
 * @param {object[]} leaves merged leave records
 * @param {string|null} siteId
 * @param {string} on 'YYYY-MM-DD'
 */
export function kindsOfLeaves(leaves, siteId, on) {
  const stands = ({ ends_on: ends, withdrawn_on: withdrawn }) => !(ends && ends < on) && !(withdrawn && withdrawn <= on);
  const named = leaves.filter(({ fields }) => siteId && fields.site === siteId && stands(fields)).flatMap(({ fields }) => fields.species ?? []);
  return [...new Set(named.map((kind) => String(kind).trim().toLowerCase()))];
}

/**
 * The tags of all other trees, each with which tree it is, for telling whose a tag is.
 * @param {{trees: object[], pack: object|null, sites: Map<string, string>}} known @param {string|null} [except] id of a tree
 * @returns {{tag: string, words: string}[]}
 */
export function takenTags({ trees, pack, sites }, except = null) {
  return trees.filter((one) => one.id !== except && one.fields.tag).map(({ fields }) => {
    const kind = fields.species ? `the ${speciesName(pack, fields.species).toLowerCase()}` : 'a tree of unknown kind';
    return { tag: fields.tag, words: `${kind}${sites.has(fields.site) ? ` on ${sites.get(fields.site)}` : ''}` };
  });
}

/** The fields of a fix record from what the receiver gave. */
export function fixFields(fix, tree, visit) {
  return {
    tree, visit, lat: fix.lat, lon: fix.lon, accuracy_m: fix.accuracy_m ?? null, height_m: fix.height_m ?? null,
    fixed_at: fix.fixed_at ?? null, source: fix.source ?? null, platform: fix.platform ?? null,
  };
}

/** Metres between two things with lat and lon. */
export function metresBetween(a, b) {
  return distanceM(a.lat, a.lon, b.lat, b.lon);
}

/** Kind and girth of a tree in a few words. */
export function treeWords(pack, tree) {
  const girth = tree.fields.girth_mm;
  return `${speciesName(pack, tree.fields.species)}${girth === null || girth === undefined ? '' : `, girth ${showCm(girth)}`}`;
}

/** Group records by one field: Map value -> records. */
export function groupBy(records, field) {
  const groups = new Map();
  for (const record of records) {
    const key = record.fields[field] ?? null;
    groups.set(key, [...(groups.get(key) ?? []), record]);
  }
  return groups;
}

/** The stage of one tree from its records, today. */
export function stageOf(tree, lifts, pack, today = todayOn()) {
  const card = pack?.species?.find((one) => one.kind === tree.fields.species);
  return stage(tree.fields, lifts.map((lift) => ({ id: lift.id, ...lift.fields })), today, card?.first_styling_years_min ?? null);
}

/**
 * Every tree with what a list shows of it.
 * @param {object|null} here a fix, for the distances
 * @returns {Promise<{pack: object|null, sites: Map<string, string>, rows: object[]}>}
 */
export async function readTrees(here) {
  const [pack, sites, trees, lifts, fixes, photos] = await Promise.all([
    getPack(), siteNames(), listRecords('tree'), listRecords('lift'), listRecords('fix'), listRecords('photo'),
  ]);
  const today = todayOn();
  const liftsOf = groupBy(lifts, 'tree');
  const fixesOf = groupBy(fixes, 'tree');
  const photosOf = groupBy(photos.filter((photo) => photo.fields.shows !== 'hole'), 'tree'); // a filled hole is no picture of a tree
  const rows = trees.map((tree) => {
    const { fields } = tree;
    const own = treePlace(fixesOf.get(tree.id) ?? []);
    const latest = (photosOf.get(tree.id) ?? []).reduce((best, one) => (best === null || String(one.fields.taken_at ?? '') > String(best.fields.taken_at ?? '') ? one : best), null);
    return {
      id: tree.id, tree, tag: fields.tag ?? null, kind: fields.species ?? null, girth_mm: fields.girth_mm ?? null,
      site: fields.site ?? null, siteName: sites.get(fields.site) ?? null, stage: stageOf(tree, liftsOf.get(tree.id) ?? [], pack, today),
      place: own, thumb: latest?.fields.sha256 ?? null, distance_m: here && own ? metresBetween(here, own) : null,
      text: [fields.tag, fields.species, speciesName(pack, fields.species), sites.get(fields.site), fields.note, fields.condition].filter(Boolean).join(' ').toLowerCase(),
    };
  });
  return { pack, sites, rows };
}
