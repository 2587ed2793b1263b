/** What the last intake kept, and where; with one way to take all of it back. */

import { html } from '../ui/html.js';
import { icon } from '../ui/icons.js';
import { count, showInstant } from '../ui/words.js';

/**
 * @param {object|null} last as the intake keeps it
 * @param {(tree: string) => string} tagOf
 * @returns {import('../ui/html.js').Safe|null}
 */
export function lastSheet(last, tagOf) {
  if (!last) return null;
  const lines = [
    ...last.trees.map(({ tree, n }) => html`<li><a class="entry" href="#/tree/${tree}"><span class="entry-icon">${icon('trees')}</span><span class="entry-main"><span class="entry-title"><span class="tag">${tagOf(tree)}</span></span></span><span class="entry-side">${count(n, 'photo', 'photos')}</span></a></li>`),
    last.loose > 0 && html`<li><div class="entry"><span class="entry-icon">${icon('photo')}</span><span class="entry-main"><span class="entry-title">Without a tree</span></span><span class="entry-side">${count(last.loose, 'photo', 'photos')}</span></div></li>`,
    last.walks > 0 && html`<li><div class="entry"><span class="entry-icon">${icon('walk')}</span><span class="entry-main"><span class="entry-title">Walks</span></span><span class="entry-side">${count(last.walks, 'walk', 'walks')}</span></div></li>`,
  ];
  return html`<section class="sheet" data-last><div class="sheet-head"><h2>The last intake</h2><span class="muted">${showInstant(last.at)}</span></div>
    <p>${count(last.saved.length, 'file is', 'files are')} kept at home:</p>
    <ul class="entries">${lines}</ul>
    <div class="actions"><button type="button" class="button" data-take-back>${icon('undo')}Take it all back</button>
      <button type="button" class="button quiet" data-forget>It is right: put this away</button></div></section>`;
}
