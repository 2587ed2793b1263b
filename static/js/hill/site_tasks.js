/** Tasks that are a site's and no tree's: the page where each is seen to, and whom to ring about it. The texts name no number. */

import { getRecord } from '../store.js';

// By what a task is about, the second word of its id: `site:<site>:<what>:<record>[:<n>]`.
const PAGES = {
  writing: { to: 'sign', words: 'Sign at the gate' },
  'sign-again': { to: 'sign', words: 'Sign at the gate' },
  report: { to: 'papers?leave=', words: 'Write the report' },
  'consent-ending': { to: 'consent', words: 'See the consent' },
  'consent-needed': { to: 'consent', words: 'See the consent' },
  'consent-expired': { to: 'consent', words: 'See the consent' },
};
const OF_A_LEAVE = { to: 'leave', words: 'See the leave' };

/** What a task's id says. @returns {{what: string, record: string}|null} null: it is no site's */
function readId(task) {
  const [first, , what, record] = String(task.id).split(':');
  return first === 'site' && record ? { what, record } : null;
}

/**
 * Where a site's task is seen to.
 * @param {object} task of the pack
 * @returns {{href: string, words: string}|null} null: a tree's task, or one of a newer home that this phone does not know
 */
export function pageOfTask(task) {
  const about = readId(task);
  if (!about) return null;
  const { to, words } = PAGES[about.what] ?? OF_A_LEAVE;
  return { href: to.endsWith('=') ? `#/${to}${about.record}` : `#/${to}/${about.record}`, words };
}

/**
 * Whom to ring about the tasks of sites.
 * @param {object[]} tasks of the pack
 * @returns {Promise<Map<string, string>>} record id of the task -> telephone number, as it was written down
 */
export async function phonesOfTasks(tasks) {
  const abouts = tasks.map((task) => ({ rec: task.rec, record: readId(task)?.record ?? null })).filter(({ record }) => record !== null);
  const records = [...new Set(abouts.map(({ record }) => record))]; // each leave and consent once, all at the same time
  const phones = new Map(await Promise.all(records.map(async (record) => [record, await phoneOf(record)])));
  return new Map(abouts.filter(({ record }) => phones.get(record)).map(({ rec, record }) => [rec, phones.get(record)]));
}

/** The number of the authority of a consent, or of the landholder who gave a leave. */
async function phoneOf(rec) {
  const record = await getRecord(rec);
  if (record?.type === 'consent') return record.fields.phone ?? null;
  const holder = record?.fields.landholder ? await getRecord(record.fields.landholder) : null;
  return holder?.fields.phone ?? null;
}
