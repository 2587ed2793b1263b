/** A round on the page Due: one row for all its trees, opened to each of them. Markup only. */

import { isLook } from '../core/rounds.js';
import { html } from '../ui/html.js';
import { icon } from '../ui/icons.js';
import { count, plainSources, showDate, tagName } from '../ui/words.js';

const isSettled = (state) => state?.state === 'done' || state?.state === 'skipped';

/** '3 of 12 done', '3 of 12 looked at, 1 skipped'; null while nothing is. */
function progress(parts, states, word) {
  const some = parts.map((task) => states.get(task.rec)?.state);
  const done = some.filter((state) => state === 'done').length;
  const passed = some.filter((state) => state === 'skipped').length;
  if (done + passed === 0) return null;
  return [`${done} of ${parts.length} ${word}`, passed > 0 && `${passed} skipped`].filter(Boolean).join(', ');
}

function treeLine(task, { states, today, treeOf, wordsOf }) {
  const state = states.get(task.rec);
  const tree = treeOf(task.tree);
  const tag = tagName(tree?.fields.tag, 'no tag');
  const settled = isSettled(state);
  const late = !settled && task.by < today;
  return html`<li class="round-tree ${settled ? 'ticked' : ''}" data-task="${task.id}">
    <span class="round-who"><a class="tag" href="#/tree/${task.tree}" aria-label="Tree ${tag}">${tag}</a>
      <span class="muted">${wordsOf(tree)}${late && html`, <span class="strong">since ${showDate(task.from)}</span>`}</span></span>
    ${settled
      ? html`<span class="state quiet">${icon(state.state === 'done' ? 'done' : 'skipped')}${state.state === 'done' ? 'done' : 'skipped'}</span>
          <button type="button" class="button hill" id="again-${task.rec}" data-open-again="${task.rec}" aria-label="Open again: ${tag}">${icon('undo')}</button>${state.note && html`<p class="note">${state.note}</p>`}`
      : html`<button type="button" class="button primary hill" id="done-${task.rec}" data-done="${task.rec}" aria-label="Done: ${tag}">${icon('done')}Done</button>
          <button type="button" class="button hill" data-note-done="${task.rec}" aria-label="Note or skip: ${tag}">${icon('edit')}</button>`}
  </li>`;
}

/**
 * The trees of a round under each thing there is to do, with why. Drawn once the round is opened: a garden of hundreds has as many
 * rows on each of its days.
 */
export function treeLists(round, facts) {
  const byText = new Map();
  for (const task of round.parts) byText.set(task.text, [...(byText.get(task.text) ?? []), task]);
  const byTag = (a, b) => tagName(facts.treeOf(a.tree)?.fields.tag, '~').localeCompare(tagName(facts.treeOf(b.tree)?.fields.tag, '~'), 'en', { numeric: true });
  return [...byText].map(([text, some]) => html`<div class="round-part">${byText.size > 1 && html`<p>${text}</p>`}
    ${some[0].why && html`<details class="fold why" data-fold="why ${round.id} ${some[0].id}"><summary aria-label="Why: ${text}">Why</summary><p class="muted">${plainSources(some[0].why)}</p></details>`}
    <ul class="tasks">${some.sort(byTag).map((task) => treeLine(task, facts))}</ul></div>`);
}

/**
 * One round.
 * @param {object} round as hill/rounds.js gives it
 * @param {{states: Map<string, object>, today: string, when: string, ticked: boolean, settled: boolean, opened: boolean,
 *   treeOf: (id: string) => object|null, wordsOf: (tree: object|null) => string}} facts when: its dates in words; ticked: settled a
 *   moment ago, and keeps its place; settled: it stands among what is settled; opened: its trees are shown
 */
export function roundRow(round, facts) {
  const { states, when, ticked, settled, opened } = facts;
  const open = round.parts.filter((task) => !isSettled(states.get(task.rec))).length;
  const word = isLook(round.round) ? 'looked at' : 'done';
  const said = progress(round.parts, states, word);
  const all = open === round.parts.length ? `All ${word}` : `The other ${open} ${word}`;
  const texts = new Set(round.parts.map((task) => task.text));
  const shut = settled || (ticked && open === 0);
  return html`<li class="task round ${shut ? 'ticked' : ''}" data-task="${round.id}">
    <p class="task-text">${ticked && open === 0 ? html`<s>${round.text}</s>` : round.text}</p>
    <p class="state quiet">${icon(shut ? 'done' : 'clock')}${shut ? `${said}, ${showDate(states.get(round.id)?.settled_on)}` : [when, said].filter(Boolean).join(', ')}</p>
    ${texts.size === 1 && !shut && html`<p>${[...texts][0]}</p>`}
    <div class="task-acts">${ticked && open === 0
      ? html`<button type="button" class="button hill" data-round-undo="${round.id}" aria-label="Undo: ${round.text}">${icon('undo')}Undo</button>`
      : open > 0 && html`<button type="button" class="button primary hill" id="done-${round.id}" data-round-done="${round.id}" aria-label="${all}: ${round.text}">${icon('done')}${all}</button>`}</div>
    <details class="fold round-trees" data-fold="${round.id}"><summary>Tree by tree<span class="unseen">: ${count(round.parts.length, 'tree', 'trees')} of ${round.text}</span></summary><div data-round-trees="${round.id}">${opened && treeLists(round, facts)}</div></details>
  </li>`;
}
