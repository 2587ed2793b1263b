/** The sites with their leaves and consents as this phone knows them, each with its state in a word. */

import { isChanged } from '../core/leave.js';
import { leaveState, siteState } from '../core/leave_state.js';
import { groupBy, listSites, todayOn } from './ground_facts.js';
import { contentSha256 } from './signings.js';
import { getRecord, listRecords, saveChange } from '../store.js';
import { ROLES } from '../ui/words.js';

/** Today at a site: by its own zone where that is known and right, else by the phone's. */
export function todayAt(site) {
  try {
    return site.fields.zone ? todayOn(site.fields.zone) : todayOn();
  } catch {
    return todayOn(); // a zone name this phone does not know; the May I? answer says so itself
  }
}

/** What a landholder is to a site before it is written down there: what an older log noted of the person. */
const roleOf = (holding, holder) => holding?.fields.role ?? holder?.fields.role ?? null;

/**
 * The landholders of a site: those written down there, then those who only gave a leave for it.
 * @param {object[]} holdings merged records of this site @param {object[]} leaves of this site @param {Map<string, object>} landholders
 * @returns {{holder: object, holding: object|null, role: string|null, by_right: string|null}[]}
 */
export function holdersOf(holdings, leaves, landholders) {
  const written = holdings.filter(({ fields }) => landholders.has(fields.landholder));
  const known = new Set(written.map(({ fields }) => fields.landholder));
  const givers = [...new Set(leaves.map(({ fields }) => fields.landholder))].filter((id) => landholders.has(id) && !known.has(id));
  const rows = [...written.map((holding) => [landholders.get(holding.fields.landholder), holding]), ...givers.map((id) => [landholders.get(id), null])];
  const made = rows.map(([holder, holding]) => ({ holder, holding, role: roleOf(holding, holder), by_right: holding?.fields.by_right ?? null }));
  const order = ({ role }) => ROLES.indexOf(role ?? '') + (ROLES.includes(role) ? 0 : ROLES.length + 1);
  return made.sort((a, b) => order(a) - order(b) || String(a.holder.fields.name ?? '').localeCompare(String(b.holder.fields.name ?? '')));
}

/** The signings that stand as they were signed; an altered one proves nothing. Where nobody can check a hash here, there are none. */
async function intactOf(signings) {
  if (!globalThis.crypto?.subtle) return [];
  const stand = await Promise.all(signings.map(async ({ fields }) => (await contentSha256(fields)) === fields.content_sha256));
  return signings.filter((_, i) => stand[i]).map(({ fields }) => fields);
}

/** Those who gave a leave and were removed since: a leave still names them. */
async function readGone(leaves, people) {
  const ids = new Set(leaves.map(({ fields }) => fields.landholder).filter((id) => id && !people.has(id)));
  const records = await Promise.all([...ids].map((id) => getRecord(id)));
  return new Map(records.filter((one) => one?.type === 'landholder').map((one) => [one.id, one]));
}

/** A removed landholder is one again. @param {string} id */
export const putBack = (id) => saveChange({ rec: id, type: 'landholder', set: { deleted: false } });

/**
 * Every site with what hangs on it.
 * @returns {Promise<{sites: {site: object, leaves: {record: object, lifted: number, changed: boolean, state: object}[],
 *   consents: object[], holders: object[], state: object}[], landholders: Map<string, object>, gone: Map<string, object>}>} merged
 *   records; holders as `holdersOf` gives them; changed: the leave is not what was signed last; gone: removed landholders whom a leave names
 */
export async function readGround() {
  const [sites, leaves, consents, lifts, landholders, holdings, signings] = await Promise.all([
    listSites(), listRecords('leave'), listRecords('consent'), listRecords('lift'), listRecords('landholder'),
    listRecords('holding'), listRecords('signing'),
  ]);
  const leavesOf = groupBy(leaves, 'site');
  const consentsOf = groupBy(consents, 'site');
  const liftsOf = groupBy(lifts, 'leave');
  const holdingsOf = groupBy(holdings, 'site');
  const people = new Map(landholders.map((one) => [one.id, one]));
  const gone = await readGone(leaves, people);
  const siteById = new Map(sites.map((site) => [site.id, site]));
  const signingsOf = groupBy(signings, 'leave');
  const changed = new Set();
  for (const leave of leaves.filter(({ id, fields }) => signingsOf.has(id) && siteById.has(fields.site))) {
    const signed = await intactOf(signingsOf.get(leave.id));
    if (isChanged({ ...leave.fields, id: leave.id }, siteById.get(leave.fields.site).fields, signed)) changed.add(leave.id);
  }
  return {
    landholders: people,
    gone,
    sites: sites.map((site) => {
      const on = todayAt(site);
      const own = (leavesOf.get(site.id) ?? []).map((record) => {
        const lifted = (liftsOf.get(record.id) ?? []).length;
        const isOther = changed.has(record.id);
        return { record, lifted, changed: isOther, state: leaveState(record.fields, lifted, on, isOther) };
      });
      own.sort((a, b) => String(b.record.fields.starts_on ?? '').localeCompare(String(a.record.fields.starts_on ?? '')));
      const asked = consentsOf.get(site.id) ?? [];
      const state = siteState(site.fields, own.map((leave) => ({ fields: leave.record.fields, lifted: leave.lifted, changed: leave.changed })), asked.map((one) => one.fields), on);
      const holders = holdersOf(holdingsOf.get(site.id) ?? [], own.map(({ record }) => record), people);
      return { site, leaves: own, consents: asked, holders, state };
    }),
  };
}
