/** May I dig here? put to everything this phone knows: which slips lie near, how many were lifted, how old it all is. */

import { daysBetween, localDate, readZone } from '../core/dates.js';
import { compileSlips } from '../core/leave.js';
import { mayDig } from '../core/may_dig.js';
import { margin, metresBetween, metresOutside, ownZone } from './ground_facts.js';
import { seasonOf } from './season.js';
import { getMeta, getPack, listRecords, packIsCurrent } from '../store.js';

export const NEAR_M = 500; // sites within this are all asked
const FAR_M = 5000; // beyond this a site has nothing to say about the ground one stands on; own rule

const AT_TREE_M = 15; // nearer than this to its mark (or than both circles reach), one stands at the tree

const RANK = { yes: 0, ask: 1, no: 2 };
// Said of the ground, whoever gave leave: these stand even where another site's slip would allow it.
const GROUND_CODES = new Set(['protected', 'consent-missing', 'consent-expired']);
// A slip with one of these does not speak of this ground on this day at all.
const ELSEWHERE_CODES = new Set(['outside', 'no-leave', 'not-begun', 'ended', 'withdrawn']);
const NO_GROUND = { boundary: null, protected: null, services_checked: false, consents: [] };

/** Compiled slips of every site: home's own where they are up to date, else put together here. */
async function readSlips() {
  const [pack, current, sites, lifts, leaves, landholders] = await Promise.all([
    getPack(), packIsCurrent(), listRecords('site'), listRecords('lift'), listRecords('leave'), listRecords('landholder'),
  ]);
  const consents = await listRecords('consent');
  const names = new Map(sites.map((site) => [site.id, site.fields.name ?? 'unnamed site']));
  const counts = new Map();
  for (const lift of lifts) if (lift.fields.leave) counts.set(lift.fields.leave, (counts.get(lift.fields.leave) ?? 0) + 1);
  let slips;
  if (pack && current) {
    slips = Object.entries(pack.sites).map(([id, one]) => ({ id, ...one }));
  } else {
    const [said, given, done, holders] = [consents, leaves, lifts, landholders].map((records) => records.map(plain));
    slips = sites.map((site) => ({ id: site.id, ...compileSlips(plain(site), said, given, done, holders) }));
  }
  for (const slip of slips) {
    slip.name = names.get(slip.id) ?? 'unnamed site';
    slip.leaves = slip.leaves.map((leave) => ({ ...leave, lifted: counts.get(leave.leave) ?? 0 })); // this phone's own count, unsent lifts too
  }
  for (const slip of slips) slip.ground = groundOf(sites.find((site) => site.id === slip.id), consents);
  return { slips, pack, contacts: contactsOf(leaves, landholders), from: pack && current ? 'home' : 'phone' };
}

/** How to reach who gave each leave: leave id -> {phone, email}. */
function contactsOf(leaves, landholders) {
  const ways = new Map(landholders.map(({ id, fields }) => [id, { phone: fields.phone ?? null, email: fields.email ?? null }]));
  return new Map(leaves.filter((leave) => ways.has(leave.fields.landholder)).map((leave) => [leave.id, ways.get(leave.fields.landholder)]));
}

/** What the slips leave out of the ground: on which day services were checked, and what each consent is known by. */
function groundOf(site, consents) {
  if (!site) return null;
  return {
    services_checked_on: site.fields.services_checked_on ?? null,
    consents: consents.filter(({ fields }) => fields.site === site.id).map(({ fields }) => ({
      kind: fields.kind ?? null, state: fields.state ?? null, until: fields.until ?? null, reference: fields.reference ?? null,
    })),
  };
}

const plain = (record) => ({ id: record.id, ...record.fields });

const areasOf = (slip) => [slip.site.boundary, ...slip.leaves.map((leave) => leave.area)].filter(Boolean);

/** Metres from a position to the nearest ground a site's slips speak of; null when it has no ground drawn. */
function metresAway(slip, here) {
  const found = areasOf(slip).map((area) => metresOutside(area, here)).filter((m) => m !== null);
  return found.length > 0 ? Math.min(...found) : null;
}

/**
 * Sites that may have a say: those the position lies in; else all within 500 m, with the asked tree's own site where its
 * ground is not drawn; else the nearest with how far it is.
 */
function sayOf(slips, here, own, unread) {
  const measured = [];
  for (const slip of slips) {
    try {
      const away = metresAway(slip, here);
      if (away !== null) measured.push({ slip, away_m: away });
    } catch (fault) {
      unread.push(`${slip.name}: ${fault.message} It has no say until it is drawn again.`);
    }
  }
  measured.sort((a, b) => a.away_m - b.away_m);
  const inside = measured.filter((one) => one.away_m <= margin(here));
  if (inside.length > 0) return inside;
  const near = measured.filter((one) => one.away_m <= NEAR_M);
  const undrawn = slips.find((slip) => slip.id === own && areasOf(slip).length === 0);
  if (undrawn) near.unshift({ slip: undrawn, away_m: null });
  return near.length > 0 ? near : measured.slice(0, 1);
}

function bestLeave(input, verdict) {
  const asked = input.leaves
    .map((leave) => ({ leave: leave.leave, verdict: mayDig({ ...input, leaves: [leave] }) }))
    .filter((one) => !one.verdict.reasons.some((reason) => reason.weight === 'no' && ELSEWHERE_CODES.has(reason.code)))
    .sort((a, b) => RANK[a.verdict.answer] - RANK[b.verdict.answer]);
  return asked.find((one) => one.verdict.answer === verdict.answer)?.leave ?? asked[0]?.leave ?? null;
}

function withReasons(verdict, more) {
  const told = new Set(verdict.reasons.map((reason) => `${reason.code} ${reason.text}`));
  return { ...verdict, reasons: [...verdict.reasons, ...more.filter((reason) => !told.has(`${reason.code} ${reason.text}`))] };
}

/**
 * How far from a tree's mark one stands, where that is somewhere else.
 * @param {object|null} fix @param {{lat: number, lon: number, accuracy_m: number|null}} mark
 * @returns {number|null} metres; null at the tree, and where one's own position is not known
 */
export function awayFromMark(fix, mark) {
  if (!fix) return null;
  const off = metresBetween(fix, mark);
  return off > Math.max(AT_TREE_M, margin(fix) + margin(mark)) ? off : null;
}

/** The zone of a site, or the phone's own where none is told or this phone does not know it. */
function usableZone(zone) {
  try {
    readZone(zone);
    return zone;
  } catch {
    return ownZone();
  }
}

/** One answer out of the answers of several sites. */
function settle(asked) {
  const best = [...asked].sort((a, b) => RANK[a.verdict.answer] - RANK[b.verdict.answer])[0];
  const ofGround = asked.flatMap((one) => one.verdict.reasons.filter((reason) => reason.weight === 'no' && GROUND_CODES.has(reason.code)));
  if (best.verdict.answer !== 'no' && ofGround.length > 0) {
    return { ...best, verdict: { ...withReasons(best.verdict, ofGround), answer: 'no', keep: [] } };
  }
  if (best.verdict.answer === 'no') return { ...best, verdict: withReasons(best.verdict, asked.flatMap((one) => one.verdict.reasons)) };
  return best;
}

/**
 * Ask for a position, from what this phone holds now.
 * @param {{here: {lat: number, lon: number, accuracy_m: number|null}, site?: string|null, on?: string|null, species?: string|null,
 *   girth_mm?: number|null, depth_mm?: number|null, machine?: boolean}} question site: that of the tree asked about; on: a
 *   local date; null is today there
 * @returns {Promise<{verdict: object, input: object, asked_at: string, site: string|null, site_name: string|null,
 *   away_m: number|null, leave: string|null, unread: string[], synced_at: string|null, made_on: string|null, from: 'home'|'phone',
 *   asked: {verdict: object, input: object, site_name: string|null, ground: object|null}[], contacts: Map<string, object>, season: object,
 *   far: {site_name: string, away_m: number, undrawn: number}|null}>}
 *   asked: the answer of each site that had a say; ground: what the slips leave
 *   out of it; contacts: leave id -> {phone, email} of who gave it; season: as `seasonOf`;
 *   far: the nearest site where none is near enough to have a say, and how many have no ground drawn at all
 */
export async function askLeave({ here, site = null, on = null, species = null, girth_mm = null, depth_mm = null, machine = false }) {
  const [{ slips, pack, contacts, from }, syncedAt] = await Promise.all([readSlips(), getMeta('last_sync_at')]);
  const askedAt = new Date().toISOString();
  const caseOf = (slip) => {
    const zone = usableZone(slip.zone);
    const today = localDate(askedAt, zone);
    return {
      here: { lat: here.lat, lon: here.lon, accuracy_m: here.accuracy_m ?? null },
      on: on ?? today,
      zone, species, girth_mm, machine, depth_mm,
      synced_days_ago: syncedAt ? Math.max(0, daysBetween(localDate(syncedAt, zone), today)) : null,
      paired_phones: pack?.paired_phones ?? 1,
      site: slip.site,
      leaves: slip.leaves,
    };
  };
  const unread = [];
  const say = sayOf(slips, here, site, unread);
  const far = say.length > 0 && (say[0].away_m ?? 0) > Math.max(FAR_M, margin(here))
    ? { site_name: say[0].slip.name, away_m: say[0].away_m, undrawn: slips.filter((slip) => !areasOf(slip).length).length } : null;
  const asked = (far ? [] : say).map(({ slip, away_m }) => {
    const input = caseOf(slip);
    return { input, verdict: mayDig(input), site: slip.id, site_name: slip.name, away_m, ground: slip.ground };
  });
  if (asked.length === 0) {
    const input = caseOf({ site: NO_GROUND, leaves: [], zone: null });
    asked.push({ input, verdict: mayDig(input), site: null, site_name: null, away_m: null, ground: null });
  }
  const found = settle(asked);
  const atSite = found.site !== null && (found.away_m ?? 0) <= NEAR_M ? found.site : null; // so near, the season is the same
  return {
    ...found, leave: found.verdict.leave ?? bestLeave(found.input, found.verdict), unread, asked_at: askedAt, synced_at: syncedAt, made_on: pack?.made_on ?? null, from,
    asked: found.verdict.answer === 'no' ? asked : [found], contacts, far, season: seasonOf(pack, atSite, species, found.input.on),
  };
}
