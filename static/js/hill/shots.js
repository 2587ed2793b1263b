/** Photos taken on the hill: the file, the fix at the shutter, and the record that comes of both. */

import { pictureKind } from '../core/picture_kind.js';
import { readPhotoFile, takeFix } from '../device.js';
import { getThumb } from '../store.js';
import { html, render } from '../ui/html.js';
import { notice } from '../ui/notice.js';
import { count } from '../ui/words.js';
import { warnIfShort } from './room_warning.js';

const FRESH_MS = 60_000; // a receiver at rest may tell nothing new for so long
const THUMBS_AT_ONCE = 4; // one slow picture does not hold up the others
const LONGEST_WAIT_MS = 1500; // own rule: a save never waits longer for a position than a person does

/** The latest fix a screen was given, with when; so that what is saved is what was shown. */
export class LatestFix {
  fix = null;
  #got = 0;

  /** Keep the fix that was just given. */
  take(fix) {
    this.fix = fix;
    this.#got = Date.now();
  }

  /**
   * The fix of this moment: the receiver's own word, else what was shown within the last minute, else null.
   * @param {number} [waitMs] the longest a save may be held up for it
   */
  async now(waitMs = LONGEST_WAIT_MS) {
    const shown = () => (this.fix !== null && Date.now() - this.#got < FRESH_MS ? this.fix : null);
    let timer;
    const late = new Promise((resolve) => { timer = setTimeout(() => resolve(null), waitMs); });
    const best = await Promise.race([takeFix(), late]);
    clearTimeout(timer);
    return best ?? shown();
  }
}

/**
 * Read one photo file and take the fix of this very moment beside it. The phone's camera gives no position of its own.
 * @param {File} file from a file input; read at once, since some phones take it back
 * @param {LatestFix|null} latest where one stands, for a photo taken now and here; null for one chosen from the gallery
 * @returns {Promise<{sha256: string, bytes: ArrayBuffer, type: string, size: number, thumb: ArrayBuffer|undefined,
 *   name: string, taken_at: string|null, fix: object|null}>}
 * @throws {Error} with a sentence when it is no photo, is empty or cannot be read
 */
export async function takeShot(file, latest) {
  const fixing = latest === null ? null : latest.now(); // before the reading, which may last a second
  const takenAt = latest === null ? null : new Date().toISOString();
  warnIfShort(Date.now()).catch((fault) => globalThis.reportError?.(fault)); // beside it: a photo is not held up by a warning
  const photo = await readPhotoFile(file);
  const kind = pictureKind(photo.bytes);
  if (kind === null) throw new Error(`${file.name} is no photo. Nothing of it was kept.`);
  return { ...photo, type: kind, name: file.name, taken_at: takenAt, fix: await fixing };
}

/**
 * The photo record of one shot.
 * @param {object} shot what takeShot gave
 * @param {{tree?: string|null, site?: string|null, visit?: string|null}} of what it shows
 * @returns {{type: 'photo', set: object}} for saveChanges
 */
export function photoChange(shot, { tree = null, site = null, visit = null }) {
  const { fix } = shot;
  return {
    type: 'photo',
    set: {
      tree,
      site,
      visit,
      sha256: shot.sha256,
      media_type: shot.type,
      size_bytes: shot.size,
      file_name: shot.name || null,
      taken_at: shot.taken_at,
      taken_at_from: shot.taken_at ? 'phone' : null,
      lat: fix?.lat ?? null,
      lon: fix?.lon ?? null,
      accuracy_m: fix?.accuracy_m ?? null,
      height_m: fix?.height_m ?? null,
      placed_by: fix ? 'fix_at_capture' : null,
    },
  };
}

/**
 * Say that a photo was taken where its picture is out of sight: the form may be scrolled past it, and the camera gives no sign.
 * @param {Element} strip the pictures of the form
 * @param {number} taken how many there are now
 * @param {() => Promise<void>} takeOut takes the last one out again
 */
export function sayIfUnseen(strip, taken, takeOut) {
  const box = strip.lastElementChild.getBoundingClientRect();
  const below = [...document.querySelectorAll('#nav, .actions.stuck')].map((bar) => bar.getBoundingClientRect().top); // what lies over the page
  const foot = Math.min(globalThis.innerHeight, ...below.filter((top) => top > 0));
  const middle = (box.top + box.bottom) / 2;
  if (middle > 0 && middle < foot) return;
  notice(`Photo taken: ${count(taken, 'photo', 'photos')} in this form.`, { undoWords: 'Undo the photo', undo: takeOut, backOnPage: true });
}

/** What saveChanges wants kept of a shot, beside its record. */
export function photoBytes(shot) {
  return { sha256: shot.sha256, bytes: shot.bytes, type: shot.type, thumb: shot.thumb };
}

/**
 * A thumbnail as an address for <img>, from bytes kept on this phone.
 * @param {ArrayBuffer} bytes
 * @returns {string} give it to URL.revokeObjectURL when the screen closes
 */
export function pictureUrl(bytes, type = 'image/jpeg') {
  return URL.createObjectURL(new Blob([bytes], { type }));
}

/** The small pictures of a screen: each read once, and let go when the screen closes. */
export class Thumbs {
  #urls = new Map(); // sha256 -> address, null where there is no picture

  /** The address of a small picture, or null: none here, and home not in reach. */
  async url(sha256) {
    if (!this.#urls.has(sha256)) {
      const got = await getThumb(sha256);
      this.#urls.set(sha256, got ? pictureUrl(got.bytes, got.type) : null);
    }
    return this.#urls.get(sha256);
  }

  /** Put its picture into every element that has a `data-thumb`. */
  async show(place) {
    const spots = [...place.querySelectorAll('[data-thumb]:not([data-thumb=""])')];
    const showNext = async () => {
      for (let spot = spots.shift(); spot; spot = spots.shift()) {
        const url = await this.url(spot.dataset.thumb);
        if (url) render(spot, html`<img src="${url}" alt="">`);
      }
    };
    await Promise.all(Array.from({ length: THUMBS_AT_ONCE }, showNext));
  }

  /** Let the pictures go. */
  close() {
    for (const url of this.#urls.values()) if (url) URL.revokeObjectURL(url);
    this.#urls.clear();
  }
}
