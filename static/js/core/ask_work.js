/**
 * Ask before you cut: whether a work on a tree suits a day. Twin of field/core/ask_work.py, where the rule and the shape
 * of a question are told; both answer the same cases. The lines come from home with the dates.
 */

import { daysBetween, plusDays, readDate, showDate } from './dates.js';
import { BadInput } from './errors.js';
import { addMonths } from './stage.js';

const REACH_DAYS = 120; // an event belongs to the season whose usual date is within so many days
const FIRST_COUNTS = ['bud_swell', 'bud_break', 'frost'];
const ORDER = ['no', 'must', 'yes', 'say'];

/** The works that can be asked about, and how each is said in a sentence. */
export const ASKED = Object.freeze({
  trim: 'trimming', 'hard-prune': 'hard pruning', suckers: 'taking suckers', wire: 'wiring',
  unwire: 'taking wire off', defoliate: 'defoliating', repot: 'repotting',
});
const EVENTS = Object.freeze({
  bud_swell: 'bud swell', bud_break: 'bud break', flush_hardened: 'first flush hardened',
  leaf_colour: 'leaf colour', leaf_fall: 'leaf fall', frost: 'first frost',
});
export const CAUTION = 'A torn or broken limb is cut clean at any time. What stands can still be cut next year; what is cut cannot be put back.';

const isNumber = (value) => typeof value === 'number';
const reason = (code, weight, text, source = null) => ({ code, weight, text: text[0].toUpperCase() + text.slice(1), source });

/**
 * Answer whether a work suits a day.
 * @param {object} question see field/core/ask_work.py
 * @param {object[]} lines as home's pack brings them
 * @returns {{answer: 'now'|'must'|'not-now'|'no', reasons: object[], opens: string|null, closes: string|null, caution: string}}
 * @throws {BadInput} for an unknown work or a day that is none
 */
export function askWork(question, lines) {
  if (!(question.work in ASKED)) throw new BadInput(`“${question.work}” is no work that can be asked about.`, `Known are: ${Object.keys(ASKED).join(', ')}.`, 'work');
  const on = readDate(question.on, 'The day', 'on');
  const owned = whose(question);
  if (owned) return { answer: 'no', reasons: [owned], opens: null, closes: null, caution: CAUTION };
  const windows = question.windows.map((one) => redate(one, question.seen))
    .sort((a, b) => (a.opens < b.opens ? -1 : a.opens > b.opens ? 1 : 0));
  const said = lineReasons(question, lines, on);
  const dated = windowReasons(question, windows, on, said.waits);
  const reasons = [...dated.found, ...said.found].sort((a, b) => ORDER.indexOf(a.weight) - ORDER.indexOf(b.weight));
  const has = (weight) => reasons.some((one) => one.weight === weight);
  return {
    answer: has('no') ? 'not-now' : has('must') ? 'must' : 'now',
    reasons, opens: dated.shown?.opens ?? null, closes: dated.shown?.closes ?? null, caution: CAUTION,
  };
}

function whose({ stage }) {
  if (stage === 'marked' || stage === 'left_standing') {
    return reason('stands', 'no', "It stands on its ground still: nothing is cut without the landholder's leave. Ask “May I?” there.");
  }
  return stage === 'lost' || stage === 'parted' ? reason('ended', 'no', 'This tree has come to its end in your books.') : null;
}

function windowReasons(question, all, on, waits) {
  const work = ASKED[question.work];
  if (question.never !== null) return { found: [reason('never', 'no', `Not for ${question.name}: ${question.never.replace(/\.+$/, '')}.`)], shown: null };
  const windows = all.filter((one) => one.opens <= one.closes);
  const open = windows.filter((one) => one.opens <= on && on <= one.closes);
  const least = waits !== null && waits > on ? waits : on;
  const coming = windows.filter((one) => one.closes >= least && !open.includes(one));
  const last = (some) => some.reduce((best, one) => (best === null || one.closes > best.closes ? one : best), null);
  if (open.length > 0) {
    const window = last(open);
    const found = [reason('open', 'yes', `The time for ${work} is ${showDate(window.opens)} to ${showDate(window.closes)}: ${window.why_opens}.`, window.source_opens)];
    if (window.opens_event && !window.opens_seen) {
      found.push(reason('look-first', 'say', `The dates hang on “${EVENTS[window.opens_event]}”, which is only expected on ${showDate(window.opens_usual)} and was not noted this year: look at the tree before the date.`));
    }
    found.push(...disagree(window));
    return { found, shown: waits !== null && waits > window.closes ? coming[0] ?? null : window };
  }
  const before = last(windows.filter((one) => one.closes < on));
  const after = windows.find((one) => one.opens > on) ?? null;
  if (before === null && after === null) return { found: [tooShort(work, all.filter((one) => one.opens > one.closes))], shown: null };
  const hard = Boolean(before?.hard_close) || Boolean(after?.hard_open);
  const opens = after === null ? '' : `opens on ${showDate(after.opens)}`;
  // Of the two edges the nearer one is what the asker stands before.
  const early = after !== null && (before === null || daysBetween(on, after.opens) <= daysBetween(before.closes, on));
  const told = early ? after : before;
  const text = early
    ? `Too early for ${work}: it ${opens}: ${after.why_opens}.`
    : `Too late for ${work}: it closed on ${showDate(before.closes)}: ${before.why_closes}.${opens ? ` The next ${opens}.` : ''}`;
  return { found: [reason(early ? 'too-early' : 'too-late', hard ? 'no' : 'must', text, early ? after.source_opens : before.source_closes), ...disagree(told)], shown: coming[0] ?? null };
}

function tooShort(work, crossed) {
  if (crossed.length === 0) return reason('no-dates', 'no', `No safe dates for ${work} are known here.`);
  const one = crossed.at(-1);
  return reason('too-short', 'no', `By the calendar the season here is too short for ${work}: it would open about ${showDate(one.opens)} and must close by ${showDate(one.closes)}. Note what the tree itself shows: that may open it earlier.`, one.source_opens);
}

function disagree(window) {
  return window.other === null || window.other === undefined ? [] : [reason('not-all-agree', 'say', `Not all agree: ${window.other}.`)];
}

function lineReasons(question, lines, on) {
  const found = [];
  let waits = null;
  for (const line of lines) {
    if (!line.works.includes(question.work)) continue;
    const said = holds(line, question, on);
    if (said === null) continue;
    found.push(reason(line.code, line.weight, fill(line.text, { ...question.traits, ...said }), line.source));
    if (line.weight === 'no' && said.day && (waits === null || said.day > waits)) waits = said.day;
  }
  return { found, waits };
}

/** What a line's text may name where all its conditions hold, else null. */
function holds(line, question, on) {
  const { traits } = question;
  const said = { name: question.name, cut_mm: question.cut_mm };
  const all = (table, fits) => Object.entries(table ?? {}).every(([name, bound]) => fits(traits[name], bound));
  const words = (value) => String(value ?? '');
  if (!all(line.least, (value, bound) => isNumber(value) && value >= bound)) return null;
  if (!all(line.below, (value, bound) => isNumber(value) && value < bound)) return null;
  if (!all(line.starts, (value, bound) => words(value).startsWith(bound))) return null;
  if (!all(line.unless, (value, bound) => words(value) !== '' && !bound.split('|').some((one) => words(value).startsWith(one)))) return null;
  if (line.over && !isThick(line, question)) return null;
  if (line.share_over !== undefined && !((question.leaf_share ?? 0) > line.share_over)) return null;
  if (line.root_over !== undefined && !((question.root_mm ?? 0) > line.root_over)) return null;
  if (line.span) {
    const now = (question.spans[line.span] ?? []).map((one) => redate(one, question.seen)).find((one) => one.opens <= on && on <= one.closes);
    if (!now) return null;
    said.until = showDate(now.closes);
  }
  if (line.within) {
    const since = line.since === 'repot' ? question.repotted_on : question.lifted_on;
    const value = traits[line.within];
    if (since === null || !isNumber(value)) return null;
    const day = addMonths(since, Math.ceil(line.within.includes('month') ? value : 12 * value));
    if (on >= day) return null;
    said.date = showDate(day);
    said.day = day;
  }
  return said;
}

function isThick(line, { traits, cut_mm, strong }) {
  const bound = traits[strong ? line.over_strong : line.over];
  return cut_mm !== null && isNumber(bound) && cut_mm > bound;
}

/** An edge that hangs on an event has the date on which the tree showed it. */
function redate(window, seen) {
  const found = { ...window };
  for (const edge of ['opens', 'closes']) {
    const event = window[`${edge}_event`];
    const days = window[`${edge}_days`];
    const usual = plusDays(window[edge], -days);
    found[`${edge}_usual`] = usual;
    found[`${edge}_seen`] = false;
    if (event === null) continue;
    const earliest = window[`${edge}_earliest`];
    const near = (seen[event] ?? []).filter((one) => Math.abs(daysBetween(usual, one)) <= REACH_DAYS && (earliest === null || one >= earliest)).sort();
    if (near.length > 0) {
      found[edge] = plusDays(FIRST_COUNTS.includes(event) ? near[0] : near.at(-1), days);
      found[`${edge}_seen`] = true;
    }
  }
  return found;
}

function fill(text, words) {
  return text.replaceAll(/\{(\w+)\}/g, (_, name) => String(words[name]));
}
