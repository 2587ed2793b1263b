/** May I dig here? put to everything this phone knows: which slips lie near, how many were lifted, how old it all is. */

import { daysBetween, localDate, readZone } from '../core/dates.js';
import { compileSlips } from '../core/leave.js';
import { SERVICES, questionsFor } from '../core/ground_questions.js';
import { mayDig } from '../core/may_dig.js';
import { margin, metresBetween, metresOutside, ownZone } from './ground_facts.js';
import { answersOf, openQuestions, standingOf } from './ground_checks.js';
import { onStillGround, sitesNear } from './ground_index.js';
import { readSeason } from './season.js';
import { canSign, findSigned } from './signings.js';
import { getMeta, packHead, packIsCurrent } from '../store.js';

export const NEAR_M = 500; // sites within this are all asked
const FAR_M = 5000; // beyond this a site has nothing to say about the ground one stands on; own rule

const AT_TREE_M = 15; // nearer than this to its mark (or than both circles reach), one stands at the tree

const RANK = { yes: 0, ask: 1, no: 2 };
// Said of the ground, whoever gave leave: these stand even where another site's slip would allow it.
const GROUND_CODES = new Set(['protected', 'consent-missing', 'consent-expired']);
// Answers about the ground after which one has to ask: of every site the ground belongs to.
const GROUND_ASKS = 'ground-check';
// A slip with one of these does not speak of this ground on this day at all.
const ELSEWHERE_CODES = new Set(['outside', 'no-leave', 'not-begun', 'ended', 'withdrawn']);
const CONSENT_FIELDS = ['kind', 'name', 'state', 'starts_on', 'until', 'reference', 'authority', 'phone'];
const NO_GROUND = { boundary: null, protected: null, services_checked: false, consents: [] };

const plain = (record) => ({ id: record.id, ...record.fields });

/** How to reach a landholder, and who that is. */
function reached(holder, role) {
  const { name = null, phone = null, email = null } = holder?.fields ?? {};
  return { name, role: role ?? holder?.fields.role ?? null, phone, email };
}

/** What was signed for these leaves, as far as it fits its seal; where no seal can be checked, as it stands. */
async function signedFor(leaves, records) {
  const own = new Set(leaves.map(({ id }) => id));
  const found = [...records.values()].filter(({ type, fields }) => type === 'signing' && own.has(fields.leave));
  const signed = await Promise.all(found.map((record) => (canSign() ? findSigned(record) : record.fields)));
  return signed.filter((one) => one !== null);
}

/** What was answered about buried services: yes, no, or null while it is open or two answers differ. */
function servicesSaid(questions, checks) {
  const question = questions.find(({ consent }) => consent === SERVICES);
  return question ? standingOf(question.id, checks).answer : null;
}

/** What this phone knows of one site, put together: its slips, and what they leave out. @param {object|null} lists of questions */
async function slipOf(id, records, index, lists) {
  const site = records.get(id);
  const own = [...records.values()].filter((record) => record.fields.site === id);
  const ofType = (type) => own.filter((record) => record.type === type);
  const [leaves, consents, holdings, checks] = [ofType('leave'), ofType('consent'), ofType('holding'), ofType('ground_check')];
  const questions = lists && site.fields.country ? questionsFor(lists, site.fields.country).questions : [];
  const holders = [...records.values()].filter((record) => record.type === 'landholder');
  const slips = compileSlips(plain(site), consents.map(plain), leaves.map(plain), [], holders.map(plain),
    questions, answersOf(checks), await signedFor(leaves, records));
  const others = holdings.map(({ fields }) => ({ landholder: fields.landholder, ...reached(records.get(fields.landholder), fields.role) }));
  return {
    id,
    name: site.fields.name ?? 'unnamed site',
    ...slips,
    leaves: slips.leaves.map((leave) => ({ ...leave, lifted: index.lifted(leave.leave) })), // unsent lifts too
    ground: {
      services_checked_on: site.fields.services_checked_on ?? null,
      services_said: servicesSaid(questions, checks),
      consents: consents.map(({ fields }) => Object.fromEntries(CONSENT_FIELDS.map((name) => [name, fields[name] ?? null]))),
    },
    contacts: leaves.map(({ id: leave, fields }) => [leave, {
      ...reached(records.get(fields.landholder), fields.by_role),
      others: others.filter((one) => one.landholder !== fields.landholder && (one.phone || one.email)),
    }]),
  };
}

/** Metres from a position to the nearest ground a site's records speak of; null when it has no ground drawn. */
function metresTo(records, id, here) {
  const areas = [...records.values()].filter(({ type, fields }) => type === 'leave' && fields.site === id).map(({ fields }) => fields.area);
  const found = [records.get(id)?.fields.boundary, ...areas].map((area) => metresOutside(area, here)).filter((m) => m !== null);
  return found.length > 0 ? Math.min(...found) : null;
}

/**
 * Sites that may have a say: those the position lies in; else all within 500 m, with the asked tree's own site where its
 * ground is not drawn; else the nearest with how far it is.
 */
async function readSay(index, readSites, here, own, lists) {
  const { near, records, unread, undrawn } = await sitesNear(
    index, readSites, here, Math.max(NEAR_M, margin(here)), (read, id) => metresTo(read, id, here),
  );
  const say = async ({ id, away_m }, read = records) => ({ slip: await slipOf(id, read, index, lists), away_m });
  const inside = near.filter((one) => one.away_m <= margin(here));
  if (inside.length > 0) return { say: await Promise.all(inside.map((one) => say(one))), unread, undrawn };
  const found = near.filter((one) => one.away_m <= NEAR_M);
  const isUndrawn = own !== null && index.sites(here).some((site) => site.id === own && !site.is_drawn && site.fault === null);
  const first = isUndrawn ? [await say({ id: own, away_m: null }, await readSites([own]))] : [];
  const rest = found.length > 0 || isUndrawn ? found : near.slice(0, 1);
  return { say: [...first, ...(await Promise.all(rest.map((one) => say(one))))], unread, undrawn };
}

/** The leave of this ground that ended or was withdrawn last; null: none ever held here. A tree dug out all the same was dug out under it. */
function lastLeave(asked) {
  const overOn = ({ ends_on: ends, withdrawn_on: withdrawn }) => [ends, withdrawn].filter(Boolean).sort()[0] ?? '';
  const here = asked.filter((one) => !one.verdict.reasons.some(({ weight, code }) => weight === 'no' && ['outside', 'not-begun'].includes(code)));
  return here.sort((a, b) => overOn(b.slip).localeCompare(overOn(a.slip)))[0]?.slip.leave ?? null;
}

/** The leave that an answer is told by, where the verdict names none. */
function bestLeave(input, verdict) {
  const asked = input.leaves.map((slip) => ({ slip, verdict: mayDig({ ...input, leaves: [slip] }) }));
  const speaking = asked
    .filter((one) => !one.verdict.reasons.some((reason) => reason.weight === 'no' && ELSEWHERE_CODES.has(reason.code)))
    .sort((a, b) => RANK[a.verdict.answer] - RANK[b.verdict.answer]);
  const best = speaking.find((one) => one.verdict.answer === verdict.answer) ?? speaking[0];
  return best ? best.slip.leave : lastLeave(asked);
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
  const toAsk = asked.flatMap((one) => one.verdict.reasons.filter((reason) => reason.code === GROUND_ASKS));
  if (best.verdict.answer !== 'no' && toAsk.length > 0) return { ...best, verdict: { ...withReasons(best.verdict, toAsk), answer: 'ask' } };
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
 *   asked: {verdict: object, input: object, site_name: string|null, ground: object|null}[], contacts: Map<string, object>,
 *   far: {site_name: string, away_m: number, undrawn: number}|null}>}
 *   asked: the answer of each site that had a say; ground: what the slips leave out of it; contacts: leave id -> {name, role,
 *   phone, email} of who gave it, and `others`, the same of the ground's other landholders;
 *   far: the nearest site where none is near enough to have a say, and how many have no ground drawn at all
 */
export async function askLeave({ here, site = null, on = null, species = null, girth_mm = null, depth_mm = null, machine = false }) {
  const headAsked = packHead();
  const [{ say, unread, undrawn }, head, current, syncedAt] = await Promise.all([
    headAsked.then((told) => onStillGround((index, readSites) => readSay(index, readSites, here, site, told?.ground ?? null))),
    headAsked, packIsCurrent(), getMeta('last_sync_at'),
  ]);
  const askedAt = new Date().toISOString();
  const caseOf = (slip) => {
    const zone = usableZone(slip.zone);
    const today = localDate(askedAt, zone);
    return {
      here: { lat: here.lat, lon: here.lon, accuracy_m: here.accuracy_m ?? null },
      on: on ?? today,
      zone, species, girth_mm, machine, depth_mm,
      synced_days_ago: syncedAt ? Math.max(0, daysBetween(localDate(syncedAt, zone), today)) : null,
      paired_phones: head?.paired_phones ?? 1,
      site: slip.site,
      leaves: slip.leaves,
    };
  };
  const far = say.length > 0 && (say[0].away_m ?? 0) > Math.max(FAR_M, margin(here))
    ? { site_name: say[0].slip.name, away_m: say[0].away_m, undrawn } : null;
  const asked = (far ? [] : say).map(({ slip, away_m }) => {
    const input = caseOf(slip);
    return { input, verdict: mayDig(input), site: slip.id, site_name: slip.name, away_m, ground: slip.ground };
  });
  if (asked.length === 0) {
    const input = caseOf({ site: NO_GROUND, leaves: [], zone: null });
    asked.push({ input, verdict: mayDig(input), site: null, site_name: null, away_m: null, ground: null });
  }
  const found = settle(asked);
  return {
    ...found, leave: found.verdict.leave ?? bestLeave(found.input, found.verdict), unread, asked_at: askedAt, synced_at: syncedAt,
    made_on: head?.made_on ?? null, from: head && current ? 'home' : 'phone',
    asked: found.verdict.answer === 'no' ? asked : [found], contacts: new Map(say.flatMap(({ slip }) => slip.contacts)), far,
  };
}

/**
 * What stands beside an answer and is no part of it. It is asked apart: the windows and questions of all ground are much to
 * read, and no answer waits for them.
 * @param {object} found what `askLeave` gave
 * @returns {Promise<{season: object, open: {site: string, site_name: string, questions: {id: string, text: string}[]}[]}>}
 *   season: as `readSeason`; open: what is still to be found out about the ground of each site that had a say
 */
export async function besideAnswer(found) {
  const isNear = ({ site, away_m }) => site !== null && (away_m ?? 0) <= NEAR_M; // so near, the season is the same
  const season = await readSeason({ site: isNear(found) ? found.site : null, at: found.input.here, species: found.input.species, on: found.input.on });
  const open = await Promise.all(found.asked.filter(isNear).map(async ({ site, site_name }) => ({
    site, site_name, questions: (await openQuestions(site)).map(({ id, text }) => ({ id, text })),
  })));
  return { season, open };
}
