/** What the last intake kept, and where it is now; with one way to take all of it back. */

import { listRecords, getRecord } from '../store.js';
import { html } from '../ui/html.js';
import { icon } from '../ui/icons.js';
import { count, showInstant } from '../ui/words.js';

/**
 * What of an intake is where by now: photos are given to trees and deleted after it.
 * @param {object} last as the intake keeps it
 * @param {Map<string, object|null>} records by id what was made: its fields, or null where it is deleted; where one has not
 *   come from home yet, it is as it was saved
 * @returns {{last: object, kept: number, deleted: number, trees: {tree: string, n: number}[], loose: number, walks: number}}
 */
export function account(last, records = new Map()) {
  const said = { last, kept: 0, deleted: 0, trees: [], loose: 0, walks: 0 };
  const trees = new Map();
  for (const { rec, type, tree: then } of last.saved) {
    const fields = records.get(rec);
    if (fields === null) {
      said.deleted += 1;
      continue;
    }
    said.kept += 1;
    const tree = (fields ? fields.tree : then) ?? null;
    if (type === 'track') said.walks += 1;
    else if (tree === null) said.loose += 1;
    else trees.set(tree, (trees.get(tree) ?? 0) + 1);
  }
  said.trees = [...trees].map(([tree, n]) => ({ tree, n }));
  return said;
}

/** The account by the records this phone has. */
export async function readAccount(last) {
  const lists = await Promise.all([listRecords('photo'), listRecords('track')]);
  const records = new Map(lists.flat().map((record) => [record.id, record.fields]));
  const gone = last.saved.filter(({ rec }) => !records.has(rec));
  for (const record of await Promise.all(gone.map(({ rec }) => getRecord(rec)))) if (record?.deleted) records.set(record.id, null);
  return account(last, records);
}

/**
 * @param {object|null} said the account of the last intake
 * @param {(tree: string) => string} tagOf
 * @returns {import('../ui/html.js').Safe|null}
 */
export function lastSheet(said, tagOf) {
  if (!said) return null;
  const lines = [
    ...said.trees.map(({ tree, n }) => html`<li><a class="entry" href="#/tree/${tree}"><span class="entry-icon">${icon('trees')}</span><span class="entry-main"><span class="entry-title"><span class="tag">${tagOf(tree)}</span></span></span><span class="entry-side">${count(n, 'photo', 'photos')}</span></a></li>`),
    said.loose > 0 && html`<li><div class="entry"><span class="entry-icon">${icon('photo')}</span><span class="entry-main"><span class="entry-title">Without a tree</span></span><span class="entry-side">${count(said.loose, 'photo', 'photos')}</span></div></li>`,
    said.walks > 0 && html`<li><div class="entry"><span class="entry-icon">${icon('walk')}</span><span class="entry-main"><span class="entry-title">Walks</span></span><span class="entry-side">${count(said.walks, 'walk', 'walks')}</span></div></li>`,
  ];
  return html`<section class="sheet" data-last><div class="sheet-head"><h2>The last intake</h2><span class="muted">${showInstant(said.last.at)}</span></div>
    <p>${count(said.kept, 'file is', 'files are')} kept at home${said.deleted > 0 ? `; ${count(said.deleted, 'was', 'were')} deleted since` : ''}${said.kept > 0 ? ':' : '.'}</p>
    <ul class="entries">${lines}</ul>
    <div class="actions"><button type="button" class="button" data-take-back>${icon('undo')}Take it all back</button>
      <button type="button" class="button quiet" data-forget>It is right: put this away</button></div></section>`;
}
