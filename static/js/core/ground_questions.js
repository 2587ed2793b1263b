/**
 * What to check for a piece of ground: which list holds there, and which of its questions are open.
 * Twin of field/core/ground_questions.py (tests/vectors/ground_checks.json).
 */

export const GENERAL = 'general';
export const ANSWERS = ['yes', 'no'];
export const PROTECTED_AREA = 'protected_area';
export const SERVICES = 'services';
export const OTHER = 'other';

/**
 * The list of a country; the general one for none and for a code that is not known.
 * @param {{lists: {code: string, name: string, note: string, questions: object[]}[]}} ground as it comes in the pack
 * @param {string|null} code
 * @returns {object} the list; its own code tells whether it is the one that was asked for
 */
export function questionsFor(ground, code) {
  return ground.lists.find((one) => one.code === code) ?? ground.lists.find((one) => one.code === GENERAL);
}

/**
 * The id of the record that holds the answer to a question at a site: the same on every device.
 * @param {string} site id, a UUID in lower case
 * @param {string} key of the question in the pack, 32 hex digits
 * @returns {string} a UUID of version 8
 */
export function checkRecordId(site, key) {
  const hex = site.replaceAll('-', '');
  const mixed = Array.from(hex, (digit, i) => parseInt(digit, 16) ^ parseInt(key[i], 16));
  mixed[12] = 8;
  mixed[16] = (mixed[16] & 0x3) | 0x8;
  return mixed.map((nibble) => nibble.toString(16)).join('').replace(/^(.{8})(.{4})(.{4})(.{4})(.{12})$/, '$1-$2-$3-$4-$5');
}

/**
 * The questions that nobody has answered for a site, in their order. Two records of one question that say different things
 * leave it open.
 * @param {{id: string}[]} questions of the site's country
 * @param {string} site id
 * @param {object[]} checks ground_check fields, of any site, deleted ones marked as such or left out
 */
export function openOf(questions, site, checks) {
  const said = saidOf(site, checks);
  return questions.filter(({ id }) => new Set((said.get(id) ?? []).map(({ answer }) => answer)).size !== 1);
}

function saidOf(site, checks) {
  const said = new Map();
  for (const one of checks) {
    if (one.site !== site || !ANSWERS.includes(one.answer) || one.deleted === true) continue;
    said.set(one.question, [...(said.get(one.question) ?? []), one]);
  }
  return said;
}

/**
 * Whether a site is protected: as it is recorded, else as the questions about protected areas were answered.
 * @param {object} site merged fields with "id"
 * @param {object[]} questions of the site's country, as they stand in the pack
 * @param {object[]} checks ground_check fields, of any site
 * @returns {boolean|null} what is recorded; with nothing recorded true where one answer says so, false where all of them say
 *   that it is not, and null while one is open or there is no such question
 */
export function findProtected(site, questions, checks) {
  if (site.protected !== null && site.protected !== undefined) return site.protected;
  const said = saidOf(site.id, checks);
  const asked = questions.filter(({ consent }) => consent === PROTECTED_AREA);
  const answers = asked.map(({ id }) => (said.get(id) ?? []).map(({ answer }) => answer));
  if (asked.some(({ heed }, i) => answers[i].includes(heed))) return true;
  return asked.length > 0 && answers.every((told) => told.length > 0) ? false : null;
}

function isFor(question, consent) {
  if (question.consent === null || consent.kind !== question.consent) return false;
  return question.consent !== OTHER || consent.name === question.consent_name;
}

/** Whether buried services were checked, and not before somebody found that they were not. */
function isCheckedSince(site, heeded) {
  const checked = site.services_checked_on ?? null;
  return checked !== null && heeded.every((one) => (one.settled_on ?? '') <= checked);
}

/**
 * The questions that were answered so that more has to be done, and for which nothing is noted yet. Settled is one whose kind
 * of consent is noted for the site, in whatever state: then the rules for consents speak. Of two answers that differ the one
 * to be heeded counts.
 * @param {object} site merged fields with "id"
 * @param {object[]} questions of the site's country, as they stand in the pack
 * @param {object[]} checks ground_check fields, of any site
 * @param {object[]} consents fields, of any site, without deleted ones
 */
export function findHeeded(site, questions, checks, consents) {
  const said = saidOf(site.id, checks);
  const noted = consents.filter((one) => one.site === site.id);
  const isProtected = findProtected(site, questions, checks) === true;
  return questions.filter((one) => {
    const heeded = (said.get(one.id) ?? []).filter(({ answer }) => answer === one.heed);
    // That the ground is protected is told by a rule of its own.
    const isTold = one.consent === PROTECTED_AREA && isProtected;
    const isChecked = one.consent === SERVICES && isCheckedSince(site, heeded);
    return heeded.length > 0 && !isTold && !isChecked && !noted.some((consent) => isFor(one, consent));
  });
}
