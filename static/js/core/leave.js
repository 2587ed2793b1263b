/** Leave slips: what a landholder agreed, and what else binds the ground. Twin of field/core/leave.py. */

import { readArea } from './area.js';
import { findDate } from './dates.js';
import { BadInput } from './errors.js';
import { ANSWERS, SERVICES, findHeeded, findProtected } from './ground_questions.js';
import { consentWords } from './reasons.js';
import { changedTerms } from './signing.js';
import { isMissing, isObject, readCount, readMeasure } from './units.js';

export const SIGNED = 'signed';
export const SPOKEN = 'spoken';
export const ASKED = 'asked'; // no answer yet: no leave
export const HELD = 'held';
export const NEEDED = 'needed';
export const NOT_NEEDED = 'not_needed';
export const UNKNOWN = 'unknown';
export const MACHINE = 'machine';
export const VEHICLE = 'vehicle';

const NONE = 'Give a list; empty if there are none.';
const STATES = 'Give held, needed, not_needed or unknown.';

const known = (value) => (value === undefined ? null : value);
const byText = (a, b) => (a < b ? -1 : Number(a > b));

/** An order by one field, then by id; a field that is not known comes first. */
const inOrder = (field) => (a, b) => byText(String(a[field] ?? ''), String(b[field] ?? '')) || byText(a.id, b.id);

/**
 * The slips of one site as plain JSON, the shape that `mayDig` takes. The same records make the same slips in any order.
 * @param {object} site merged fields of the site with its "id"
 * @param {object[]} consents merged fields with "id"; those of other sites are passed over
 * @param {object[]} leaves the same
 * @param {object[]} lifts merged fields of all lifts; each counts for the leave it names, wherever it was
 * @param {object[]|null} landholders merged fields with "id", to turn each leave's landholder into a name; null: the
 *   leaves carry names already
 * @param {object[]} questions those of the site's country, as they stand in the pack; none where no country is chosen
 * @param {object[]} checks ground_check fields; two of one question where two people did not see each other's answer
 * @param {object[]} signings letters as they were signed, only those that fit their seal
 * All without deleted ones, which the caller leaves out. A leave that was asked for without an answer is none. "checks" of the
 * site, answers that want more done, and "changed" of a leave are there only where they say it.
 * @returns {{zone: string|null, site: object, leaves: object[]}}
 */
export function compileSlips(site, consents, leaves, lifts, landholders = null, questions = [], checks = [], signings = []) {
  const lifted = new Map();
  for (const lift of lifts) lifted.set(lift.leave, (lifted.get(lift.leave) ?? 0) + 1);
  const names = landholders === null ? null : new Map(landholders.map((holder) => [holder.id, known(holder.name)]));
  const ofSite = (records) => records.filter((record) => record.site === site.id);
  const heeded = findHeeded(site, questions, checks, consents).map(checkSlip);
  return {
    zone: known(site.zone),
    site: {
      boundary: known(site.boundary),
      protected: findProtected(site, questions, checks),
      services_checked: !isMissing(site.services_checked_on),
      consents: ofSite(consents).sort(inOrder('kind')).map((consent) => ({
        kind: known(consent.kind),
        name: known(consent.name),
        state: known(consent.state),
        starts_on: known(consent.starts_on),
        until: known(consent.until),
      })),
      ...(heeded.length > 0 ? { checks: heeded } : {}),
    },
    leaves: ofSite(leaves).filter(({ form }) => form !== ASKED).sort(inOrder('starts_on')).map((leave) => ({
      leave: leave.id,
      landholder: known(names === null ? leave.landholder : names.get(leave.landholder)),
      area: known(leave.area),
      starts_on: known(leave.starts_on),
      ends_on: known(leave.ends_on),
      withdrawn_on: known(leave.withdrawn_on),
      species: known(leave.species),
      max_girth_mm: known(leave.max_girth_mm),
      allowance: known(leave.allowance),
      lifted: lifted.get(leave.id) ?? 0,
      methods: known(leave.methods),
      form: known(leave.form),
      entitled: known(leave.entitled),
      conditions: isMissing(leave.conditions) ? [] : leave.conditions,
      ...(isChanged(leave, site, signings) ? { form: SPOKEN, changed: true } : {}),
    })),
  };
}

function checkSlip({ question, heed, ask, consent, consent_name: name }) {
  // For buried services no consent is asked: it is their owners who answer.
  return { question, answer: heed, ask, consent: consent === null || consent === SERVICES ? null : consentWords(consent, name) };
}

const version = ({ version: number }) => (Number.isSafeInteger(number) ? number : 0);
const signedLater = (a, b) => version(b) - version(a) || byText(String(b.signed_at ?? ''), String(a.signed_at ?? ''));

/**
 * Whether a leave is no more what was signed last.
 * @param {object} leave fields, with its id @param {object} site fields @param {object[]} signings fields of those that stand as they were signed
 */
export function isChanged(leave, site, signings) {
  const newest = signings.filter((one) => one.leave === leave.id).sort(signedLater)[0];
  if (!newest) return false;
  const terms = isObject(newest.letter) ? newest.letter.terms : null;
  // Whoever draws the ground anew is asked whether the same is meant: the form of the leave is what was answered.
  const ground = leave.form === SIGNED && isObject(terms) ? { boundary: terms.boundary } : site;
  return changedTerms(newest.letter, leave, ground).length > 0;
}

/** True, false, or null where it is not known; BadInput for anything else. */
export function readFlag(value, name, where) {
  if (isMissing(value)) return null;
  if (typeof value === 'boolean') return value;
  throw new BadInput(`${name} is neither yes nor no.`, 'Give true or false, or leave it empty.', where);
}

const LONGEST_KIND = 1000;
// What Python takes for a blank as well. What stands before the last run is asked first: else each blank of a long run inside
// would be begun with.
const BLANKS = /^[\s\x1c-\x1f\x85]+|(?<![\s\x1c-\x1f\x85])[\s\x1c-\x1f\x85]+$/g;

/** The name of a kind as it is compared: no letter case, no blanks around, an accent however it was typed. */
export function plainKind(kind) {
  const plain = kind.replace(BLANKS, '').toLowerCase();
  return plain.length <= LONGEST_KIND ? plain.normalize('NFC') : plain; // putting thousands of accents in order takes minutes
}

function readTexts(value, name, where) {
  if (isMissing(value)) return [];
  if (!Array.isArray(value) || !value.every((text) => typeof text === 'string')) {
    throw new BadInput(`${name} are not a list of texts.`, 'Give a list of texts, or leave it empty.', where);
  }
  return value;
}

function readForm(form, where) {
  if (isMissing(form)) return null;
  if (form === SIGNED || form === SPOKEN) return form;
  throw new BadInput('The form of a leave is neither signed nor spoken.', 'Give signed or spoken.', where);
}

function readSpecies(value, where) {
  if (isMissing(value)) return null;
  return [...new Set(readTexts(value, 'The kinds of the leave', where).map(plainKind).filter((kind) => kind !== ''))];
}

/** The methods agreed; one that only a newer app knows is passed over, not refused. */
function readMethods(value, where) {
  if (isMissing(value)) return null;
  return [...new Set(readTexts(value, 'The methods of the leave', where).map(plainKind))];
}

/**
 * A leave slip, checked.
 * @param {*} slip one of "leaves" as `compileSlips` makes them; what is missing is not agreed, or not known
 * @param {string} where its place in the input
 * @returns {object} null means not agreed or not known; "area" as `readArea` gives it
 * @throws {BadInput} with the place of the fault
 */
export function readLeave(slip, where) {
  if (!isObject(slip)) throw new BadInput('A leave is not a set of named facts.', 'Give each leave as an object.', where);
  if (!isMissing(slip.leave) && typeof slip.leave !== 'string') {
    throw new BadInput('The id of a leave is not text.', null, `${where}.leave`);
  }
  const allowance = readCount(slip.allowance, 'The agreed number of trees', `${where}.allowance`);
  const lifted = readCount(slip.lifted, 'The number of trees lifted', `${where}.lifted`);
  return {
    leave: known(slip.leave),
    area: isMissing(slip.area) ? null : readArea(slip.area, `${where}.area`),
    starts_on: findDate(slip.starts_on, 'The first day of the leave', `${where}.starts_on`),
    ends_on: findDate(slip.ends_on, 'The last day of the leave', `${where}.ends_on`),
    withdrawn_on: findDate(slip.withdrawn_on, 'The day of withdrawal', `${where}.withdrawn_on`),
    species: readSpecies(slip.species, `${where}.species`),
    max_girth_mm: readMeasure(slip.max_girth_mm, 'The greatest girth', `${where}.max_girth_mm`),
    allowance,
    lifted,
    form: readForm(slip.form, `${where}.form`),
    entitled: readFlag(slip.entitled, 'Whether the leave was given by right', `${where}.entitled`),
    conditions: readTexts(slip.conditions, 'The conditions', `${where}.conditions`),
    methods: readMethods(slip.methods, `${where}.methods`),
    changed: readFlag(slip.changed, 'Whether the leave was changed since', `${where}.changed`) === true,
  };
}

function readConsent(value, where) {
  if (!isObject(value)) throw new BadInput('A consent is not a set of named facts.', 'Give each consent as an object.', where);
  if (!isMissing(value.kind) && typeof value.kind !== 'string') {
    throw new BadInput('The kind of a consent is not text.', null, `${where}.kind`);
  }
  const state = isMissing(value.state) ? UNKNOWN : value.state;
  if (![HELD, NEEDED, NOT_NEEDED, UNKNOWN].includes(state)) {
    throw new BadInput('The state of a consent is none that is known.', STATES, `${where}.state`);
  }
  if (!isMissing(value.name) && typeof value.name !== 'string') {
    throw new BadInput('The name of a consent is not text.', null, `${where}.name`);
  }
  return {
    kind: known(value.kind),
    state,
    until: findDate(value.until, 'The last day of a consent', `${where}.until`),
    starts_on: findDate(value.starts_on, 'The first day of a consent', `${where}.starts_on`),
    name: known(value.name),
  };
}

function readCheck(value, where) {
  if (!isObject(value)) throw new BadInput('An answer about the ground is not a set of named facts.', 'Give an object.', where);
  const { question, answer, ask, consent } = value;
  if (typeof question !== 'string') throw new BadInput('The question about the ground is not text.', 'Give its words.', `${where}.question`);
  if (!ANSWERS.includes(answer)) throw new BadInput('An answer about the ground is neither yes nor no.', 'Give yes or no.', `${where}.answer`);
  if (!isMissing(ask) && typeof ask !== 'string') throw new BadInput('Whom to ask about the ground is not text.', null, `${where}.ask`);
  if (!isMissing(consent) && typeof consent !== 'string') {
    throw new BadInput('The consent about the ground is not text.', null, `${where}.consent`);
  }
  return { question, answer, ask: known(ask), consent: known(consent) };
}

/**
 * The facts of a site, checked.
 * @param {*} facts "site" as `compileSlips` makes it; each fact may be missing
 * @param {string} where its place in the input
 * @returns {{boundary: object|null, protected: boolean|null, services_checked: boolean, consents: object[],
 *   checks: object[]}}
 * @throws {BadInput} with the place of the fault
 */
export function readSite(facts, where) {
  if (!isObject(facts)) {
    throw new BadInput('The site is missing.', 'Give the facts of the site: its boundary and consents.', where);
  }
  const consents = isMissing(facts.consents) ? [] : facts.consents;
  if (!Array.isArray(consents)) {
    throw new BadInput('The consents are not a list.', NONE, `${where}.consents`);
  }
  const checked = readFlag(facts.services_checked, 'Whether services are checked', `${where}.services_checked`);
  const checks = isMissing(facts.checks) ? [] : facts.checks;
  if (!Array.isArray(checks)) throw new BadInput('The answers about the ground are not a list.', NONE, `${where}.checks`);
  return {
    boundary: isMissing(facts.boundary) ? null : readArea(facts.boundary, `${where}.boundary`),
    protected: readFlag(facts.protected, 'Whether the ground is protected', `${where}.protected`),
    services_checked: checked === true,
    consents: consents.map((consent, i) => readConsent(consent, `${where}.consents[${i}]`)),
    checks: checks.map((check, i) => readCheck(check, `${where}.checks[${i}]`)),
  };
}
