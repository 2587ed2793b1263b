/** The sites with their leaves and consents as this phone knows them, each with its state in a word. */

import { leaveState, siteState } from '../core/leave_state.js';
import { groupBy, listSites, todayOn } from './ground_facts.js';
import { listRecords } from '../store.js';

/** Today at a site: by its own zone where that is known and right, else by the phone's. */
export function todayAt(site) {
  try {
    return site.fields.zone ? todayOn(site.fields.zone) : todayOn();
  } catch {
    return todayOn(); // a zone name this phone does not know; the May I? answer says so itself
  }
}

/**
 * Every site with what hangs on it.
 * @returns {Promise<{sites: {site: object, leaves: {record: object, lifted: number, state: object}[], consents: object[],
 *   state: object}[], landholders: Map<string, object>}>} merged records
 */
export async function readGround() {
  const [sites, leaves, consents, lifts, landholders] = await Promise.all([
    listSites(), listRecords('leave'), listRecords('consent'), listRecords('lift'), listRecords('landholder'),
  ]);
  const leavesOf = groupBy(leaves, 'site');
  const consentsOf = groupBy(consents, 'site');
  const liftsOf = groupBy(lifts, 'leave');
  return {
    landholders: new Map(landholders.map((one) => [one.id, one])),
    sites: sites.map((site) => {
      const on = todayAt(site);
      const own = (leavesOf.get(site.id) ?? []).map((record) => {
        const lifted = (liftsOf.get(record.id) ?? []).length;
        return { record, lifted, state: leaveState(record.fields, lifted, on) };
      });
      own.sort((a, b) => String(b.record.fields.starts_on ?? '').localeCompare(String(a.record.fields.starts_on ?? '')));
      const asked = consentsOf.get(site.id) ?? [];
      const state = siteState(site.fields, own.map(({ record, lifted }) => ({ fields: record.fields, lifted })), asked.map((one) => one.fields), on);
      return { site, leaves: own, consents: asked, state };
    }),
  };
}
