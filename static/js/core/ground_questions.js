/**
 * What to check for a piece of ground: which list holds there, and which of its questions are open.
 * Twin of field/core/ground_questions.py (tests/vectors/ground_checks.json).
 */

export const GENERAL = 'general';
const ANSWERS = ['yes', 'no'];

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
  const said = new Map();
  for (const one of checks) {
    if (one.site !== site || !ANSWERS.includes(one.answer) || one.deleted === true) continue;
    said.set(one.question, (said.get(one.question) ?? new Set()).add(one.answer));
  }
  return questions.filter(({ id }) => said.get(id)?.size !== 1);
}
