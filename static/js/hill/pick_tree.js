/** Choosing one tree out of all that are kept: those near first, the others typed by tag, kind or site, in a dialog. */

import { holdBack } from '../ui/back_step.js';
import { html, on, render } from '../ui/html.js';
import { icon } from '../ui/icons.js';
import { count, showDistance } from '../ui/words.js';

const MOST_SHOWN = 30;
const MOST_NEAR = 4;

/**
 * Ask which tree.
 * @param {{title: string, trees: {id: string, tag: string, words: string}[], near?: {tree: string, distance_m: number}[],
 *   none?: string|null}} question words: what is said of a tree beside its tag; near: those that stand near, likeliest first;
 *   none: what the button for no tree says, or null for no such button
 * @returns {Promise<string|null|undefined>} the tree's id; null for no tree; undefined when it was closed without choosing
 */
export function pickTree({ title, trees, near = [], none = null }) {
  const byId = new Map(trees.map((tree) => [tree.id, tree]));
  const close = near.filter(({ tree }) => byId.has(tree)).slice(0, MOST_NEAR);
  const isClose = new Set(close.map(({ tree }) => tree));
  const entry = (tree, awayM = null) => html`<li><button type="button" class="entry" data-pick="${tree.id}"><span class="entry-icon">${icon('trees')}</span><span class="entry-main"><span class="entry-title"><span class="tag">${tree.tag}</span></span><span class="entry-under">${tree.words}</span></span>${awayM !== null && html`<span class="entry-side">${showDistance(awayM)}</span>`}</button></li>`;
  const box = document.createElement('dialog');
  box.className = 'dialog';
  box.setAttribute('aria-labelledby', 'pick-tree-title');
  document.body.append(box);
  render(box, html`<form method="dialog" novalidate><h2 id="pick-tree-title">${title}</h2>
    <div class="actions">${none && html`<button type="button" class="button" data-none>${none}</button>`}<button type="button" class="button quiet" data-no>Not now</button></div>
    ${close.length > 0 && html`<div class="stack" data-near><h3>Near it</h3><ul class="entries">${close.map(({ tree, distance_m: awayM }) => entry(byId.get(tree), awayM))}</ul></div>`}
    <div class="field"><label for="pick-tree-text">Tag, kind or site</label><input id="pick-tree-text" type="text" autocomplete="off" enterkeyhint="search"></div>
    <div class="stack" data-found aria-live="polite"></div></form>`);
  const list = box.querySelector('[data-found]');
  const field = box.querySelector('input');

  function draw() {
    const wanted = field.value.trim().toLowerCase().split(/\s+/).filter(Boolean);
    const found = trees.filter((tree) => {
      if (wanted.length === 0 && isClose.has(tree.id)) return false; // it stands above
      const text = `${tree.tag} ${tree.words}`.toLowerCase();
      return wanted.every((word) => text.includes(word));
    });
    const more = found.length - MOST_SHOWN;
    render(list, html`${found.length === 0 && (wanted.length > 0 || close.length === 0) && html`<p class="muted">No tree kept here is called that.</p>`}
      <ul class="entries">${found.slice(0, MOST_SHOWN).map((tree) => entry(tree))}</ul>
      ${more > 0 && html`<p class="muted">${count(more, 'more tree', 'more trees')}: type on.</p>`}`);
  }

  draw();
  return new Promise((resolve) => {
    let release = null;
    const finish = (answer) => {
      box.close();
      box.remove();
      release().then(() => resolve(answer));
    };
    field.addEventListener('input', draw);
    box.addEventListener('cancel', (ev) => {
      ev.preventDefault();
      finish(undefined);
    });
    box.querySelector('form').addEventListener('submit', (ev) => {
      ev.preventDefault();
      const only = list.querySelectorAll('[data-pick]');
      if (only.length === 1) finish(only[0].dataset.pick);
    });
    on(box, 'click', '[data-pick]', (ev, el) => finish(el.dataset.pick));
    on(box, 'click', '[data-none]', () => finish(null));
    on(box, 'click', '[data-no]', () => finish(undefined));
    box.showModal();
    release = holdBack(() => finish(undefined));
    if (close.length === 0) field.focus(); // else the keyboard would cover the likely ones
  });
}
