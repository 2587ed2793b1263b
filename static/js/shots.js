/** Photos taken on the hill: the file, the fix at the shutter, and the record that comes of both. */

import { readPhotoFile, takeFix } from './device.js';

/**
 * Read one photo file and take the fix of this very moment beside it. The phone's camera gives no position of its own.
 * @param {File} file from a file input; read at once, since some phones take it back
 * @param {{here?: boolean}} [options] here: whether the photo is taken now and here; false for one chosen from the gallery
 * @returns {Promise<{sha256: string, bytes: ArrayBuffer, type: string, size: number, thumb: ArrayBuffer|undefined,
 *   name: string, taken_at: string|null, fix: object|null}>}
 */
export async function takeShot(file, { here = true } = {}) {
  const fix = here ? await takeFix() : null; // before the reading, which may last a second
  const takenAt = here ? new Date().toISOString() : null;
  const photo = await readPhotoFile(file);
  return { ...photo, name: file.name, taken_at: takenAt, fix };
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
