/** Saving: one strict transaction holds the changes, the merged records, the clock and the photos, or none of them. */

import { StoreError, write } from './db.js';
import { CHANGE_STORES, issueChange, prepare } from './issue.js';
import { announce } from './listen.js';
import { keepPhoto, makeRoom, PHOTO_STORES } from './photos.js';
import { dropSpare } from './room.js';

const SLACK = 1024 * 1024; // the browser's own books about what is kept
const REFUSED = 'This phone is full: the words are saved, this photo is not. Make room, then take it again.';

async function writeAll(changes, photos) {
  const stores = photos.length > 0 ? [...CHANGE_STORES, ...PHOTO_STORES] : CHANGE_STORES;
  return write(stores, async (tx) => {
    const at = new Date();
    let made = false;
    for (const change of changes) made = (await issueChange(tx, change, at)) || made;
    for (const photo of photos) await keepPhoto(tx, photo, at);
    return made;
  });
}

/** Keep one photo if it fits. @returns {Promise<boolean>} */
async function keepIfFits(photo) {
  try {
    await write(PHOTO_STORES, (tx) => keepPhoto(tx, photo, new Date()));
    return true;
  } catch (fault) {
    if (!(fault instanceof StoreError) || fault.code !== 'full') throw fault;
    return false;
  }
}

/** The phone is full: the words go first, then each photo that still fits, at last in place of some that home keeps twice. */
async function saveWhatFits(changes, photos) {
  await makeRoom();
  await writeAll(changes, []);
  const refused = [];
  for (const photo of photos) {
    let isKept = await keepIfFits(photo);
    if (!isKept && (await dropSpare(photo.bytes.byteLength + SLACK)).count > 0) isKept = await keepIfFits(photo);
    if (!isKept) refused.push({ sha256: photo.sha256, text: REFUSED });
  }
  return refused;
}

/**
 * Save changes and photos together. Resolves only when all of it is written for good.
 *
 * Only fields that differ from what was there become part of a change; give `seen` (the record as the form was opened)
 * where someone may have changed it meanwhile, so that what they wrote is not overruled unseen.
 * @param {{rec?: string, type: string, set: object, seen?: object}[]} changes rec: id of the record, left out for a new one
 * @param {{photos?: {sha256: string, bytes: ArrayBuffer, type: string, thumb?: ArrayBuffer}[]}} [options]
 * @returns {Promise<string[]>} the record ids in order. Its property `photos_refused` lists {sha256, text} of photos for
 *   which there was no room: the changes are saved all the same, and the text is to be shown
 * @throws {StoreError} full, update, blocked, lost, bad-change: nothing was saved
 */
export async function saveChanges(changes, { photos = [] } = {}) {
  const prepared = changes.map(prepare);
  let refused = [];
  try {
    await writeAll(prepared, photos);
  } catch (fault) {
    if (!(fault instanceof StoreError) || fault.code !== 'full') throw fault;
    refused = await saveWhatFits(prepared, photos);
  }
  announce({ types: [...new Set(prepared.map((change) => change.type))], unsent: true, photos_refused: refused });
  const recs = prepared.map((change) => change.rec);
  recs.photos_refused = refused;
  return recs;
}

/**
 * Save one change.
 * @param {{rec?: string, type: string, set: object, seen?: object}} change
 * @returns {Promise<string>} the record's id
 */
export async function saveChange(change) {
  const [rec] = await saveChanges([change]);
  return rec;
}
