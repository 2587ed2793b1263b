/** What the leave letter is made of, as this phone knows it; and what would stand empty in it. */

import { readArea } from '../core/area.js';
import { areaHa } from '../core/area_text.js';
import { middleOf } from '../core/ground_middle.js';
import { groundOutline } from '../core/ground_outline.js';
import { notations } from '../core/gridref.js';
import { COLLECTOR_ID } from '../core/leave_letter.js';
import { signerDoubts } from '../core/leave_terms.js';
import { getPack, getRecord, recordsWhere } from '../store.js';
import { readSignings } from './signings.js';

const GRID_M = 100; // the middle of a field is no finer than this

function gridRef({ lat, lon }) {
  const known = notations(lat, lon, GRID_M);
  return known.gb_grid ?? known.irish_grid ?? known.utm ?? known.decimal;
}

/** The ground a leave is for: its own area, else the boundary of its site. */
const groundOf = (leave, site) => leave.area ?? site.boundary ?? null;

function siteFacts(leave, site) {
  const ground = groundOf(leave, site);
  try {
    const outline = groundOutline(ground, leave.area ? site.boundary : null);
    return { outline, name: site.name ?? null, grid_ref: outline ? gridRef(middleOf(readArea(ground))) : null, area_ha: ground ? areaHa(ground) : null };
  } catch (fault) {
    console.warn(`${site.name}: ${fault.message}`); // a boundary that cannot be read: the letter leaves it open
    return { outline: null, name: site.name ?? null, grid_ref: null, area_ha: null };
  }
}

/** What stands empty, by where it is mended. */
function lacking({ collector, landholder, role, by_right: right, leave }, outline) {
  const missing = (value) => value === null || value === undefined || value === '' || value.length === 0;
  const lacks = [];
  const need = (value, where, text) => missing(value) && lacks.push({ where, text });
  need(collector?.name, 'collector', 'your own name: to whom the leave is given');
  need(collector?.address, 'collector', 'your address');
  need(collector?.phone, 'collector', 'your telephone');
  need(landholder?.name, landholder ? 'landholder' : 'leave', 'the landholder’s name');
  if (landholder) need(landholder.address, 'landholder', 'their address');
  need(role, 'leave', 'whether they are owner, occupier or agent');
  if (role && role !== 'owner') need(right, 'leave', 'by what right they may give leave');
  need(outline, 'site', 'which ground: no boundary is drawn');
  if (leave.form === 'spoken') need(leave.given_on, 'leave', 'on which day it was said');
  need(leave.starts_on, 'leave', 'the first day');
  need(leave.ends_on, 'leave', 'the last day');
  need(leave.allowance, 'leave', 'how many trees');
  need(leave.max_girth_mm, 'leave', 'a girth limit');
  need(leave.methods, 'leave', 'how it may be dug');
  need(leave.conditions, 'leave', 'the terms to keep');
  return lacks;
}

/** The other owners of the ground, and whether one of them gave a leave or word for it too. */
async function ownersOf(leave, holdings, leaves) {
  const others = holdings.filter(({ fields }) => fields.role === 'owner' && fields.landholder && fields.landholder !== leave.fields.landholder);
  const silent = others.filter(({ fields }) => !leaves.some((one) => one.id !== leave.id && one.fields.landholder === fields.landholder && one.fields.form !== 'asked'));
  const people = await Promise.all(silent.map(({ fields }) => getRecord(fields.landholder)));
  const names = people.filter((one) => one && !one.deleted).map((one) => one.fields.name ?? 'an owner without a name');
  return { owners: names, asked: others.length > silent.length && names.length === 0 };
}

/** The day on which a leave was last signed, by a letter that stands as it was signed. */
function signedOn(signings) {
  const newest = signings.find(({ intact }) => intact !== false);
  return (newest?.signed ?? newest?.record.fields)?.signed_on ?? null;
}

/**
 * Everything the letter of a leave is made of.
 * @param {string} leaveId
 * @param {string} madeOn 'YYYY-MM-DD'
 * @returns {Promise<{facts: object, leave: object, site: object, outline: object|null, lacks: {where: string, text: string}[],
 *   doubts: string[], removed: object|null}|null>}
 *   facts for core/leave_letter.js; leave and site: merged records; outline of core/ground_outline.js; lacks: what stands empty, and
 *   where it is mended: collector, landholder, leave or site; doubts: what stands against the giver's word; removed: a giver who is no
 *   longer kept, then the letter leaves the name open; null where the leave is not here
 */
export async function readLeaveFacts(leaveId, madeOn) {
  const leave = await getRecord(leaveId);
  if (leave?.type !== 'leave' || leave.deleted) return null;
  const { fields } = leave;
  const get = (id) => (id ? getRecord(id) : null);
  const here = (type) => recordsWhere(type, 'site', fields.site ?? null);
  const [site, holder, collector, pack, holdings, leaves, signings] = await Promise.all([
    get(fields.site), get(fields.landholder), getRecord(COLLECTOR_ID), getPack(), here('holding'), here('leave'), readSignings(leaveId),
  ]);
  const holding = holdings.find((one) => fields.landholder && one.fields.landholder === fields.landholder);
  const own = site?.fields ?? {};
  const { outline, ...place } = siteFacts(fields, own);
  const facts = {
    collector: collector && !collector.deleted ? collector.fields : null,
    landholder: holder && !holder.deleted ? holder.fields : null,
    role: fields.by_role ?? holding?.fields.role ?? holder?.fields.role ?? null,
    by_right: fields.by_right ?? holding?.fields.by_right ?? null,
    site: place,
    leave: fields,
    kinds: Object.fromEntries((pack?.species ?? []).map(({ kind, name }) => [kind, name])),
    made_on: madeOn,
    signed_before_on: signedOn(signings),
  };
  const { role, by_right: right } = facts;
  const doubts = signerDoubts({ name: facts.landholder?.name ?? null, role, right, entitled: fields.entitled ?? null, ...(await ownersOf(leave, holdings, leaves)) });
  const removed = holder?.deleted ? holder : null;
  return { facts, leave, site: site ?? { id: null, fields: {} }, outline, lacks: lacking(facts, outline), doubts, removed };
}
