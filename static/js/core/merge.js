/**
 * Who wins: the merged record of a set of changes.
 *
 * Per field a value stands until a change that had seen it replaces it; clocks only break ties. A pure function of the
 * *set* of changes: order and duplicates cannot matter. Twin of field/sync/merge.py (tests/vectors/merge.json).
 */

const DELETED = 'deleted';

function byStamp(a, b) {
  return a < b ? -1 : a > b ? 1 : 0;
}

/**
 * One text for one value, whatever the order its parts were written in.
 * @param {any} value JSON value
 * @returns {string}
 */
export function canonicalText(value) {
  if (Array.isArray(value)) return `[${value.map(canonicalText).join(',')}]`;
  if (value !== null && typeof value === 'object') {
    const keys = Object.keys(value).sort(byStamp);
    return `{${keys.map((key) => `${JSON.stringify(key)}:${canonicalText(value[key])}`).join(',')}}`;
  }
  return JSON.stringify(value);
}

/** The changes that set a field and that no other change had seen; sorted as given. */
function standing(name, entries) {
  const replaced = new Set();
  for (const { op } of entries) for (const stamp of op.base?.[name] ?? []) if (stamp !== op.hlc) replaced.add(stamp);
  return entries.filter(({ op }) => Object.hasOwn(op.set, name) && !replaced.has(op.hlc));
}

/** The stamps a removal names, and those that the removals it names had named. */
function seenBy(removal, named) {
  const seen = new Set();
  const waiting = [removal.op];
  while (waiting.length > 0) {
    for (const stamp of waiting.pop().base?.[DELETED] ?? []) {
      if (seen.has(stamp)) continue;
      seen.add(stamp);
      const known = named.get(stamp)?.op;
      if (known && Object.hasOwn(known.set, DELETED)) waiting.push(known);
    }
  }
  return seen;
}

/** The changes whose values stand and that no standing removal had seen, where the removals tell what they saw. */
function unseenBy(removals, standingOf, named) {
  const others = new Map();
  for (const [name, candidates] of standingOf) {
    if (name === DELETED) continue;
    for (const entry of candidates) if (!Object.hasOwn(entry.op.set, DELETED)) others.set(entry.op.hlc, entry);
  }
  const told = removals
    .filter(({ op }) => op.set[DELETED] === true)
    .map((removal) => seenBy(removal, named))
    .filter((seen) => [...seen].some((stamp) => named.has(stamp) && !Object.hasOwn(named.get(stamp).op.set, DELETED)));
  if (told.length === 0) return [];
  // What one of several removals had seen was removed knowingly.
  return [...others.values()].filter(({ op }) => !told.some((seen) => seen.has(op.hlc)));
}

function sortedByStamp(entries) {
  return [...entries].sort((a, b) => byStamp(a.op.hlc, b.op.hlc));
}

/**
 * Merge the changes of one record.
 *
 * A removal names, in base.deleted, every stamp of the record that the person had before them. A value it does not name
 * was written by somebody who had not seen the removal, nor been seen by it: a conflict, and the record stays in sight
 * until it is settled. A removal that names none of the values (an older phone's) is taken at its word.
 * @param {{op: object, suspect?: boolean}[]} changes of one record, held ones left out; any order, duplicates allowed;
 *   suspect: the change's clock is not believed, so it loses a tie
 * @returns {{id: string, type: string, fields: object, stamps: object, conflicts: object, deleted: boolean}|null}
 *   null for no change at all; lists are sorted by stamp
 */
export function mergeRecord(changes) {
  const named = new Map(changes.map(({ op, suspect = false }) => [op.hlc, { op, suspect }]));
  const entries = sortedByStamp(named.values());
  if (entries.length === 0) return null;
  const names = [...new Set(entries.flatMap(({ op }) => Object.keys(op.set)))].sort(byStamp);
  const standingOf = new Map(names.map((name) => [name, standing(name, entries)]));
  const record = { id: entries[0].op.rec, type: entries[0].op.type, fields: {}, stamps: {}, conflicts: {}, deleted: false };
  for (const [name, candidates] of standingOf) {
    if (candidates.length === 0) continue; // changes that name each other in a ring: none can stand
    let values = candidates.map(({ op }) => ({ op, value: op.set[name] }));
    const shown = (candidates.filter(({ suspect }) => !suspect).at(-1) ?? candidates.at(-1)).op.set[name];
    if (name === DELETED) {
      record.deleted = shown === true;
      const unseen = unseenBy(candidates, standingOf, named).map(({ op }) => ({ op, value: false }));
      values = sortedByStamp([...values, ...unseen]);
    } else {
      record.fields[name] = shown;
    }
    record.stamps[name] = values.map(({ op }) => op.hlc);
    if (new Set(values.map(({ value }) => canonicalText(value))).size > 1) {
      record.conflicts[name] = values.map(({ op, value }) => ({ value, stamp: op.hlc, dev: op.dev, wall: op.wall ?? null }));
      if (name === DELETED) record.deleted = false; // kept in sight until a person settles it
    }
  }
  return record;
}

/**
 * The `base` of a new change of a record: for each field the stamps it replaces.
 * @param {object|null} record as `mergeRecord` gives it, null for a new one
 * @param {object} values the fields that the change sets; a removal is given every stamp of the record, see `mergeRecord`
 * @returns {Record<string, string[]>}
 */
export function baseFor(record, values) {
  const stamps = record?.stamps ?? {};
  const base = Object.fromEntries(Object.keys(values).map((name) => [name, stamps[name] ?? []]));
  if (values[DELETED] === true) base[DELETED] = [...new Set(Object.values(stamps).flat())].sort(byStamp);
  return base;
}
