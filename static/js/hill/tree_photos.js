/** The photos of one tree: taken or chosen on its page, saved at once; beside them those of its site that have no tree yet. */

import { newId, saveChanges } from '../store.js';
import { fileField } from '../ui/form.js';
import { html } from '../ui/html.js';
import { icon } from '../ui/icons.js';
import { notice } from '../ui/notice.js';
import { showDate } from '../ui/words.js';
import { todayOn, visitChange } from './ground_facts.js';
import { photoName } from './photo_view.js';
import { photoBytes, photoChange, takeShot } from './shots.js';

const AT_ONCE = 24; // more are shown when asked for: each is a picture to read

function grid(photos, from, atMost) {
  return html`<div class="photos" data-list="${from}">${photos.slice(0, atMost).map((record, i) => html`<figure>
    <button type="button" id="photo-${record.id}" data-see="${from}" data-at="${i}" aria-label="See the ${photoName(record.fields).toLowerCase()}"><span data-thumb="${record.fields.sha256}" class="thumb-spot">${icon('photo')}</span></button>
    <figcaption>${record.fields.shows === 'hole' && 'the filled hole, '}${record.fields.taken_at ? showDate(record.fields.taken_at.slice(0, 10)) : 'day not known'}</figcaption></figure>`)}</div>
    ${photos.length > atMost && html`<button type="button" class="button wide" data-whole="${from}">Show ${photos.length - atMost} more</button>`}`;
}

/**
 * The sheet with the photos.
 * @param {{photos: object[], loose: object[]}} facts merged photo records, the newest first
 * @param {Set<string>} whole which of both lists are shown to their end
 */
export function photoSheet({ photos, loose }, whole) {
  const most = (name) => (whole.has(name) ? Infinity : AT_ONCE);
  return html`<section class="sheet"><div class="sheet-head"><h2>Photos</h2>${fileField({ name: 'photo', label: 'Take photo', capture: true })}</div>
    ${photos.length === 0 ? html`<p class="muted">No photo yet.</p>` : grid(photos, 'photos', most('photos'))}
    ${loose.length > 0 && html`<details class="fold" data-fold="loose"><summary>Photos without a tree: ${loose.length}</summary>${grid(loose, 'loose', most('loose'))}</details>`}
    ${fileField({ name: 'chosen', label: 'Choose photos', multiple: true, iconName: 'photo', kind: 'quiet' })}</section>`;
}

/**
 * Keep the files of a picker with a tree, each by itself: one that is no photo does not keep the others out.
 * @param {HTMLInputElement} input
 * @param {{tree: object, photos: object[], visits: object[], latest: object|null}} of latest: where one stands, for a photo
 *   taken now and here
 */
export async function addPhotos(input, { tree, photos, visits, latest }) {
  const site = tree.fields.site ?? null;
  const there = new Set(photos.map((one) => one.fields.sha256));
  let added = 0;
  for (const file of [...input.files]) {
    try {
      const shot = await takeShot(file, latest);
      if (there.has(shot.sha256)) {
        notice(`${file.name} is one of its photos already.`, { kind: 'plain' });
        continue;
      }
      there.add(shot.sha256);
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
