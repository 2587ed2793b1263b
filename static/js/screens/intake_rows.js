/** The list of an intake: which photos are shown, sixty at a time, and what a row says and offers. */

import { html } from '../ui/html.js';
import { icon } from '../ui/icons.js';
import { count, showDate, showDistance, showInstant } from '../ui/words.js';
import { goodPhotos, intake, isToAccept, nameOf, placeOf, TOLD_WORDS } from './intake_job.js';

export const PAGE = 60;
const BY_WORDS = { photo: 'by its own position', track: 'by the walk, from its time', hand: 'by hand' };
const AT_ONCE_M = 25; // one tree alone this near is taken to be meant by "accept all that are plain"; common practice
const MOST_TREES = 4;
const TOLD_ABOVE = new Set(['no-zone', 'no-time', 'clock-estimated']);

const known = (value) => value !== null && value !== undefined;

/**
 * The tree a photo plainly belongs to: the only one near. With two or more near, or none, null: a person says.
 * @param {{tree: string, distance_m: number}[]} near likeliest first
 */
export function plainTree(near) {
  return near.length === 1 && near[0].distance_m <= AT_ONCE_M ? near[0].tree : null;
}

const isFresh = (one) => !one.known && !intake.left[one.sha256];

/** What the list can be narrowed to; `nearOf` gives the trees near a photo. */
export const FILTERS = [
  { name: 'all', label: 'All', has: () => true },
  { name: 'accept', label: 'To accept', has: isToAccept },
  { name: 'unplaced', label: 'No place', has: (one) => isFresh(one) && placeOf(one) === null },
  { name: 'trees', label: 'Tree to choose', has: (one, nearOf) => isFresh(one) && !intake.trees[one.sha256] && nearOf(one).length > 0 },
  { name: 'kept', label: 'Kept already', has: (one) => one.known },
  { name: 'left', label: 'Left out', has: (one) => !one.known && Boolean(intake.left[one.sha256]) },
];

/** Every photo with its number. @returns {{one: object, n: number}[]} */
export function numbered() {
  return goodPhotos().map((one, i) => ({ one, n: i + 1 }));
}

function placeLine(one) {
  const place = placeOf(one);
  if (one.known && !place) return html`<p class="state quiet">${icon('fix')}kept without a place</p>`;
  if (!place) return html`<p class="state ask">${icon('ask')}not placed</p>`;
  const sure = known(place.accuracy_m) ? `, ± ${Math.max(1, Math.round(place.accuracy_m))} m${TOLD_WORDS[place.told] ?? ''}` : place.placed_by === 'hand' ? ', accuracy not known' : '';
  return html`<p class="state ${intake.accepted[one.sha256] || one.known ? 'good' : 'quiet'}">${icon('fix')}<span>${BY_WORDS[place.placed_by] ?? 'placed'}${sure}${intake.accepted[one.sha256] && !one.known ? ', accepted' : ''}</span></p>`;
}

/** Why a photo is as it is, without what the sheet of the clock above has told for all of them. */
function whyLine(one) {
  if (one.known) return null; // it was decided when it was kept
  const codes = new Set((one.trouble ?? []).map((t) => t.code));
  const said = (one.trouble ?? []).filter((t) => !TOLD_ABOVE.has(t.code) && !(codes.has('no-zone') && t.code === 'no-position')).map((t) => t.text);
  if (codes.has('no-zone') && !placeOf(one)) said.unshift('It tells its time without a zone: set the camera’s clock above.');
  return said.length > 0 && html`<p class="shot-why muted">${said.join(' ')}</p>`;
}

/** When a photo was taken; where that is not known, what its camera's clock showed. */
function timeLine(one) {
  const at = one.known ? one.kept?.taken_at ?? one.taken_at : one.taken_at;
  if (at) return showInstant(at);
  if (!one.camera_at) return 'time not known';
  const [on, clock] = one.camera_at.split('T');
  return `by the camera’s clock ${showDate(on)}, ${clock}`;
}

function treeButtons(one, { nearOf, treeWord, tagOf }) {
  const picked = intake.trees[one.sha256] || null;
  const near = nearOf(one).slice(0, MOST_TREES);
  const other = picked && !near.some((tree) => tree.tree === picked);
  return html`<div class="pick-row shot-trees" role="group" aria-label="Which tree does ${nameOf(one)} show?">
    ${near.map((tree) => html`<button type="button" class="button ${picked === tree.tree ? 'primary' : ''}" data-accept="${tree.tree}" aria-pressed="${picked === tree.tree ? 'true' : 'false'}">${icon(picked === tree.tree ? 'done' : 'trees')}${tree.tag ?? 'no tag'} <span class="nowrap">${showDistance(tree.distance_m)}</span></button>`)}
    ${other && html`<button type="button" class="button primary" data-accept="${picked}" aria-pressed="true" title="${treeWord(picked)}">${icon('done')}${tagOf(picked)}</button>`}
    <button type="button" class="button" data-other>${near.length > 0 || picked ? 'Another tree' : 'Choose a tree'}</button>
    ${near.length > 1 && !picked && html`<p class="hint">${count(near.length, 'tree is', 'trees are')} near: say which.</p>`}</div>`;
}

function keptLine(one, { tagOf }) {
  const tree = one.kept?.tree ?? null;
  return html`<p class="state quiet">${icon('done')}<span>Kept already, ${tree ? html`on <a href="#/tree/${tree}">${tagOf(tree)}</a>` : 'without a tree'}. It is not taken in twice.</span></p>`;
}

/** What stands inside a photo's row. */
export function rowInside({ one, n }, view) {
  const { sha256 } = one;
  const left = Boolean(intake.left[sha256]);
  const place = placeOf(one);
  const chosen = view.chosen === sha256;
  return html`<div class="shot-head">${one.known ? html`<span class="shot-tick"></span>` : html`<label class="shot-tick"><input type="checkbox" data-tick ${view.ticked.has(sha256) ? html`checked` : ''} aria-label="Tick ${nameOf(one)}"></label>`}
      <button type="button" class="shot-n" data-show aria-pressed="${chosen ? 'true' : 'false'}" aria-label="Photo ${n}, ${nameOf(one)}: show it on the sketch">${n}</button></div>
    <button type="button" class="shot-preview" data-see aria-label="See ${nameOf(one)} large"><span data-preview="${sha256}">${icon('photo')}</span></button>
    <div class="shot-words"><p class="strong">${nameOf(one)}</p>
      <p class="muted">${timeLine(one)}</p>
      ${placeLine(one)}
      ${one.known && keptLine(one, view)}
      ${left && html`<p class="state quiet">${icon('skipped')}left out of this intake</p>`}
      ${whyLine(one)}</div>
    ${!one.known && html`<div class="shot-acts">
      ${!left && treeButtons(one, view)}
      <div class="pick-row">
        ${!left && place && html`<button type="button" class="button ${intake.accepted[sha256] ? 'primary' : ''}" data-place aria-pressed="${intake.accepted[sha256] ? 'true' : 'false'}">${icon(intake.accepted[sha256] ? 'done' : 'fix')}${intake.accepted[sha256] ? 'Place accepted' : 'Accept the place'}</button>`}
        ${!left && html`<button type="button" class="button" data-move>${icon('hand')}${place ? 'Move it' : 'Place it'}</button>`}
        ${!left && intake.moved[sha256] && html`<button type="button" class="button" data-put-back>${icon('undo')}Put it back</button>`}
        <button type="button" class="button quiet" data-leave-out>${left ? 'Take it in after all' : 'Leave it out'}</button></div></div>`}`;
}

/** The head above the rows: filters, what can be done to many at once. */
export function listHead(view) {
  const photos = goodPhotos();
  const placed = photos.filter((one) => placeOf(one) !== null).length;
  const toAccept = photos.filter(isToAccept).length;
  const plain = photos.filter((one) => isFresh(one) && !intake.trees[one.sha256] && plainTree(view.nearOf(one))).length;
  const ticked = view.ticked.size;
  return html`<div class="sheet-head"><h2>Photos</h2><span class="muted">${placed} of ${photos.length} placed</span></div>
    ${photos.length > 1 && html`<div class="pick-row" role="group" aria-label="Which photos are listed">${FILTERS.map(({ name, label, has }) => {
      const n = name === 'all' ? photos.length : photos.filter((one) => has(one, view.nearOf)).length;
      return (n > 0 || view.filter === name) && html`<button type="button" class="button ${view.filter === name ? 'primary' : ''}" data-filter="${name}" aria-pressed="${view.filter === name ? 'true' : 'false'}">${label} ${n}</button>`;
    })}</div>`}
    ${ticked > 0
      ? html`<div class="pick-row ticked" role="group" aria-label="What to do with the ticked photos"><p class="strong">${ticked} ticked</p>
          <button type="button" class="button" data-many="accept">${icon('fix')}Accept their places</button>
          <button type="button" class="button" data-many="move">${icon('hand')}Move them</button>
          <button type="button" class="button" data-many="back">${icon('undo')}Put them back</button>
          <button type="button" class="button" data-many="tree">${icon('trees')}To a tree</button>
          <button type="button" class="button" data-many="leave">Leave them out</button>
          <button type="button" class="button quiet" data-many="none">Untick</button></div>`
      : html`<div class="pick-row">
          ${toAccept > 0 && html`<button type="button" class="button" data-accept-places>${icon('done')}Accept ${toAccept === 1 ? 'the place' : `all ${toAccept} places`}</button>`}
          ${plain > 0 && html`<button type="button" class="button" data-accept-plain>${icon('trees')}Accept the ${count(plain, 'photo', 'photos')} with one tree near</button>`}
          ${photos.filter((one) => !one.known).length > 1 && html`<button type="button" class="button quiet" data-tick-all>Tick all that are listed</button>`}</div>`}`;
}

/** The rows of a page, and the way to the others. */
export function listRows(listed, view) {
  const from = view.page * PAGE;
  const some = listed.slice(from, from + PAGE);
  const left = listed.length - from - some.length;
  if (listed.length === 0) return html`<p class="muted">${goodPhotos().length === 0 ? 'No photo among them.' : 'None of them.'}</p>`;
  return html`${from > 0 && html`<div class="actions"><button type="button" class="button" data-page="${view.page - 1}">Show the ${PAGE} before</button></div>`}
    <ul class="shot-rows">${some.map((row) => html`<li class="shot-row ${view.chosen === row.one.sha256 ? 'chosen' : ''}" data-photo="${row.one.sha256}">${rowInside(row, view)}</li>`)}</ul>
    ${listed.length > PAGE && html`<p class="muted" data-page-words>${from + 1} to ${from + some.length} of ${listed.length}</p>`}
    ${left > 0 && html`<div class="actions"><button type="button" class="button" data-page="${view.page + 1}">Show the next ${Math.min(PAGE, left)}</button></div>`}`;
}
