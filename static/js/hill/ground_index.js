/**
 * Which ground lies near a position: boxes of all sites held ready, the few near ones read and measured.
 *
 * The boxes stay right by the number that the store raises with every change that bears on leave (store/ground.js): it is
 * looked at before each question and again with the records that answer it, so nothing is ever answered from old ground,
 * whichever window or sync changed it.
 */

import { readArea } from '../core/area.js';
import { BadInput } from '../core/errors.js';
import { boxesOf, leastMetres } from '../core/ground_boxes.js';
import { allGround, getMeta, groundRecords, groundSince, setMeta } from '../store.js';

const KEPT = 'ground_index'; // the boxes as they were last kept, so that the first question of a day is quick too
const FORM = 2; // 2: with answers about the ground, and signings
const KEEP_AFTER = 50; // changes; fewer are caught up with in no time
const TRIES = 20; // while changes pour in; then all is read at one go
const AT_ONCE = 8; // sites measured at a time when the nearest is looked for

let held = null; // Index
let keptAt = -Infinity; // the number of the index that is kept

/** What is held of one record: the little that says where it belongs. */
function entryOf({ id, type, fields }) {
  const entry = { id, type, site: type === 'site' ? id : (fields.site ?? null) };
  if (type === 'site') entry.name = fields.name ?? 'unnamed site';
  if (type === 'lift' || type === 'signing') entry.leave = fields.leave ?? null;
  if (type === 'leave' || type === 'holding') entry.landholder = fields.landholder ?? null;
  const geometry = type === 'site' ? fields.boundary : type === 'leave' ? fields.area : null;
  if (geometry) {
    try {
      entry.boxes = boxesOf(readArea(geometry, type === 'site' ? 'boundary' : 'area'));
    } catch (fault) {
      if (!(fault instanceof BadInput)) throw fault;
      entry.fault = fault.message;
    }
  }
  return entry;
}

class Index {
  number = 0;

  #entries = new Map();

  #ofSite = new Map(); // site -> its entries, its own among them

  #lifts = new Map(); // leave -> how many

  #signings = new Map(); // leave -> ids

  constructor(number, entries) {
    this.number = number;
    for (const entry of entries) this.#add(entry);
  }

  #add(entry) {
    this.#entries.set(entry.id, entry);
    if (entry.type === 'lift') {
      this.#lifts.set(entry.leave, (this.#lifts.get(entry.leave) ?? 0) + 1);
    } else if (entry.type === 'signing') {
      this.#signings.set(entry.leave, [...(this.#signings.get(entry.leave) ?? []), entry.id]);
    } else if (entry.site !== null) {
      const own = this.#ofSite.get(entry.site);
      if (own) own.push(entry);
      else this.#ofSite.set(entry.site, [entry]);
    }
  }

  /** Put in how a record is now; null: it is gone. */
  put(id, record) {
    const before = this.#entries.get(id);
    if (before?.type === 'lift') this.#lifts.set(before.leave, this.#lifts.get(before.leave) - 1);
    else if (before?.type === 'signing') this.#signings.set(before.leave, this.#signings.get(before.leave).filter((one) => one !== id));
    else if (before && before.site !== null) this.#ofSite.set(before.site, this.#ofSite.get(before.site).filter((entry) => entry !== before));
    this.#entries.delete(id);
    if (record !== null) this.#add(entryOf(record));
  }

  /** How many trees this phone knows to be lifted under a leave. */
  lifted(leave) {
    return this.#lifts.get(leave) ?? 0;
  }

  entries() {
    return [...this.#entries.values()];
  }

  /** Every site there is: its name, its boxes, what of its ground cannot be read, and how near it may be. */
  sites({ lat, lon }) {
    const found = [];
    for (const [id, own] of this.#ofSite) {
      const site = own.find((entry) => entry.id === id);
      if (!site) continue; // leaves of a site that is gone
      let least = Infinity;
      let fault = null;
      for (const entry of own) {
        fault ??= entry.fault ?? null;
        for (const box of entry.boxes ?? []) least = Math.min(least, leastMetres(box, lat, lon));
      }
      found.push({ id, name: site.name, least_m: least, is_drawn: least < Infinity, fault });
    }
    return found;
  }

  /** Ids of all that is needed to answer for a site. */
  idsFor(site) {
    return (this.#ofSite.get(site) ?? [])
      .flatMap((entry) => [entry.id, ...(entry.landholder ? [entry.landholder] : []), ...(this.#signings.get(entry.id) ?? [])]);
  }
}

async function keep(index) {
  keptAt = index.number;
  // As one text: a store hands back thousands of small things far more slowly.
  await setMeta(KEPT, { form: FORM, number: index.number, entries: JSON.stringify(index.entries()) });
}

async function readAll() {
  const { number, records } = await allGround();
  held = new Index(number, records.map(entryOf));
  return records;
}

async function catchUp() {
  if (held === null) {
    const kept = await getMeta(KEPT);
    if (kept?.form === FORM && held === null) {
      held = new Index(kept.number, JSON.parse(kept.entries));
      keptAt = kept.number;
    }
  }
  const { number, changed } = await groundSince(held?.number ?? null);
  if (changed === null) await readAll();
  else {
    for (const [id, record] of changed) held.put(id, record);
    held.number = number;
  }
  // Not being able to keep the boxes costs time, never an answer.
  if (held.number - keptAt >= KEEP_AFTER || changed === null) keep(held).catch((fault) => console.warn(fault.message));
  return held;
}

let catching = null;

/**
 * The index, caught up with the ground. Who asks while that is being done gets the same: a change that came meanwhile is
 * found out by its number when the records are read.
 */
function current() {
  catching ??= catchUp().finally(() => {
    catching = null;
  });
  return catching;
}

/** That records were read which belong to another state of the ground than the boxes do. */
class Moved extends Error {}

function reader(index, all) {
  const at = index.number; // another question may have brought the index on by the time the records are here
  return async (sites) => {
    const ids = [...new Set(sites.flatMap((site) => index.idsFor(site)))];
    if (all) return new Map(ids.filter((id) => all.has(id)).map((id) => [id, all.get(id)]));
    const { number, records } = await groundRecords(ids);
    if (number !== at) throw new Moved();
    return records;
  };
}

/**
 * Do a piece of reading on ground that does not move under it.
 * @param {(index: Index, readSites: (ids: string[]) => Promise<Map<string, object>>) => Promise<any>} work readSites: the
 *   merged records of some sites, by id: the sites, their leaves with what was signed, consents,
 *   holdings, landholders and answers about the ground
 * @returns {Promise<any>} what work gave
 */
export async function onStillGround(work) {
  for (let left = TRIES; left > 0; left -= 1) {
    const index = await current();
    const readSites = reader(index, null);
    try {
      const got = await work(index, readSites);
      await readSites([]); // also where nothing was near, and nothing read
      return got;
    } catch (fault) {
      if (!(fault instanceof Moved)) throw fault;
    }
  }
  const all = new Map((await readAll()).map((record) => [record.id, record]));
  return work(held, reader(held, all));
}

/**
 * The sites near a position, and the nearest of all.
 * @param {Index} index @param {(ids: string[]) => Promise<Map>} readSites as `onStillGround` gives them
 * @param {{lat: number, lon: number}} here
 * @param {number} within metres: all sites not farther than this are found
 * @param {(records: Map<string, object>, id: string) => number|null} metresTo how far a site's ground is; null: it has none
 * @returns {Promise<{near: {id: string, away_m: number}[], records: Map<string, object>, unread: string[], undrawn: number}>}
 *   near: those within, the nearest first; where there are none, the nearest alone
 */
export async function sitesNear(index, readSites, here, within, metresTo) {
  const sites = index.sites(here);
  const drawn = sites.filter((site) => site.is_drawn && site.fault === null).sort((a, b) => a.least_m - b.least_m);
  const records = new Map();
  const measured = [];
  let done = 0;
  const measure = async (upTo) => {
    const some = drawn.slice(done, upTo).map((site) => site.id);
    for (const [id, record] of await readSites(some)) records.set(id, record);
    for (const id of some) {
      const away = metresTo(records, id);
      if (away !== null) measured.push({ id, away_m: away });
    }
    done = upTo;
    measured.sort((a, b) => a.away_m - b.away_m);
  };
  const close = drawn.findIndex((site) => site.least_m > within);
  if (close !== 0 && drawn.length > 0) await measure(close < 0 ? drawn.length : close);
  // No box farther off than what is found can hold anything nearer.
  while (done < drawn.length && (measured.length === 0 || drawn[done].least_m < measured[0].away_m) && !(measured[0]?.away_m <= within)) {
    await measure(Math.min(drawn.length, done + AT_ONCE));
  }
  const near = measured.filter((one) => one.away_m <= within);
  return {
    near: near.length > 0 ? near : measured.slice(0, 1),
    records,
    unread: sites.filter((site) => site.fault !== null).map((site) => `${site.name}: ${site.fault} It has no say until it is drawn again.`),
    undrawn: sites.filter((site) => !site.is_drawn && site.fault === null).length,
  };
}

// Begun as soon as a page that asks is opened: by the time there is a position, the boxes are ready. What goes wrong here goes
// wrong again, and is told, when someone asks.
current().catch(() => {});
