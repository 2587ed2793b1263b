/** Tasks that are a site's and no tree's: the pages where each is seen to, and whom to ring about it. The texts name no number. */

import { getRecord, recordsWhere } from '../store.js';

// By what a task is about, the second word of its id: `site:<site>:<what>:<record>[:<n>]`.
const PAGES = {
  ending: { to: (leave) => `leave/${leave}`, words: 'Renew the leave' },
  'ask-anew': { to: (leave) => `leave/${leave}`, words: 'Renew the leave' },
  writing: { to: (leave) => `sign/${leave}`, words: 'Sign at the gate' },
  'sign-again': { to: (leave) => `sign/${leave}`, words: 'Sign at the gate' },
  report: { to: (leave) => `papers?leave=${leave}&kind=report`, words: 'Write the report' },
  'consent-ending': { to: (consent) => `consent/${consent}`, words: 'See the consent' },
  'consent-needed': { to: (consent) => `consent/${consent}`, words: 'See the consent' },
  'consent-expired': { to: (consent) => `consent/${consent}`, words: 'See the consent' },
};
const OF_A_LEAVE = { to: (leave) => `leave/${leave}`, words: 'See the leave' };
const MOST_TREES = 5; // a way to each of more would push the rest of the day out of sight

// What a landholder has to hear at once, and what a visit left undone; as field/core/site_task.py has it.
const TO_TELL = ['over', 'after-withdrawal', 'after-end', 'before-begin', 'kinds', 'girth'];
const LEFT_OPEN = 'terms';

/** What a task's id says. @returns {{what: string, record: string}|null} null: it is no site's */
function readId(task) {
  const [first, , what, record] = String(task.id).split(':');
  return first === 'site' && record ? { what, record } : null;
}

/**
 * What is owed to a landholder, the most pressing first: to be told what went beyond the leave; what a visit left undone; the
 * word after a visit, once its last day has come.
 * @param {object} task of the pack @param {string} today 'YYYY-MM-DD'
 * @returns {number|null} null: it is none of these
 */
export function owedRank(task, today) {
  const what = readId(task)?.what;
  if (TO_TELL.includes(what)) return 0;
  if (what === LEFT_OPEN) return 1;
  return isReport(task) && task.by !== null && task.by <= today ? 2 : null;
}

/** Whether a task is the word to the landholder after a visit. */
export const isReport = (task) => readId(task)?.what === 'report';

/**
 * Where a site's task is seen to.
 * @param {object} task of the pack
 * @param {(tree: string) => string|null} tagOf what to call a tree; null: it is not kept here
 * @returns {{href: string, words: string}[]} none: a tree's task, or one of a newer home that this phone does not know
 */
export function pagesOfTask(task, tagOf) {
  const about = readId(task);
  if (!about) return [];
  const trees = (task.trees ?? []).map((tree) => [tree, tagOf(tree)]).filter(([, tag]) => tag !== null);
  if (trees.length > 0) {
    return trees.sort(([, a], [, b]) => a.localeCompare(b, 'en', { numeric: true })).slice(0, MOST_TREES)
      .map(([tree, tag]) => ({ href: `#/tree/${tree}?lift=1`, words: `Note it: ${tag}` }));
  }
  const { to, words } = PAGES[about.what] ?? OF_A_LEAVE;
  return [{ href: `#/${to(about.record)}`, words }];
}

/**
 * Whom to ring about the tasks of sites.
 * @param {object[]} tasks of the pack
 * @returns {Promise<Map<string, {name: string|null, phone: string}[]>>} record id of the task -> telephone numbers, as they
 *   were written down; where several people are to be told each with the name
 */
export async function phonesOfTasks(tasks) {
  const abouts = tasks.map((task) => ({ task, record: readId(task)?.record ?? null })).filter(({ record }) => record !== null);
  const records = [...new Set(abouts.map(({ record }) => record))]; // each leave and consent once, all at the same time
  const people = new Map(await Promise.all(records.map(async (record) => [record, await peopleOf(record)])));
  return new Map(abouts.map(({ task, record }) => {
    const [first, ...others] = people.get(record);
    // Whom a task names besides whoever gave the leave is to be rung as well.
    const named = others.filter(({ name }) => name && TO_TELL.includes(readId(task).what) && task.text.includes(name));
    const some = [first, ...named].filter((one) => one?.phone);
    return [task.rec, some.map(({ name, phone }) => ({ name: named.length > 0 ? name : null, phone }))];
  }));
}

const person = (holder) => ({ name: holder?.fields.name ?? null, phone: holder?.fields.phone ?? null });

/** The authority of a consent; of a leave the landholder who gave it, then the others of its ground. */
async function peopleOf(rec) {
  const record = await getRecord(rec);
  if (record?.type === 'consent') return [{ name: null, phone: record.fields.phone ?? null }];
  const { landholder = null, site = null } = record?.fields ?? {};
  const holdings = site ? await recordsWhere('holding', 'site', site) : [];
  const others = [...new Set(holdings.map(({ fields }) => fields.landholder))].filter((id) => id && id !== landholder);
  const [giver, ...rest] = await Promise.all([landholder, ...others].map((id) => (id ? getRecord(id) : null)));
  return [person(giver), ...rest.filter((one) => one && !one.deleted).map(person)];
}
