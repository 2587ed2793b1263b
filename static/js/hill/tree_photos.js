/** The photos of one tree: taken or chosen on its page, saved at once, and seen whole. */

import { getPhoto, newId, saveChanges } from '../store.js';
import { ask } from '../ui/dialog.js';
import { fileField } from '../ui/form.js';
import { html } from '../ui/html.js';
import { icon } from '../ui/icons.js';
import { notice } from '../ui/notice.js';
import { showDate, showInstant } from '../ui/words.js';
import { todayOn, visitChange } from './ground_facts.js';
import { photoBytes, photoChange, pictureUrl, takeShot } from './shots.js';
import { newest } from './tree_facts.js';

/** The sheet with the photos. @param {object[]} records merged photo records of the tree */
export function photoSheet(records) {
  const photos = newest(records, 'taken_at');
  return html`<section class="sheet"><div class="sheet-head"><h2>Photos</h2>${fileField({ name: 'photo', label: 'Take photo', capture: true })}</div>
    ${photos.length === 0 ? html`<p class="muted">No photo yet.</p>` : html`<div class="photos">${photos.map(({ fields }) => html`<figure>
      <button type="button" data-see="${fields.sha256}" aria-label="See the photo of ${fields.taken_at ? showInstant(fields.taken_at) : 'a day not known'}"><span data-thumb="${fields.sha256}" class="thumb-spot">${icon('photo')}</span></button>
      <figcaption>${fields.taken_at ? showDate(fields.taken_at.slice(0, 10)) : 'day not known'}</figcaption></figure>`)}</div>`}
    ${fileField({ name: 'chosen', label: 'Choose photos', multiple: true, iconName: 'photo', kind: 'quiet' })}</section>`;
}

/** See one photo whole. */
export async function seePhoto(sha256) {
  const photo = await getPhoto(sha256);
  if (!photo) {
    notice('This photo is not on this phone, and home is not in reach.', { kind: 'plain' });
    return;
  }
  const url = pictureUrl(photo.bytes, photo.type);
  await ask({ title: 'Photo', text: html`<img src="${url}" alt="The photo, whole">`, choices: [], no: 'Close' });
  URL.revokeObjectURL(url);
}

/**
 * Keep the files of a picker with a tree, each by itself: one that is no photo does not keep the others out.
 * @param {HTMLInputElement} input
 * @param {{tree: object, visits: object[], latest: object|null}} of latest: where one stands, for a photo taken now and here
 */
export async function addPhotos(input, { tree, visits, latest }) {
  const site = tree.fields.site ?? null;
  let added = 0;
  for (const file of [...input.files]) {
    try {
      const shot = await takeShot(file, latest);
      const visit = latest ? visitChange(visits, site ? { id: site, fields: {} } : null, todayOn()) : { id: null, change: null };
      const changes = [{ rec: newId(), ...photoChange(shot, { tree: tree.id, site, visit: visit.id }) }];
      if (visit.change) changes.push(visit.change);
      const { photos_refused: refused } = await saveChanges(changes, { photos: [photoBytes(shot)] });
      if (refused.length === 0) added += 1; // what found no room is said by the app itself
    } catch (fault) {
      notice(`${file.name}: ${fault.message}`, { kind: 'trouble' });
    }
  }
  input.value = '';
  if (added > 0) notice(`${added === 1 ? 'Photo' : `${added} photos`} saved on this phone.`);
}
