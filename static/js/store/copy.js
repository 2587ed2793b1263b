/** What a kept copy is made of: the whole journal of one moment and the photos kept here; and what no copy holds yet. */

import { ask, read, write } from './db.js';
import { metaIn, putMetaIn } from './issue.js';
import { unsentRange, vectorIn } from './journal.js';

const AT_ONCE = 500; // changes read together
const PIECE = 1024 * 1024; // characters of one piece of the journal
const KEPT = 'copy_kept';

/** What home alone told this phone, and may have had its reasons to leave out: it is never sent back. */
const isWhole = ({ op }) => op?.blanked?.why !== 'withheld';

/**
 * The journal as text, one change a line, and the photos kept here; of one moment, so that they fit together.
 * @returns {Promise<{pieces: Blob[], changes: number, have: Record<string, number>, device: string|null, epoch: string|null,
 *   pack: string|null, photos: {sha256: string, size: number, home: boolean, kept_at: string}[]}>} pieces lie with the browser,
 *   not in this page's memory; pack: the plan that is kept here
 */
export function readForCopy() {
  return read(['ops', 'meta', 'packs', 'photo_facts'], async (tx) => {
    const pieces = [];
    let changes = 0;
    let lines = [];
    let length = 0;
    const close = () => {
      if (lines.length > 0) pieces.push(new Blob(lines));
      lines = [];
      length = 0;
    };
    const store = tx.objectStore('ops');
    let after = null;
    for (;;) {
      const rows = await ask(store.getAll(after === null ? null : IDBKeyRange.lowerBound(after, true), AT_ONCE));
      if (rows.length === 0) break;
      after = [rows.at(-1).dev, rows.at(-1).seq];
      for (const { op } of rows.filter(isWhole)) {
        const line = `${JSON.stringify(op)}\n`;
        lines.push(line);
        length += line.length;
        changes += 1;
        if (length >= PIECE) close();
      }
    }
    close();
    const sync = await metaIn(tx, 'sync');
    const [pack] = await ask(tx.objectStore('packs').getAllKeys());
    return {
      pieces,
      changes,
      have: await vectorIn(tx),
      device: (await metaIn(tx, 'writer'))?.dev ?? null,
      epoch: sync?.epoch ?? null,
      pack: pack ?? null,
      photos: await ask(tx.objectStore('photo_facts').getAll()),
    };
  });
}

/** The copy that was kept last. @returns {Promise<{at: string, changes: number, photos: number, have: object}|null>} */
export function copyKept() {
  return read(['meta'], (tx) => metaIn(tx, KEPT));
}

/** Note that a copy left this phone. @param {{at: string, changes: number, photos: number, have: object}} copy */
export function noteCopyKept(copy) {
  return write(['meta'], (tx) => putMetaIn(tx, KEPT, copy));
}

/**
 * What is on this phone only: neither home nor the last copy has it.
 * @returns {Promise<{changes: number, photos: number, oldest_at: string|null}>} oldest_at: when the first of it was written
 */
export function keptHereOnly() {
  return read(['ops', 'meta', 'photo_facts'], async (tx) => {
    const have = (await metaIn(tx, 'sync'))?.have ?? {};
    const copy = await metaIn(tx, KEPT);
    const instants = [];
    let changes = 0;
    for (const dev of Object.keys(await vectorIn(tx))) {
      const range = unsentRange(dev, { [dev]: Math.max(have[dev] ?? 0, copy?.have?.[dev] ?? 0) });
      changes += await ask(tx.objectStore('ops').count(range));
      const [first] = await ask(tx.objectStore('ops').getAll(range, 1));
      if (first) instants.push(first.op.wall);
    }
    const facts = await ask(tx.objectStore('photo_facts').getAll());
    const photos = facts.filter((fact) => !fact.home && !(copy && fact.kept_at <= copy.at));
    instants.push(...photos.map((fact) => fact.kept_at));
    const known = instants.filter((at) => typeof at === 'string' && !Number.isNaN(Date.parse(at)));
    return { changes, photos: photos.length, oldest_at: known.sort()[0] ?? null };
  });
}
