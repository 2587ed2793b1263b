/** Photos taken on the hill: the file, the fix at the shutter, and the record that comes of both. */

import { pictureKind } from '../core/picture_kind.js';
import { readPhotoFile, takeFix } from '../device.js';

const FRESH_MS = 60_000; // a receiver at rest may tell nothing new for so long
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
