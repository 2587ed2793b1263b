/** Photos to home in pieces: begun where home stopped, whatever cut the last try short; done only when home says so. */

import { getOwnBytes, getOwnSmall, markAtHome, markSmallSent, photosToSend, smallToSend } from './store.js';
import { askHome, HomeError } from './store/home.js';

const PIECE = 256 * 1024;
const AT_ONCE = 2;
const PIECE_WAIT_MS = 60_000;
const HEAD_WAIT_MS = 10_000;
const SMALL_WAIT_MS = 30_000;
const STANDSTILL = 'A photo does not get on at home. It is tried again later; it is kept on this phone.';
const MOST_STANDSTILLS = 4; // two phones sending one photo wait for each other; at a standstill it is left for the next sync

/** Where home stands with a photo. @returns {Promise<{offset: number, complete: boolean}>} */
async function placeAtHome(sha256, signal) {
  try {
    return readPlace(await askHome(`/api/blob/${sha256}`, { method: 'HEAD', waitMs: HEAD_WAIT_MS, signal }));
  } catch (fault) {
    if (fault instanceof HomeError && fault.status === 404) return { offset: 0, complete: false };
    throw fault;
  }
}

function readPlace(answer) {
  const offset = Number(answer.headers.get('Upload-Offset') ?? Number.NaN);
  const complete = answer.headers.get('Upload-Complete') === '?1';
  if (!complete && !(Number.isSafeInteger(offset) && offset >= 0)) throw new HomeError('not-home', { status: answer.status });
  return { offset, complete };
}

/**
 * Bring one photo, track or paper home.
 * @param {string} sha256 of the bytes
 * @param {ArrayBuffer|Blob} bytes a file that is a Blob is never in memory as a whole
 * @param {{onProgress?: (sent: number, of: number) => any, signal?: AbortSignal|null}} [options] signal: stops it; what was
 *   sent stays at home and the next call goes on from there
 * @returns {Promise<void>} when home holds it whole
 * @throws {HomeError} away, unpaired, hash-wrong (twice), no room at home ...
 */
export async function uploadBlob(sha256, bytes, { onProgress = () => {}, signal = null } = {}) {
  let restarted = false;
  let standstills = 0;
  const size = bytes instanceof Blob ? bytes.size : bytes.byteLength;
  let place = await placeAtHome(sha256, signal);
  while (!place.complete) {
    onProgress(place.offset, size);
    const piece = bytes.slice(place.offset, place.offset + PIECE);
    const last = place.offset + PIECE >= size;
    const before = place.offset;
    try {
      place = readPlace(await askHome(`/api/blob/${sha256}`, {
        method: 'PATCH',
        headers: {
          'Content-Type': 'application/partial-upload',
          'Upload-Offset': String(place.offset),
          'Upload-Length': String(size),
          'Upload-Complete': last ? '?1' : '?0',
        },
        body: piece,
        waitMs: PIECE_WAIT_MS,
        signal,
      }));
    } catch (fault) {
      if (!(fault instanceof HomeError)) throw fault;
      if (fault.status === 409 && standstills < MOST_STANDSTILLS) {
        place = await placeAtHome(sha256, signal); // another phone brings the same photo, or the last answer was lost
      } else if (fault.status === 422 && !restarted) {
        restarted = true; // home dropped its part; once more from the beginning
        place = await placeAtHome(sha256, signal);
      } else {
        throw fault;
      }
    }
    standstills = place.offset === before ? standstills + 1 : 0;
    if (standstills > MOST_STANDSTILLS) throw new HomeError('standstill', { text: STANDSTILL });
  }
  onProgress(size, size);
}

const HARD_STOPS = new Set(['away', 'unpaired', 'shut-out', 'not-home', 'server-fault', 'busy']);

/** Whether after this nothing more is to be asked of home for now. */
function stopsAll(fault) {
  return fault.status === 507 || HARD_STOPS.has(fault.code); // a full disk, an unknown phone, no home
}

/**
 * Give home the small pictures of photos that are still to come: the other phones see them the same evening, also where the
 * line is too thin for the photos. A home that does not take them still gets the photos.
 * @returns {Promise<HomeError|null>} what stops the photos too
 */
async function sendSmallOnes(pause, signal) {
  for (const sha256 of await smallToSend()) {
    if (pause()) return null;
    const bytes = await getOwnSmall(sha256);
    if (bytes === null) continue; // let go meanwhile
    try {
      await askHome(`/api/blob/${sha256}/preview`, {
        method: 'PUT', headers: { 'Content-Type': 'image/jpeg' }, body: bytes, waitMs: SMALL_WAIT_MS, signal,
      });
    } catch (fault) {
      if (!(fault instanceof HomeError)) throw fault;
      if (fault.code === 'no-photo') continue; // its words are not at home, or the photo was deleted
      if (fault.code !== 'bad-picture') return fault.code !== 'server-fault' && stopsAll(fault) ? fault : null;
    }
    await markSmallSent(sha256);
  }
  return null;
}

/**
 * Bring every waiting photo home, the small pictures of all before, then the smallest photo first, two at a time.
 * @param {{onProgress?: (sent: number, of: number) => any, pause?: () => boolean, signal?: AbortSignal|null}} [options]
 *   onProgress: bytes over all photos; pause: asked between photos, true ends early
 * @returns {Promise<{sent: number, left: number, fault: HomeError|null}>} fault: the first that stopped a photo
 */
export async function sendPhotos({ onProgress = () => {}, pause = () => false, signal = null } = {}) {
  const stopper = await sendSmallOnes(pause, signal);
  if (stopper !== null) return { sent: 0, left: (await photosToSend()).length, fault: stopper };
  const queue = await photosToSend();
  const total = queue.reduce((sum, photo) => sum + photo.size, 0);
  const done = new Map();
  let sent = 0;
  let fault = null;
  let stopped = false;

  async function sendOne(photo) {
    const bytes = await getOwnBytes(photo.sha256);
    if (bytes === null) throw new HomeError('photo-gone', { text: 'The bytes of a photo are no longer on this phone.' });
    await uploadBlob(photo.sha256, bytes, {
      signal,
      onProgress: (at) => {
        done.set(photo.sha256, at);
        onProgress([...done.values()].reduce((sum, n) => sum + n, 0), total);
      },
    });
    await markAtHome(photo.sha256);
    sent += 1;
  }

  async function runner() {
    while (!stopped && !pause()) {
      const photo = queue.shift();
      if (!photo) return;
      try {
        await sendOne(photo);
      } catch (error) {
        if (!(error instanceof HomeError)) throw error;
        fault ??= error;
        if (stopsAll(error)) stopped = true; // one bad photo must not keep the others from going home
      }
    }
  }

  await Promise.all(Array.from({ length: AT_ONCE }, runner));
  return { sent, left: (await photosToSend()).length, fault };
}
