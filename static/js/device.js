/** The phone's own senses: position, camera files, the screen kept awake. */

import { R95 } from './core/fix.js';
import { FIX_TROUBLE } from './core/fix_trouble.js';
import { distanceM } from './core/geodesy.js';
import { pictureKind } from './core/picture_kind.js';

const STALE_MS = 10_000;
const COARSE_M = 100;
const COLLECT_MS = 15_000; // the best fix of so long a time is the one taken
const SETTLE_MS = 20_000; // after this a coarse fix is better than none
const ONE_SHOT_MS = 5000;
const THUMB_PX = 320;
const THUMB_QUALITY = 0.8;

const DRAWN_BY_ALL = new Set(['image/jpeg', 'image/png', 'image/gif']);
const DAMAGED = 'This picture cannot be shown: the file seems cut off or damaged. It is kept as it is; take it again if you can.';

const watchers = new Set();
let watch = null; // the one watch of the receiver that all screens share

const TROUBLE = { 1: FIX_TROUBLE.denied, 2: FIX_TROUBLE.searching, 3: FIX_TROUBLE.slow };

function platform() {
  const said = navigator.userAgentData?.platform;
  if (said) return said;
  if (/iPhone|iPad|iPod/.test(navigator.userAgent)) return 'iOS';
  return /Android/.test(navigator.userAgent) ? 'Android' : navigator.platform || 'unknown';
}

/** The receiver's fix in our words. Missing stays missing. */
function toFix({ coords, timestamp }) {
  return {
    lat: coords.latitude,
    lon: coords.longitude,
    accuracy_m: Number.isFinite(coords.accuracy) ? coords.accuracy : null,
    height_m: Number.isFinite(coords.altitude) ? coords.altitude : null,
    fixed_at: new Date(timestamp).toISOString(),
    source: 'web-geolocation',
    platform: platform(),
  };
}

function radius(fix) {
  return fix.accuracy_m ?? Infinity;
}

/** The best of the latest fixes that is still where one stands: a walker has left the circle of an older one. */
function bestOf(collected) {
  const latest = collected.at(-1)?.fix ?? null;
  if (!latest) return null;
  const near = collected.filter(({ fix }) => distanceM(fix.lat, fix.lon, latest.lat, latest.lon) <= R95 * (radius(fix) + radius(latest)));
  return near.reduce((best, { fix }) => (radius(fix) < radius(best) ? fix : best), latest);
}

function prune(collected) {
  const since = Date.now() - COLLECT_MS;
  while (collected.length > 0 && collected[0].got < since) collected.shift();
}

function startWatch() {
  const collected = [];
  const begun = Date.now();
  let coarse = null;
  let lastStamp = null;
  let trouble = null; // told last, while no fix has come after it

  function take(fix) {
    trouble = null;
    collected.push({ fix, got: Date.now() });
    prune(collected);
    const best = bestOf(collected);
    for (const { onFix } of [...watchers]) onFix(best, fix);
  }

  function tell(said) {
    trouble = said;
    for (const { onTrouble } of [...watchers]) onTrouble(said);
  }

  function onPosition(position) {
    // A fix from a cache is old. A phone whose clock is wrong has only "old" ones, but those go on with time.
    const old = Date.now() - position.timestamp > STALE_MS;
    const goesOn = lastStamp !== null && position.timestamp > lastStamp;
    lastStamp = position.timestamp;
    if (old && !goesOn) return;
    const fix = toFix(position);
    if (radius(fix) > COARSE_M && collected.length === 0 && Date.now() - begun < SETTLE_MS) {
      coarse = fix; // the first ones come from masts and networks; a better one may follow
      const sure = fix.accuracy_m === null ? 'a position of unknown accuracy' : `a position of ± ${Math.round(fix.accuracy_m)} m, which is too coarse`;
      tell({ code: 'searching', message: `So far there is only ${sure}. Stand under open sky: a better one may follow.` });
      return;
    }
    take(fix);
  }

  function onError(error) {
    const said = { code: error.code === 1 ? 'denied' : 'searching', message: TROUBLE[error.code] ?? TROUBLE[2] };
    tell(said);
  }

  const id = navigator.geolocation.watchPosition(onPosition, onError, { enableHighAccuracy: true, maximumAge: 0, timeout: 60_000 });
  const settle = setTimeout(() => {
    if (coarse && collected.length === 0) take(coarse);
  }, SETTLE_MS);
  return {
    begun,
    trouble: () => trouble,
    best() {
      prune(collected);
      return bestOf(collected);
    },
    stop() {
      clearTimeout(settle);
      navigator.geolocation.clearWatch(id);
    },
  };
}

function turn() {
  const wanted = watchers.size > 0 && document.visibilityState === 'visible';
  if (wanted && !watch) watch = startWatch();
  if (!wanted && watch) {
    watch.stop();
    watch = null;
  }
}

/**
 * Follow the position while a screen needs it; it rests while the app is hidden.
 * @param {(fix: {lat: number, lon: number, accuracy_m: number|null, height_m: number|null, fixed_at: string,
 *   source: string, platform: string}, latest: object) => any} onFix the best of the last 15 s each time; accuracy as the
 *   receiver said it; second the very one it said just now, for those who collect them or walk by them
 * @param {(trouble: {code: 'denied'|'searching'|'none', message: string}) => any} [onTrouble]
 * @returns {() => void} stops following
 */
export function watchFix(onFix, onTrouble = () => {}) {
  if (!navigator.geolocation) {
    queueMicrotask(() => onTrouble({ code: 'none', message: FIX_TROUBLE.none }));
    return () => {};
  }
  const me = { onFix, onTrouble };
  if (watchers.size === 0) document.addEventListener('visibilitychange', turn);
  watchers.add(me);
  const told = watch?.trouble() ?? null; // whoever comes later must not wait for what was said already
  if (told) queueMicrotask(() => watchers.has(me) && onTrouble(told));
  turn();
  return () => {
    watchers.delete(me);
    if (watchers.size === 0) document.removeEventListener('visibilitychange', turn);
    turn();
  };
}

/** One fix from a receiver that was not followed until now, or null when it takes too long. */
function oneShot() {
  return new Promise((resolve) => {
    navigator.geolocation.getCurrentPosition(
      (position) => resolve(toFix(position)),
      () => resolve(null), // no position is an ordinary answer here: the record is saved without
      { enableHighAccuracy: true, maximumAge: STALE_MS, timeout: ONE_SHOT_MS },
    );
  });
}

/**
 * The fix of this moment, for the shutter or the save.
 * @returns {Promise<object|null>} the best of the last 15 s as in `watchFix`; null when there is none yet
 */
export async function takeFix() {
  if (!navigator.geolocation) return null;
  const best = watch?.best() ?? null;
  if (best) return best;
  // Coming back from the camera the watch has only just begun again; a watch that has long searched in vain has no more.
  if (watch && Date.now() - watch.begun > ONE_SHOT_MS) return null;
  return oneShot();
}

let decoding = Promise.resolve(); // a photo unpacks to some 50 MB: never two at once

async function makeThumb(bytes, type) {
  const bitmap = await createImageBitmap(new Blob([bytes], { type }), { resizeWidth: THUMB_PX, resizeQuality: 'medium', imageOrientation: 'from-image' });
  try {
    const scale = Math.min(1, THUMB_PX / Math.max(bitmap.width, bitmap.height));
    const canvas = document.createElement('canvas');
    canvas.width = Math.max(1, Math.round(bitmap.width * scale));
    canvas.height = Math.max(1, Math.round(bitmap.height * scale));
    canvas.getContext('2d').drawImage(bitmap, 0, 0, canvas.width, canvas.height);
    const blob = await new Promise((resolve) => canvas.toBlob(resolve, 'image/jpeg', THUMB_QUALITY));
    return blob ? await blob.arrayBuffer() : undefined;
  } finally {
    bitmap.close();
  }
}

async function thumbOf(bytes, type) {
  const before = decoding;
  let done;
  decoding = new Promise((resolve) => {
    done = resolve;
  });
  await before;
  try {
    return await makeThumb(bytes, type);
  } catch {
    return undefined; // a kind of picture this phone cannot draw: the original is kept all the same
  } finally {
    done();
  }
}

/**
 * Read a photo at once after it was picked: the phone may take the file back.
 * @param {File} file
 * @returns {Promise<{sha256: string, bytes: ArrayBuffer, type: string, size: number, thumb: ArrayBuffer|undefined,
 *   doubt: string|null}>} thumb: JPEG of at most 320 px, upright; undefined where the phone cannot draw the picture;
 *   doubt: then a sentence to show, for a kind that any phone can draw: the file is kept, but it is likely damaged
 * @throws {Error} with a sentence when the file cannot be read, is empty or is no picture by what is in it
 */
export async function readPhotoFile(file) {
  if (!globalThis.crypto?.subtle) throw new Error('Photos can only be kept by the secure address (https) of home.');
  let bytes;
  try {
    bytes = await file.arrayBuffer();
  } catch (cause) {
    throw new Error('The phone took this photo back before it could be read. Choose it once more.', { cause });
  }
  if (bytes.byteLength === 0) throw new Error('This file is empty.');
  const type = pictureKind(bytes); // what the phone says of a file may be wrong, its bytes are not
  if (type === null) throw new Error(`${file.name ? `“${file.name}”` : 'This file'} is not a picture. Choose a photo, as JPEG, PNG or HEIC.`);
  const digest = new Uint8Array(await crypto.subtle.digest('SHA-256', bytes));
  const sha256 = [...digest].map((byte) => byte.toString(16).padStart(2, '0')).join('');
  const thumb = await thumbOf(bytes, type);
  const doubt = thumb === undefined && DRAWN_BY_ALL.has(type) ? DAMAGED : null;
  return { sha256, bytes, type, size: bytes.byteLength, thumb, doubt };
}

/**
 * Keep the screen on, as far as the phone lets; asked for again when the app comes back into sight.
 * @returns {Promise<() => void>} lets it go dark again
 */
export async function keepAwake() {
  let lock = null;
  let wanted = true;
  const take = async () => {
    if (!wanted || document.visibilityState !== 'visible') return;
    // Refused on a low battery or by an older phone: a comfort that is missing, nothing that was promised.
    lock = (await navigator.wakeLock?.request('screen').catch(() => null)) ?? null;
  };
  document.addEventListener('visibilitychange', take);
  await take();
  return () => {
    wanted = false;
    document.removeEventListener('visibilitychange', take);
    lock?.release();
  };
}
