/** What is still to be found out about a site, as this phone knows it: the questions come in the pack, the answers are records. */

import { findHeeded, openOf, questionsFor } from '../core/ground_questions.js';
import { getPack, getRecord, recordsWhere } from '../store.js';

export const CHOOSE_COUNTRY = 'choose-country';
export const NO_LISTS = 'no-lists';

const ANSWERED = ['yes', 'no'];
const SETTLING = ['held', 'not_needed']; // states of a consent after which nothing is left to do

const toDo = (id, question) => ({ id, text: question, question, why: null, ask: null, consent: null });

/** The answer that a question stands for on the other side of an unsettled disagreement: yes and no, both to be shown. */
const disputed = (record) => (record.conflicts.answer ?? []).map(({ value }) => ({ ...record.fields, answer: value }));

/** The fields of every answer that stands for a site; two of one question where two people did not see each other. */
export function answersOf(checks) {
  return checks.flatMap((record) => [record.fields, ...disputed(record)]);
}

/** Answered before open, then the newest first: what the page goes by where a question has several records. */
function newestFirst(a, b) {
  const rank = ({ id, fields }) => `${ANSWERED.includes(fields.answer) ? 1 : 0} ${fields.settled_on ?? ''} ${id}`;
  return rank(a) < rank(b) ? 1 : -1;
}

/**
 * How one question stands.
 * @param {string} question short name
 * @param {object[]} checks merged records of one site
 * @returns {{records: object[], fields: object, said: object[], answer: string|null, differ: boolean}} records: all of this
 *   question, the newest first; fields: of that one; said: the fields behind each answer; answer: the one that stands, null
 *   while it is open; differ: two people said different things
 */
export function standingOf(question, checks) {
  const records = checks.filter(({ fields }) => fields.question === question).sort(newestFirst);
  const said = answersOf(records).filter(({ answer }, i, all) => ANSWERED.includes(answer) && all.findIndex((one) => one.answer === answer) === i);
  return { records, fields: records[0]?.fields ?? {}, said, answer: said.length === 1 ? said[0].answer : null, differ: said.length > 1 };
}

/** Questions that one answer stands for, after which something is still to be done. */
function moreOf(site, questions, checks, consents, open) {
  const settling = consents.map(({ fields }) => fields).filter(({ state }) => SETTLING.includes(state));
  // Not protected: that an answer makes the ground protected settles nothing here.
  const heeded = findHeeded({ ...site.fields, id: site.id, protected: false }, questions, answersOf(checks), settling);
  return heeded.filter((one) => !open.includes(one));
}

/**
 * All that is known of the questions of a site.
 * @param {string} siteId
 * @returns {Promise<{site: object|null, ground: object|null, list: object|null, country: string|null, checks: object[],
 *   consents: object[], open: object[], more: object[]}>} open: questions without one answer; more: those answered so that
 *   something is still to be done; ground: all lists, null while no pack with them is here; list: the one that holds, the general one
 *   where the country has none; checks: merged records of this site, also of questions of other lists
 */
export async function readChecks(siteId) {
  const [pack, record, checks, consents] = await Promise.all([
    getPack(), getRecord(siteId), recordsWhere('ground_check', 'site', siteId), recordsWhere('consent', 'site', siteId),
  ]);
  const site = record && !record.deleted ? record : null;
  const country = site?.fields.country ?? null;
  const ground = pack?.ground ?? null;
  const list = ground && country !== null ? questionsFor(ground, country) : null;
  const open = list ? openOf(list.questions, siteId, answersOf(checks)) : [];
  const more = list ? moreOf(site, list.questions, checks, consents, open) : [];
  return { site, ground, list, country, checks, consents, open, more };
}

/**
 * The questions of a site that are still open. Where the country is not chosen, or no list has come from home yet, the one
 * entry says what to do about that.
 * @param {string} siteId
 * @returns {Promise<{id: string, text: string, question: string, why: string|null, ask: string|null, consent: string|null}[]>}
 *   text and question are the same words
 */
export async function openQuestions(siteId) {
  const { site, ground, country, open } = await readChecks(siteId);
  if (site === null) return [];
  if (country === null) return [toDo(CHOOSE_COUNTRY, 'Choose the country, so that the right questions are asked.')];
  if (ground === null) return [toDo(NO_LISTS, 'The questions for this ground come from home with the next sync.')];
  return open.map(({ id, question, why, ask, consent }) => ({ id, text: question, question, why, ask, consent }));
}
