/**
 * May I dig here, this tree, today? Twin of field/core/may_dig.py, held to it by tests/vectors/leave.json and
 * leave_more.json. What is not known leads to 'ask', never to 'yes'.
 */

import { boundaryDistanceM, covers, inHole, ON_LINE, OUTSIDE } from './area.js';
import { daysBetween, localDate, readDate, readInstant, readZone, showDate } from './dates.js';
import { BadInput } from './errors.js';
import { R95 } from './fix.js';
import { NEAR_M, readPosition } from './geodesy.js';
import { PROTECTED_AREA } from './ground_questions.js';
import {
  HELD, MACHINE, NEEDED, SPOKEN, UNKNOWN, VEHICLE, plainKind, readFlag, readLeave, readSite,
} from './leave.js';
import {
  ANSWER_WORDS, ASK, CAUTION, CAUTION_DEPTH, KEEP_HAND_TOOLS, KEEP_NO_VEHICLE, NO, YES, accuracyWords, askWords, cmWords,
  consentWords, kindWords, listed, reason, sortReasons,
} from './reasons.js';
import { isMissing, isObject, readCount, readMeasure, roundHalfUp, showDistance } from './units.js';

/** The version of the rule, kept with every answer: a date and a running number, as in its twin. */
export const RULE = '2026-11-26.3';

const LEAST_MARGIN_M = 1; // no boundary is known, or drawn, better than this
const COARSE_FIX_M = 100;
const DEEP_MM = 300;
const STALE_DAYS = 14;
const ENDING_DAYS = 3;
const FAR_WORDS = 'more than 20 km';

/** How far a position may be off: metres, 95 %. @param {number|null} accuracyM 68 %; null: not known */
export function marginM(accuracyM) {
  return Math.max(LEAST_MARGIN_M, R95 * (accuracyM ?? 0));
}

function readDay(question) {
  if (!isMissing(question.zone)) readZone(question.zone);
  if (!isMissing(question.on)) return readDate(question.on, 'The day', 'on');
  if (isMissing(question.now)) throw new BadInput('The day is missing.', 'Give the day, or the moment and the zone.', 'on');
  // A moment in a question is text, as in its twin, never a number.
  const now = typeof question.now === 'number' ? String(question.now) : question.now;
  return localDate(readInstant(now, 'The moment', 'now'), question.zone);
}

/** A checked question; shape and faults as `mayDig`. */
export function readCase(question) {
  if (!isObject(question)) {
    throw new BadInput('The question is not a set of named facts.', 'Give an object with here, site and leaves.', 'case');
  }
  if (!isObject(question.here)) throw new BadInput('The position is missing.', 'Take a position first.', 'here');
  const [lat, lon] = readPosition(question.here.lat, question.here.lon, 'here');
  if (!isMissing(question.species) && typeof question.species !== 'string') {
    throw new BadInput('The kind of tree is not text.', 'Give the short name of the kind.', 'species');
  }
  if (!Array.isArray(question.leaves)) {
    throw new BadInput('The list of leaves is missing.', 'Give a list; empty if there are none.', 'leaves');
  }
  return {
    lat,
    lon,
    accuracy_m: readMeasure(question.here.accuracy_m, 'The accuracy of the position', 'here.accuracy_m'),
    on: readDay(question),
    species: isMissing(question.species) ? null : plainKind(question.species) || null,
    girth_mm: readMeasure(question.girth_mm, 'The girth', 'girth_mm'),
    machine: readFlag(question.machine, 'Whether a machine digs', 'machine'),
    depth_mm: readMeasure(question.depth_mm, 'The depth', 'depth_mm'),
    synced_days_ago: readMeasure(
      question.synced_days_ago, 'The number of days since this phone heard from home', 'synced_days_ago',
    ),
    paired_phones: readCount(question.paired_phones, 'The number of phones', 'paired_phones'),
    site: readSite(question.site, 'site'),
    leaves: question.leaves.map((slip, i) => readLeave(slip, `leaves[${i}]`)),
  };
}

// --- what holds whoever gave leave ----------------------------------------------------------------------------------

function fixReasons(one) {
  if (one.accuracy_m === null) return [reason('coarse-fix-unknown')];
  return one.accuracy_m > COARSE_FIX_M ? [reason('coarse-fix', { accuracy: showDistance(one.accuracy_m) })] : [];
}

function consentReasons({ site, on }) {
  const found = [];
  for (const { kind, name, state, starts_on: starts, until } of site.consents) {
    const consent = consentWords(kind, name);
    if (state === NEEDED) found.push(reason('consent-missing', { consent }));
    else if (state === UNKNOWN) found.push(reason('consent-unknown', { consent }));
    else if (state === HELD) {
      if (starts !== null && on < starts) found.push(reason('consent-not-begun', { consent, day: showDate(starts) }));
      if (until !== null && until < on) found.push(reason('consent-expired', { consent, day: showDate(until) }));
    }
  }
  if (site.consents.every(({ kind }) => kind !== PROTECTED_AREA)) {
    if (site.protected === null) found.push(reason('protected-unknown'));
    else if (site.protected) found.push(reason('protected'));
  }
  return found;
}

function checkReasons({ site }) {
  return site.checks.map(({ question, answer, ask, consent }) => {
    const told = { question, answer: ANSWER_WORDS[answer], ask: askWords(ask) };
    return consent === null ? reason('ground-check', told) : reason('ground-check-consent', { ...told, consent });
  });
}

function newsReasons(one) {
  if (one.synced_days_ago === null) return [reason('stale-never')];
  return one.synced_days_ago > STALE_DAYS ? [reason('stale', { days: roundHalfUp(one.synced_days_ago) })] : [];
}

function servicesReasons(one) {
  if (one.site.services_checked) return [];
  if (one.machine) return [reason('services-machine')];
  // A depth that is not told is no depth over the limit; the caution line then names the limit.
  return one.depth_mm !== null && one.depth_mm > DEEP_MM ? [reason('services-depth')] : [];
}

// --- what one leave says --------------------------------------------------------------------------------------------

function dayReasons(leave, on) {
  const found = [];
  const { starts_on: starts, ends_on: ends, withdrawn_on: withdrawn } = leave;
  if (starts !== null && on < starts) found.push(reason('not-begun', { day: showDate(starts) }));
  const hasEnded = ends !== null && ends < on;
  const isWithdrawn = withdrawn !== null && withdrawn <= on;
  if (hasEnded) found.push(reason('ended', { day: showDate(ends) }));
  if (isWithdrawn) found.push(reason('withdrawn', { day: showDate(withdrawn) }));
  if (hasEnded || isWithdrawn) return found;
  const endsSoon = ends !== null && daysBetween(on, ends) <= ENDING_DAYS;
  const fallsSoon = withdrawn !== null && daysBetween(on, withdrawn) <= ENDING_DAYS;
  if (fallsSoon && (ends === null || withdrawn <= ends)) {
    found.push(reason('ending-withdrawal', { day: showDate(withdrawn) }));
  } else if (endsSoon) {
    found.push(ends === on ? reason('ending-today') : reason('ending', { day: showDate(ends) }));
  }
  return found;
}

function groundReasons(ground, one) {
  if (ground === null) return [reason('no-boundary')];
  const where = covers(ground, one.lat, one.lon);
  const distance = boundaryDistanceM(ground, one.lat, one.lon);
  const margin = marginM(one.accuracy_m);
  if (distance <= margin) {
    const side = where === ON_LINE ? 'line itself' : where;
    const near = { distance: showDistance(distance), side };
    if (one.accuracy_m === null) return [reason('edge-unknown', near)];
    return [reason('edge', { ...near, accuracy: accuracyWords(one.accuracy_m), margin: showDistance(margin) })];
  }
  if (where !== OUTSIDE) return [];
  if (inHole(ground, one.lat, one.lon)) return [reason('outside-hole', { distance: showDistance(distance) })];
  // The phone's formula is true up to here, and nobody walks farther to get back in.
  return [reason('outside', { distance: distance > NEAR_M ? FAR_WORDS : showDistance(distance) })];
}

function treeReasons(leave, one) {
  const found = [];
  if (leave.species !== null && leave.species.length === 0) {
    found.push(reason('species-none'));
  } else if (leave.species !== null) {
    const kinds = listed(leave.species.map(kindWords));
    if (one.species === null) found.push(reason('species-untold', { kinds }));
    else if (!leave.species.includes(one.species)) found.push(reason('species', { kinds, kind: kindWords(one.species) }));
  }
  if (leave.max_girth_mm !== null) {
    const limit = cmWords(leave.max_girth_mm);
    if (one.girth_mm === null) found.push(reason('girth-untold', { limit }));
    else if (one.girth_mm > leave.max_girth_mm) found.push(reason('girth', { girth: cmWords(one.girth_mm), limit }));
  }
  return found;
}

function countReasons(leave, one) {
  if (leave.allowance === null) return [];
  if (leave.lifted === null && leave.allowance > 0) return [reason('stale-uncounted')];
  const lifted = leave.lifted ?? 0; // where none is agreed, none can be left
  const left = leave.allowance - lifted;
  if (left <= 0) return [reason('used-up', { allowance: leave.allowance, lifted })];
  const others = one.paired_phones === null || one.paired_phones > 1;
  // Longer silence is told by `newsReasons`, once for all leaves.
  return left === 1 && others && one.synced_days_ago !== null && one.synced_days_ago >= 1 ? [reason('stale-last')] : [];
}

function methodReasons(leave, one) {
  return leave.methods !== null && !leave.methods.includes(MACHINE) && one.machine ? [reason('methods')] : [];
}

function formReasons(leave) {
  const found = [];
  if (leave.entitled === null) found.push(reason('entitlement-unknown'));
  else if (!leave.entitled) found.push(reason('entitlement-none'));
  if (leave.changed) found.push(reason('spoken-changed'));
  else if (leave.form === null) found.push(reason('spoken-unknown'));
  else if (leave.form === SPOKEN) found.push(reason('spoken'));
  return found;
}

function leaveReasons(leave, one) {
  return [
    ...dayReasons(leave, one.on),
    ...groundReasons(leave.area ?? one.site.boundary, one),
    ...treeReasons(leave, one),
    ...countReasons(leave, one),
    ...methodReasons(leave, one),
    ...formReasons(leave),
  ];
}

/** The terms to tick: the conditions, then what the methods agreed leave out. @param {object} leave as `readLeave` gives it */
export function keepOf({ conditions, methods }) {
  if (methods === null) return [...conditions];
  const lines = [methods.includes(MACHINE) ? null : KEEP_HAND_TOOLS, methods.includes(VEHICLE) ? null : KEEP_NO_VEHICLE];
  return [...conditions, ...lines.filter((line) => line !== null && !conditions.includes(line))];
}

/**
 * Whether a tree may be dug out here today, with every reason.
 * @param {object} question {here: {lat, lon, accuracy_m}, on: date, or now: instant with zone, species, girth_mm, machine,
 *   depth_mm, synced_days_ago, paired_phones, site, leaves}; site and leaves as `compileSlips` makes them. Position,
 *   day, site and leaves must be there; what else is missing is not known. With both on and now, the date counts.
 * @returns {{answer: 'yes'|'ask'|'no', reasons: object[], keep: string[], caution: string, leave: string|null, rule: string}}
 * @throws {BadInput} if something needed is missing or something given is nonsense
 */
export function mayDig(question) {
  const one = readCase(question);
  const everywhere = [...fixReasons(one), ...consentReasons(one), ...checkReasons(one), ...newsReasons(one), ...servicesReasons(one)];
  const depthTold = one.site.services_checked || (one.depth_mm !== null && one.machine !== null);
  const caution = depthTold ? CAUTION : `${CAUTION} ${CAUTION_DEPTH}`;
  const refused = (reasons) => ({ answer: NO, reasons: sortReasons(reasons), keep: [], caution, leave: null, rule: RULE });
  if (one.leaves.length === 0) return refused([reason('no-leave'), ...everywhere]);
  const told = one.leaves.map((leave) => ({ leave, found: [...leaveReasons(leave, one), ...everywhere] }));
  const open = told.filter(({ found }) => found.every(({ weight }) => weight !== NO));
  if (open.length === 0) return refused(told.flatMap(({ found }) => found));
  // Of several leaves that all ask, the one with the fewest questions is the best; the first of equals.
  const best = open.reduce((before, next) => (next.found.length < before.found.length ? next : before));
  return {
    answer: best.found.length > 0 ? ASK : YES,
    reasons: sortReasons(best.found),
    keep: keepOf(best.leave),
    caution,
    leave: best.leave.leave,
    rule: RULE,
  };
}
