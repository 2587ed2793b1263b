/** One photo seen large, with its day and place; moved to another tree, taken off its tree, or deleted. Works with no signal. */

import { getOwnBytes, getPhoto, getThumb, keepOfHome, saveChange } from '../store.js';
import { html, on, render } from '../ui/html.js';
import { icon } from '../ui/icons.js';
import { notice } from '../ui/notice.js';
import { showDistance, showInstant } from '../ui/words.js';
import { metresBetween } from './ground_facts.js';
import { pickTree } from './pick_tree.js';
import { pictureUrl } from './shots.js';

const CLOCKS = {
  gps: 'by satellite time', offset: 'by the camera’s clock and its own zone', zone: 'by the camera’s clock', phone: 'by the phone’s clock',
};
const PLACINGS = {
  fix_at_capture: 'Where the phone was when it was taken', exif: 'By the position in the photo itself', track: 'From the recorded walk, by its time', hand: 'Set by hand',
};
const FETCHED = 'The full picture came from home; it is not kept on this phone.';
const known = (value) => value !== null && value !== undefined;

/** When it was taken, and by which clock. @param {object} fields of a photo record */
export function takenWords(fields) {
  if (!fields.taken_at) return 'not known';
  return `${showInstant(fields.taken_at)}${CLOCKS[fields.taken_at_from] ? `, ${CLOCKS[fields.taken_at_from]}` : ''}`;
}

/**
 * How it was placed, how surely, and how far that is from its tree.
 * @param {object} fields of a photo record
 * @param {{lat: number, lon: number}|null} stands where the tree stands
 */
export function placedWords(fields, stands) {
  if (!known(fields.lat) || !known(fields.lon)) return 'Not known: the photo has no position.';
  const sure = known(fields.accuracy_m) ? `± ${Math.max(1, Math.round(fields.accuracy_m))} m` : 'how surely is not known';
  const off = stands ? `, ${showDistance(metresBetween(fields, stands))} from where the tree stands` : '';
  return `${PLACINGS[fields.placed_by] ?? 'How is not noted'}, ${sure}${off}.`;
}

/** What it is called aloud. */
export const photoName = (fields) => (fields.taken_at ? `Photo of ${showInstant(fields.taken_at)}` : 'Photo of a day not known');

/**
 * Put the largest picture there is into its frame: the original kept here, else the small one at once and home's after it.
 * @param {{sha256: string, media_type: string|null}} fields
 * @param {(what: {url: string|null, text: string|null, lacking?: boolean, fetched?: {bytes: ArrayBuffer, type: string}}) => boolean}
 *   show gives false when nobody looks any more; lacking: home has a larger one, but was not reached; fetched: what home gave,
 *   which is not kept here
 * @param {string[]} urls every address made is added, to be let go later
 */
export async function bringPicture(fields, show, urls) {
  const { sha256 } = fields;
  const address = (bytes, type) => {
    urls.push(pictureUrl(bytes, type));
    return urls.at(-1);
  };
  const small = async () => {
    const got = await getThumb(sha256);
    return got && address(got.bytes, got.type);
  };
  const whole = async (bytes, type, fetched = undefined) => {
    const url = address(bytes, type);
    const image = new Image();
    image.src = url;
    try {
      await image.decode();
      return show({ url, text: null, fetched });
    } catch {
      // Kinds of picture that this browser cannot draw are kept all the same.
      const instead = await small();
      return show({ url: instead, text: instead ? 'This kind of picture cannot be drawn here: this is the small one. The photo itself is kept whole.' : 'This kind of picture cannot be drawn here. The photo itself is kept whole.' });
    }
  };
  const own = await getOwnBytes(sha256);
  if (own) return whole(own, fields.media_type ?? 'image/jpeg');
  const url = await small();
  if (!show({ url, text: url ? 'Only the small picture is on this phone. Asking home for the large one.' : 'This photo is not on this phone. Asking home for it.' })) return false;
  const got = await getPhoto(sha256);
  if (got) return whole(got.bytes, got.type, got);
  return show({ url, lacking: true, text: url ? 'Only the small picture is on this phone, and home is not in reach.' : 'This photo is not on this phone, and home is not in reach.' });
}

/** Save one change of a photo and offer to take it back. */
async function change(record, set, words) {
  const before = Object.fromEntries(Object.keys(set).map((name) => [name, name === 'deleted' ? false : (record.fields[name] ?? null)]));
  await saveChange({ rec: record.id, type: 'photo', set, seen: record });
  notice(words, { undoWords: set.deleted ? 'Undo the removal' : 'Undo', undo: () => saveChange({ rec: record.id, type: 'photo', set: before }) });
}

/**
 * Open the photos of a tree, or those without one, at one of them.
 * @param {object[]} photos merged photo records in the order of the page
 * @param {number} first which of them
 * @param {{tree: {id: string, name: string, site: string|null}, stands: object|null,
 *   others: {id: string, tag: string, name: string, words: string, site: string|null}[], mayChange?: (record: object) => boolean}} page
 *   tree: whose page this is; stands: its position; others: the trees a photo can be moved to; mayChange: whether this phone may do
 *   anything with a photo
 * @returns {Promise<number|null>} which was looked at last when it was closed; null when something was done with it
 */
export function viewPhotos(photos, first, { tree, stands, others, mayChange = () => true }) {
  const box = document.createElement('dialog');
  box.className = 'dialog photo-view';
  box.setAttribute('aria-labelledby', 'photo-view-title');
  document.body.append(box);
  const urls = [];
  let at = first;
  let looking = 0;
  let atHand = null; // a full picture that home gave and that is not kept here

  function draw() {
    const record = photos[at];
    const { fields } = record;
    const loose = (fields.tree ?? null) === null;
    const troubles = Array.isArray(fields.trouble) ? fields.trouble.map((one) => one?.text).filter(Boolean) : [];
    render(box, html`<div class="sheet-head"><h2 id="photo-view-title" tabindex="-1">Photo ${at + 1} of ${photos.length}</h2>
        <button type="button" class="button quiet" data-close>${icon('close')}Close</button></div>
      <div class="photo-frame" data-frame>${icon('photo')}</div>
      <p class="muted" role="status" data-picture-says></p>
      <button type="button" class="button" data-keep-here hidden>${icon('down')}Keep it here</button>
      <button type="button" class="button" data-ask-home hidden>${icon('sync')}Ask home again</button>
      ${photos.length > 1 && html`<div class="pick-row"><button type="button" class="button hill" id="photo-back" data-turn="-1" ${at === 0 ? html`disabled` : ''}>${icon('back')}Newer</button>
        <button type="button" class="button hill" id="photo-on" data-turn="1" ${at === photos.length - 1 ? html`disabled` : ''}>Older${icon('forward')}</button></div>`}
      <dl class="facts"><dt>Taken</dt><dd>${takenWords(fields)}</dd><dt>Place</dt><dd>${placedWords(fields, loose ? null : stands)}</dd></dl>
      ${troubles.map((text) => html`<p class="state ask">${icon('ask')}${text}</p>`)}
      ${fields.note && html`<p class="note">${fields.note}</p>`}
      ${mayChange(record) && html`<div class="pick-row">
        ${loose && html`<button type="button" class="button primary" data-put-here>${icon('trees')}Put it with ${tree.name}</button>`}
        <button type="button" class="button" data-move>${icon('trees')}${loose ? 'Put it with another tree' : 'Move to another tree'}</button>
        ${!loose && html`<button type="button" class="button" data-off>${icon('close')}Take it off this tree</button>`}
        <button type="button" class="button rust" data-delete>${icon('bin')}Delete</button>
      </div>`}`);
    look(fields);
  }

  /** Bring the picture, or once more where home was not reached. */
  function look(fields) {
    looking += 1;
    const mine = looking;
    const show = ({ url, text, lacking = false, fetched = null }) => {
      if (mine !== looking) return false;
      atHand = fetched;
      box.querySelector('[data-keep-here]').hidden = fetched === null;
      box.querySelector('[data-ask-home]').hidden = !lacking;
      render(box.querySelector('[data-frame]'), url ? html`<img src="${url}" alt="${photoName(fields)}">` : html`${icon('photo')}`);
      box.querySelector('[data-picture-says]').textContent = text ?? (fetched ? FETCHED : '');
      return true;
    };
    bringPicture(fields, show, urls).catch((fault) => show({ url: null, text: `It cannot be shown: ${fault.message}` }));
  }

  return new Promise((resolve) => {
    const finish = (answer) => {
      looking += 1;
      globalThis.removeEventListener('online', askHome);
      box.close();
      box.remove();
      urls.forEach((url) => URL.revokeObjectURL(url));
      resolve(answer);
    };
    const turn = (by) => {
      if (!photos[at + by]) return;
      at += by;
      draw();
      if (box.contains(document.activeElement) && document.activeElement !== box && !document.activeElement.disabled) return;
      box.querySelector('#photo-view-title').focus(); // the end is reached, and its button takes no focus
    };
    /** Do it, then close; what could not be saved leaves the photo open. */
    const act = (work) => async () => {
      try {
        if (await work(photos[at])) finish(null);
      } catch (fault) {
        box.querySelector('[data-picture-says]').textContent = `Not saved: ${fault.message}`;
      }
    };
    const put = async (record, { id, name, site }) => {
      // Its site follows the tree, unless it was said to be of another.
      const follows = (record.fields.site ?? null) === null || record.fields.site === tree.site;
      await change(record, { tree: id, ...(follows ? { site } : {}) }, `The photo is with ${name} now.`);
      return true;
    };
    const askHome = () => {
      if (!box.querySelector('[data-ask-home]').hidden) look(photos[at].fields);
    };
    globalThis.addEventListener('online', askHome);
    box.addEventListener('cancel', (ev) => {
      ev.preventDefault();
      finish(at);
    });
    box.addEventListener('keydown', (ev) => {
      if (ev.key === 'ArrowLeft') turn(-1);
      if (ev.key === 'ArrowRight') turn(1);
    });
    on(box, 'click', '[data-close]', () => finish(at));
    on(box, 'click', '[data-ask-home]', askHome);
    on(box, 'click', '[data-keep-here]', async (ev, button) => {
      const kept = await keepOfHome({ sha256: photos[at].fields.sha256, ...atHand });
      button.hidden = kept;
      box.querySelector('[data-picture-says]').textContent = kept ? 'The full picture is kept on this phone now.' : 'There is no room for it on this phone.';
    });
    on(box, 'click', '[data-turn]', (ev, el) => turn(Number(el.dataset.turn)));
    on(box, 'click', '[data-put-here]', act((record) => put(record, tree)));
    on(box, 'click', '[data-move]', act(async (record) => {
      const to = await pickTree({ title: 'Which tree does it show?', trees: others });
      return to ? put(record, others.find((one) => one.id === to)) : false;
    }));
    on(box, 'click', '[data-off]', act(async (record) => {
      await change(record, { tree: null }, `The photo is off ${tree.name}. It waits among those without a tree.`);
      return true;
    }));
    on(box, 'click', '[data-delete]', act(async (record) => {
      await change(record, { deleted: true }, 'The photo is deleted.');
      return true;
    }));
    draw();
    box.showModal();
    box.querySelector('#photo-view-title').focus();
  });
}
