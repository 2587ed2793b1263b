/** What is known of a tree when a cut is asked about: its card, dates and lines as home sent them, and what it showed since. */

import { askWork } from '../core/ask_work.js';
import { plainKind } from '../core/leave.js';
import { latestLift, liftDay } from '../core/stage.js';
import { getPack, getRecord, listRecords, recordsWhere } from '../store.js';
import { speciesName } from '../ui/words.js';
import { listGardens, standingPlaces } from './gardens.js';
import { stageOf } from './ground_facts.js';

const CAUTIOUS = 'default'; // the card for a kind that is not told or has none
const NOT_SET = Object.freeze({ cut_mm: null, strong: null, leaf_share: null, root_mm: null });
const REPOT_WORKS = ['repot'];
const BOX_AFTER_DAYS = 60; // a box noted later than this after the lift is a repotting: field/core/care.py

/**
 * Everything that a question about one tree needs, of what this phone holds now.
 * @param {string} id of the tree
 * @returns {Promise<object|null>} null: it is not kept here; `trouble` says in words why nothing can be answered yet
 */
export async function readCutFacts(id) {
  const [tree, pack, lifts, events, works, boxes, gardens] = await Promise.all([
    getRecord(id), getPack(), recordsWhere('lift', 'tree', id), listRecords('event'), recordsWhere('work', 'tree', id), recordsWhere('box', 'tree', id), listGardens(),
  ]);
  if (!tree || tree.deleted) return null;
  const { fields } = tree;
  const kind = cardOf(pack, fields.species);
  const site = standingPlaces([tree], lifts, gardens).get(id) ?? null;
  const at = pack?.ask?.at?.[site] ?? null;
  const found = at?.[kind] ?? pack?.ask?.anywhere?.[kind] ?? null;
  const lifted = liftDay(latestLift(lifts.map((lift) => ({ id: lift.id, ...lift.fields }))));
  const repots = [...works.filter((one) => REPOT_WORKS.includes(one.fields.kind)).map((one) => one.fields.done_on), ...boxes.map((one) => one.fields.boxed_on).filter((on) => isLater(on, lifted))].filter(Boolean).sort();
  return {
    tree, pack, kind, found, lines: pack?.ask?.lines ?? [],
    elsewhere: found !== null && at?.[kind] === undefined,
    stands_in: kind === CAUTIOUS,
    name: kind === CAUTIOUS ? 'a tree of a kind not told' : speciesName(pack, kind).toLowerCase(),
    stage: stageOf(tree, lifts, pack),
    lifted_on: lifted,
    repotted_on: repots.at(-1) ?? lifted,
    seen: seenOf(events, id, site),
    trouble: found ? null : 'Home has not sent the dates of this kind yet. Sync once at home; then the answer works with no signal.',
  };
}

function cardOf(pack, species) {
  const kind = species ? plainKind(species) : null;
  return kind && pack?.ask?.traits?.[kind] ? kind : CAUTIOUS;
}

const isLater = (on, lifted) => Boolean(on && lifted) && Date.parse(on) - Date.parse(lifted) > BOX_AFTER_DAYS * 86_400_000;

/** Event -> the days on which this tree, or the trees of its ground together, showed it. */
function seenOf(events, tree, site) {
  const seen = {};
  for (const { fields } of events) {
    const own = fields.tree === tree || (!fields.tree && (!fields.site || fields.site === site));
    const kind = typeof fields.kind === 'string' ? fields.kind.trim().toLowerCase().replaceAll(/[- ]/g, '_') : null;
    if (own && kind && /^\d{4}-\d{2}-\d{2}$/.test(fields.happened_on ?? '')) (seen[kind] ??= []).push(fields.happened_on);
  }
  return seen;
}

/**
 * The answer to one question about a tree.
 * @param {object} facts of `readCutFacts`, without trouble
 * @param {{work: string, on: string, cut_mm?: number|null, strong?: boolean|null, leaf_share?: number|null, root_mm?: number|null}} asked
 */
export function answerCut(facts, asked) {
  const { found, pack, kind } = facts;
  return askWork({
    ...NOT_SET, ...asked,
    name: facts.name, stage: facts.stage, traits: pack.ask.traits[kind], windows: found.windows[asked.work], spans: found.spans,
    never: found.never[asked.work] ?? null, seen: facts.seen, lifted_on: facts.lifted_on, repotted_on: facts.repotted_on,
  }, facts.lines);
}
