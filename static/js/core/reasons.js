/**
 * Why an answer is what it is: codes, and the words for people. Twin of field/core/reasons.py: a test holds the tables
 * equal, row by row.
 */

import { roundHalfUp } from './units.js';

export const NO = 'no';
export const ASK = 'ask';
export const YES = 'yes';

export const CAUTION = "Local law and the landholder's word stand above this answer.";
export const CAUTION_DEPTH = 'Go no deeper than 30 cm and use no machine before buried pipes and cables are checked.';

/** Terms that follow from the methods agreed, told after the conditions. */
export const KEEP_HAND_TOOLS = 'Hand tools only: no machine.';
export const KEEP_NO_VEHICLE = 'No vehicle on the ground.';

const row = (code, weight, text, cure) => Object.freeze({ code, weight, text, cure });

/** The order of the table is the order in which reasons are told. Several rows may share a code. */
export const REASONS = Object.freeze({
  'no-leave': row(
    'no-leave', NO,
    'You have no leave for this ground.',
    'Ask the landholder. Get it in writing before you dig.',
  ),
  'not-begun': row(
    'not-begun', NO,
    'The leave begins on {day}.',
    'Wait until that day, or ask the landholder for an earlier one.',
  ),
  ended: row(
    'ended', NO,
    'The leave ended on {day}.',
    'Ask the landholder for a new leave.',
  ),
  withdrawn: row(
    'withdrawn', NO,
    'The landholder withdrew the leave. It is not good from {day} on.',
    'Do not dig. Talk to the landholder.',
  ),
  outside: row(
    'outside', NO,
    'You are outside the ground of the leave: {distance} from its boundary.',
    'Go back inside, or ask for leave for this ground as well.',
  ),
  'outside-hole': row(
    'outside', NO,
    'You are inside the piece left out of the ground of the leave: {distance} from its edge.',
    'Go out of that piece, or ask for leave for it as well.',
  ),
  species: row(
    'species', NO,
    'The leave is for {kinds}. It does not name {kind}.',
    'Let this tree stand, or ask the landholder to add the kind.',
  ),
  'species-none': row(
    'species', NO,
    'The leave has a list of kinds, and no kind is on it.',
    'Ask the landholder which kinds are meant. Write them into the leave.',
  ),
  girth: row(
    'girth', NO,
    'The girth is {girth}. The leave allows up to {limit}.',
    'Let this tree stand, or ask the landholder to allow it.',
  ),
  'used-up': row(
    'used-up', NO,
    'The agreed number is used up: {allowance} agreed, {lifted} lifted.',
    'Ask the landholder for more trees.',
  ),
  methods: row(
    'methods', NO,
    'The leave is for hand tools only. You dig with a machine.',
    'Dig by hand, or ask the landholder to allow a machine.',
  ),
  'entitlement-none': row(
    'entitlement', NO,
    'The person who gave this leave had no right to give it.',
    'Find out who may give leave for this ground, and ask them.',
  ),
  'consent-missing': row(
    'consent-missing', NO,
    'A consent is needed here and you do not hold it: {consent}.',
    'Do not dig. Get the consent first.',
  ),
  'consent-not-begun': row(
    'consent-missing', NO,
    'A consent is not good before {day}: {consent}.',
    'Wait until that day, or ask for an earlier one.',
  ),
  'consent-expired': row(
    'consent-expired', NO,
    'A consent ran out on {day}: {consent}.',
    'Have it renewed before you dig. Note the new date with the consent.',
  ),
  protected: row(
    'protected', NO,
    'This ground is protected, and no consent for that is noted.',
    'Ask the office that looks after the protected area. Note its answer.',
  ),
  spoken: row(
    'spoken', ASK,
    'The leave was only spoken.',
    'Have it signed on paper, and photograph the paper.',
  ),
  'spoken-unknown': row(
    'spoken', ASK,
    'Nobody noted whether this leave is in writing.',
    'Look for the paper. Note it in the leave.',
  ),
  'spoken-changed': row(
    'spoken', ASK,
    'The leave was changed after it was signed, and the change is not signed.',
    'Have it signed again before you dig by what was changed.',
  ),
  edge: row(
    'edge', ASK,
    'You are close to the boundary: {distance}, on the {side}. '
    + 'Your position is {accuracy}, so within {margin} nearly always: you may be on either side.',
    'Find the wall, fence or mark on the ground, or go well inside.',
  ),
  'edge-unknown': row(
    'edge', ASK,
    'You are close to the boundary: {distance}, on the {side}. Nobody knows how good your position is.',
    'Find the wall, fence or mark on the ground, or go well inside.',
  ),
  'no-boundary': row(
    'no-boundary', ASK,
    'The boundary of this ground is not drawn, so nobody can tell whether you are on it.',
    'Walk the boundary with the landholder, and draw it.',
  ),
  'coarse-fix': row(
    'coarse-fix', ASK,
    'Your position is good to {accuracy} only.',
    'Stand under open sky and wait for a better one.',
  ),
  'coarse-fix-unknown': row(
    'coarse-fix', ASK,
    'Nobody knows how good this position is.',
    'Take a new one under open sky.',
  ),
  'species-untold': row(
    'species', ASK,
    'The leave is for {kinds} only. The kind of this tree is not told.',
    'Say what kind it is.',
  ),
  'girth-untold': row(
    'girth', ASK,
    'The leave allows a girth of up to {limit}. This tree is not measured.',
    'Measure the girth.',
  ),
  'consent-unknown': row(
    'consent-unknown', ASK,
    'Nobody knows yet whether a consent is needed here: {consent}.',
    'Find out before you dig. Note the answer.',
  ),
  'protected-unknown': row(
    'consent-unknown', ASK,
    'Nobody noted whether this ground is protected.',
    'Find out before you dig. Note it with the site.',
  ),
  'ground-check': row(
    'ground-check', ASK,
    'You noted about this ground: {question} {answer}.',
    'Ask {ask}. When it is settled, answer the question anew.',
  ),
  'ground-check-consent': row(
    'ground-check', ASK,
    'You noted about this ground: {question} {answer}.',
    'Ask {ask}. Then note the consent: {consent}.',
  ),
  'entitlement-unknown': row(
    'entitlement', ASK,
    'Nobody noted whether the person who gave this leave had the right to.',
    'Ask whether they own the ground, rent it, or act for the owner. Note it in the leave.',
  ),
  stale: row(
    'stale', ASK,
    'This phone has not heard from home for {days} days. Trees may have been lifted, or the leave changed.',
    'Go where there is signal and catch up with home, or call the others.',
  ),
  'stale-never': row(
    'stale', ASK,
    'This phone has not heard from home yet. Trees may have been lifted, or the leave changed.',
    'Go where there is signal and catch up with home, or call the others.',
  ),
  'stale-last': row(
    'stale', ASK,
    'One tree is left, and another phone may have taken it today.',
    'Call the others, or catch up with home first.',
  ),
  'stale-uncounted': row(
    'stale', ASK,
    'A number of trees is agreed, and nobody counted how many were lifted so far.',
    'Count them before you dig. Note each lift under its leave.',
  ),
  ending: row(
    'ending', ASK,
    'The leave ends on {day}.',
    'Be done by then, or ask for more time.',
  ),
  'ending-today': row(
    'ending', ASK,
    'Today is the last day of the leave.',
    'Be done today, or ask for more time.',
  ),
  'ending-withdrawal': row(
    'ending', ASK,
    'The landholder withdrew the leave. It is not good from {day} on.',
    'Talk to the landholder before you dig.',
  ),
  'services-machine': row(
    'services', ASK,
    'You dig with a machine, and buried pipes and cables are not checked here.',
    'Get the plans and have the ground searched first.',
  ),
  'services-depth': row(
    'services', ASK,
    'You dig deeper than 30 cm, and buried pipes and cables are not checked here.',
    'Get the plans and have the ground searched first.',
  ),
});

export const CONSENT_WORDS = Object.freeze({
  protected_area: 'protected area',
  tree_order: 'tree order',
  felling_licence: 'felling licence',
  monument: 'monument',
  services: 'buried pipes and cables',
  plant_health: 'plant health',
  other: 'one that is not named',
});
export const CONSENT_UNNAMED = 'its kind is not noted';
export const ANSWER_WORDS = Object.freeze({ yes: 'Yes', no: 'No' });
export const ASK_UNNAMED = 'whoever can tell';
const SMALL_WORDS = ['The', 'A', 'An', 'Each', 'Whoever'];

const placeOfCode = new Map();
for (const [place, words] of Object.values(REASONS).entries()) {
  const key = `${words.weight} ${words.code}`;
  if (!placeOfCode.has(key)) placeOfCode.set(key, place);
}

/**
 * One reason in words.
 * @param {string} key row of `REASONS`
 * @param {object} facts what stands for each {name} of its text, ready to be read
 * @returns {{code: string, weight: string, text: string, cure: string}}
 */
export function reason(key, facts = {}) {
  const { code, weight, text, cure } = REASONS[key];
  const fill = (sentence) => sentence.replace(/\{(\w+)\}/g, (_, name) => String(facts[name]));
  return { code, weight, text: fill(text), cure: fill(cure) };
}

/** Reasons in the order of the table, those that say no first, each once. */
export function sortReasons(reasons) {
  const once = new Map(reasons.map((one) => [`${one.weight} ${one.code} ${one.text} ${one.cure}`, one]));
  const place = (one) => placeOfCode.get(`${one.weight} ${one.code}`);
  return [...once.values()].sort((a, b) => place(a) - place(b));
}

/** Names as a person would list them: 'birch, larch and rowan'. @param {string[]} names at least one */
export function listed(names) {
  return names.length === 1 ? names[0] : `${names.slice(0, -1).join(', ')} and ${names.at(-1)}`;
}

/** The size of a part of a tree as it is read off the tape: 450 -> '45 cm', 412 -> '41.2 cm'. @param {number} mm */
export function cmWords(mm) {
  const whole = roundHalfUp(mm);
  return whole % 10 === 0 ? `${whole / 10} cm` : `${Math.floor(whole / 10)}.${whole % 10} cm`;
}

/** The accuracy of a position as the screens show it: '± 5 m'. @param {number} accuracyM */
export function accuracyWords(accuracyM) {
  return `± ${Math.max(1, roundHalfUp(accuracyM))} m`;
}

/** The short name of a kind of tree for use in a sentence: 'scots-pine' becomes 'scots pine'. */
export function kindWords(kind) {
  return kind.replaceAll('-', ' ');
}

/** The words for a kind of consent; one of another kind goes by its own name. @param {string|null} kind @param {string|null} [name] */
export function consentWords(kind, name = null) {
  if (kind === null) return CONSENT_UNNAMED;
  if (kind === 'other' && name !== null && name.trim() !== '') return name.trim();
  return Object.hasOwn(CONSENT_WORDS, kind) ? CONSENT_WORDS[kind] : kind.replaceAll('_', ' ');
}

/** Whom to ask as it stands within a sentence: 'The owner, or an agent' becomes 'the owner, or an agent'. @param {string|null} ask */
export function askWords(ask) {
  const words = (ask ?? '').trim().replace(/\.$/, '');
  if (words === '') return ASK_UNNAMED;
  return SMALL_WORDS.includes(words.split(' ', 1)[0]) ? words[0].toLowerCase() + words.slice(1) : words;
}
