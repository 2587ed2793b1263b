/** Photos that are kept without a tree: looked at, given to a tree, or deleted; each of it can be undone. Works with no signal. */

import { nearTrees } from '../hill/near_trees.js';
import { pickTree } from '../hill/pick_tree.js';
import { getPhoto, listRecords, onStoreChange, saveChange } from '../store.js';
import { ask } from '../ui/dialog.js';
import { html, on, render } from '../ui/html.js';
import { icon } from '../ui/icons.js';
import { notice } from '../ui/notice.js';
import { showDistance, showInstant } from '../ui/words.js';
import { openPreviews } from './intake_previews.js';

const PAGE = 24;
const MOST_TREES = 3;

const known = (value) => value !== null && value !== undefined;
const isLoose = ({ fields }) => !known(fields.tree) && known(fields.sha256);

/**
 * Open the list in its place; it draws nothing while there is none.
 * @param {Element} place
 * @param {{trees: object[], siteName: (id: string|null) => string|null}} ground trees: {id, tag, words, fix}
 * @returns {() => void} closes it
 */
export function openLoose(place, { trees, siteName }) {
  let photos = [];
  let shown = PAGE;
  const previews = openPreviews({ kept: true });
  const tagOf = (id) => trees.find((tree) => tree.id === id)?.tag ?? 'a tree not kept here';
  const placeOfRecord = ({ fields }) => (known(fields.lat) && known(fields.lon) ? { lat: fields.lat, lon: fields.lon, accuracy_m: fields.accuracy_m ?? null } : null);
  const named = ({ fields }) => fields.file_name ?? 'a photo';

  function row(photo) {
    const near = nearTrees(placeOfRecord(photo), trees).slice(0, MOST_TREES);
    const { fields } = photo;
    return html`<li class="loose-row" data-loose="${photo.id}">
      <button type="button" class="shot-preview" data-see-loose aria-label="See ${named(photo)} large"><span data-preview="${fields.sha256}">${icon('photo')}</span></button>
      <div class="shot-words"><p class="strong">${named(photo)}</p><p class="muted">${fields.taken_at ? showInstant(fields.taken_at) : 'time not known'}${siteName(fields.site) ? `, ${siteName(fields.site)}` : ''}</p>
        <div class="pick-row">${near.map((tree) => html`<button type="button" class="button" data-give="${tree.tree}">${icon('trees')}${tree.tag} <span class="nowrap">${showDistance(tree.distance_m)}</span></button>`)}
          <button type="button" class="button" data-give-other>${near.length > 0 ? 'Another tree' : 'Choose a tree'}</button>
          <button type="button" class="button quiet" data-delete-loose>${icon('bin')}Delete</button></div></div></li>`;
  }

  function draw() {
    if (photos.length === 0) {
      render(place, html``);
      return;
    }
    const left = photos.length - shown;
    render(place, html`<section class="sheet"><h2>Photos without a tree: ${photos.length}</h2>
      <ul class="loose-rows">${photos.slice(0, shown).map(row)}</ul>
      ${left > 0 && html`<div class="actions"><button type="button" class="button" data-more-loose>Show the next ${Math.min(PAGE, left)}</button></div>`}</section>`);
    previews.watch(place);
  }

  let reading = null;
  let again = false;

  /** Read once more when something changed while it was being read: a long sync tells of each of its pieces. */
  async function refresh() {
    again = true;
    reading ??= (async () => {
      while (again) {
        again = false;
        await readAll();
      }
    })().finally(() => { reading = null; });
    return reading;
  }

  async function readAll() {
    photos = (await listRecords('photo')).filter(isLoose).sort((a, b) => String(b.fields.taken_at ?? '').localeCompare(String(a.fields.taken_at ?? '')));
    draw();
  }

  const photoAt = (el) => photos.find((photo) => photo.id === el.closest('[data-loose]').dataset.loose);

  async function give(photo, tree) {
    await saveChange({ rec: photo.id, type: 'photo', set: { tree } });
    notice(`${named(photo)} is with ${tagOf(tree)} now.`, { undo: () => saveChange({ rec: photo.id, type: 'photo', set: { tree: null } }) });
  }

  const trying = (work) => async (...args) => {
    try {
      await work(...args);
    } catch (fault) {
      notice(fault.message, { kind: 'trouble' });
    }
  };

  const stops = [
    onStoreChange((what) => { if (!what.types || what.types.includes('photo')) trying(refresh)(); }),
    on(place, 'click', '[data-give]', trying((ev, el) => give(photoAt(el), el.dataset.give))),
    on(place, 'click', '[data-give-other]', trying(async (ev, el) => {
      const photo = photoAt(el);
      const tree = await pickTree({ title: `Which tree does ${named(photo)} show?`, trees, near: nearTrees(placeOfRecord(photo), trees) });
      if (tree) await give(photo, tree);
    })),
    on(place, 'click', '[data-delete-loose]', trying(async (ev, el) => {
      const photo = photoAt(el);
      await saveChange({ rec: photo.id, type: 'photo', set: { deleted: true } });
      notice(`${named(photo)} is deleted.`, { undoWords: 'Undo the removal', undo: () => saveChange({ rec: photo.id, type: 'photo', set: { deleted: false } }) });
    })),
    on(place, 'click', '[data-more-loose]', () => {
      shown += PAGE;
      draw();
    }),
    on(place, 'click', '[data-see-loose]', trying(async (ev, el) => {
      const photo = photoAt(el);
      const got = await getPhoto(photo.fields.sha256);
      if (!got) {
        notice('This photo is at home, and home is not in reach.', { kind: 'plain' });
        return;
      }
      const url = URL.createObjectURL(new Blob([got.bytes], { type: got.type }));
      await ask({ title: named(photo), text: html`<img src="${url}" alt="${named(photo)}">`, choices: [], no: 'Close' });
      URL.revokeObjectURL(url);
    })),
  ];
  trying(refresh)();
  return () => {
    stops.forEach((stop) => stop());
    previews.close();
  };
}
