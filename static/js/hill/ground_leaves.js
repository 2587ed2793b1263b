/** The sites with their leaves and consents as this phone knows them, each with its state in a word. */

import { leaveState, siteState } from '../core/leave_state.js';
import { groupBy, listSites, todayOn } from './ground_facts.js';
import { listRecords } from '../store.js';
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

/**
 * Every site with what hangs on it.
 * @returns {Promise<{sites: {site: object, leaves: {record: object, lifted: number, state: object}[], consents: object[],
 *   holders: object[], state: object}[], landholders: Map<string, object>}>} merged records; holders as `holdersOf` gives them
 */
export async function readGround() {
  const [sites, leaves, consents, lifts, landholders, holdings] = await Promise.all([
    listSites(), listRecords('leave'), listRecords('consent'), listRecords('lift'), listRecords('landholder'),
    listRecords('holding'),
  ]);
  const leavesOf = groupBy(leaves, 'site');
  const consentsOf = groupBy(consents, 'site');
  const liftsOf = groupBy(lifts, 'leave');
  const holdingsOf = groupBy(holdings, 'site');
  const people = new Map(landholders.map((one) => [one.id, one]));
  return {
    landholders: people,
    sites: sites.map((site) => {
      const on = todayAt(site);
      const own = (leavesOf.get(site.id) ?? []).map((record) => {
        const lifted = (liftsOf.get(record.id) ?? []).length;
        return { record, lifted, state: leaveState(record.fields, lifted, on) };
      });
      own.sort((a, b) => String(b.record.fields.starts_on ?? '').localeCompare(String(a.record.fields.starts_on ?? '')));
      const asked = consentsOf.get(site.id) ?? [];
      const state = siteState(site.fields, own.map(({ record, lifted }) => ({ fields: record.fields, lifted })), asked.map((one) => one.fields), on);
      const holders = holdersOf(holdingsOf.get(site.id) ?? [], own.map(({ record }) => record), people);
      return { site, leaves: own, consents: asked, holders, state };
    }),
  };
}
