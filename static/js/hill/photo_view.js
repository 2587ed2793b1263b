/** One photo seen large, with its day and place; moved to another tree, taken off its tree, or deleted. Works with no signal. */

import { askAboutPhoto, getOwnBytes, getPhoto, getThumb, keepOfHome, saveChange } from '../store.js';
import { holdBack } from '../ui/back_step.js';
import { html, on, render } from '../ui/html.js';
import { icon } from '../ui/icons.js';
import { notice } from '../ui/notice.js';
import { showDistance, showInstant, showSize } from '../ui/words.js';
import { metresBetween } from './ground_facts.js';
import { pickTree } from './pick_tree.js';
import { pictureUrl } from './shots.js';

const CLOCKS = {
  gps: 'by satellite time', offset: 'by the camera’s clock and its own zone', zone: 'by the camera’s clock', phone: 'by the phone’s clock',
};
const PLACINGS = {
  fix_at_capture: 'Where the phone was when it was taken', exif: 'By the position in the photo itself', track: 'From the recorded walk, by its time', hand: 'Set by hand',
};
const NOT_KEPT = 'This is the full picture. There is no room to keep it on this phone.';
const LOST = 'The full picture did not come through. Try again in a moment. ';
const SLOWEST_PER_MS = 10; // bytes: a full picture is waited for on a line as thin as that
const SHORTEST_WAIT_MS = 30_000;
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
 * Put the largest picture there is into its frame: the original kept here, else the small one at once and then home's.
 * @param {{sha256: string, media_type: string|null}} fields
 * @param {(what: {url: string|null, text: string|null, lacking?: boolean, offer?: number}) => boolean} show gives false when
 *   nobody looks any more; lacking: home may have a larger one, and is to be asked again; offer: bytes of home's full picture,
 *   which is fetched when a person says so
 * @param {string[]} urls every address made is added, to be let go later
 * @param {{offers?: boolean}} [options] offers: home's is offered, not fetched by itself: on a thin line it takes long
 */
export async function bringPicture(fields, show, urls, { offers = false } = {}) {
  const { sha256 } = fields;
  const address = (bytes, type) => {
    urls.push(pictureUrl(bytes, type));
    return urls.at(-1);
  };
  const small = async () => {
    const got = await getThumb(sha256);
    return got && address(got.bytes, got.type);
  };
  const whole = async (bytes, type) => {
    const url = address(bytes, type);
    const image = new Image();
    image.src = url;
    try {
      await image.decode();
      return show({ url, text: null });
    } catch {
      // Kinds of picture that this browser cannot draw are kept all the same.
      const instead = await small();
      return show({ url: instead, text: instead ? 'This kind of picture cannot be drawn here: this is the small one. The photo itself is kept whole.' : 'This kind of picture cannot be drawn here. The photo itself is kept whole.' });
    }
  };
  const own = await getOwnBytes(sha256);
  if (own) return whole(own, fields.media_type ?? 'image/jpeg');
  const url = await small();
  const here = url ? 'Only the small picture is on this phone' : 'This photo is not on this phone';
  if (!show({ url, text: `${here}. Asking home for ${url ? 'the large one' : 'it'}.` })) return false;
  const away = () => show({ url, lacking: true, text: `${here}, and home is not in reach.` });
  if (offers) {
    const there = await askAboutPhoto(sha256);
    if (there === null) return away();
    if (there.size === null) return show({ url, lacking: true, text: `${here}. Home gets the full one from the phone that took it, and has not got it yet.` });
    return show({ url, offer: there.size, text: `${here}.` });
  }
  const got = await getPhoto(sha256);
  return got ? whole(got.bytes, got.type) : away();
}

/** Fetch the full picture that home offered, and keep it. @returns {Promise<{bytes: ArrayBuffer, type: string, kept: boolean}|null>} */
async function fetchFull(sha256, size) {
  const got = await getPhoto(sha256, Math.max(SHORTEST_WAIT_MS, size / SLOWEST_PER_MS));
  return got && { ...got, kept: await keepOfHome({ sha256, ...got }) };
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
  let offered = 0; // bytes of the full picture that home has

  function draw() {
    const record = photos[at];
    const { fields } = record;
    const loose = (fields.tree ?? null) === null;
    const troubles = Array.isArray(fields.trouble) ? fields.trouble.map((one) => one?.text).filter(Boolean) : [];
    render(box, html`<div class="sheet-head"><h2 id="photo-view-title" tabindex="-1">Photo ${at + 1} of ${photos.length}</h2>
        <button type="button" class="button quiet" data-close>${icon('close')}Close</button></div>
      <div class="photo-frame" data-frame>${icon('photo')}</div>
      <p class="muted" role="status" data-picture-says></p>
      <button type="button" class="button hill" data-fetch hidden></button>
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

  /** Bring the picture, or once more where home was not reached. @param {string} [before] what is said before an offer */
  function look(fields, before = '') {
    looking += 1;
    const mine = looking;
    const show = ({ url, text, lacking = false, offer = 0 }) => {
      if (mine !== looking) return false;
      offered = offer;
      const fetcher = box.querySelector('[data-fetch]');
      fetcher.hidden = offer === 0;
      render(fetcher, html`${icon('down')}Fetch the full picture (${showSize(offer)})`);
      box.querySelector('[data-ask-home]').hidden = !lacking;
      render(box.querySelector('[data-frame]'), url ? html`<img src="${url}" alt="${photoName(fields)}">` : html`${icon('photo')}`);
      box.querySelector('[data-picture-says]').textContent = `${offer > 0 ? before : ''}${text ?? ''}`;
      return true;
    };
    bringPicture(fields, show, urls, { offers: true }).catch((fault) => show({ url: null, text: `It cannot be shown: ${fault.message}` }));
  }

  return new Promise((resolve) => {
    let release = null;
    const finish = (answer) => {
      looking += 1;
      globalThis.removeEventListener('online', askHome);
      box.close();
      box.remove();
      urls.forEach((url) => URL.revokeObjectURL(url));
      release().then(() => resolve(answer));
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
    on(box, 'click', '[data-fetch]', async (ev, button) => {
      const { fields } = photos[at];
      const mine = looking;
      const says = box.querySelector('[data-picture-says]');
      button.disabled = true;
      says.textContent = `The full picture is on its way (${showSize(offered)}). It is kept on this phone then.`;
      const got = await fetchFull(fields.sha256, offered);
      if (mine !== looking) return; // another photo is looked at; what came is kept all the same
      if (got && !got.kept) {
        urls.push(pictureUrl(got.bytes, got.type));
        render(box.querySelector('[data-frame]'), html`<img src="${urls.at(-1)}" alt="${photoName(fields)}">`);
        says.textContent = NOT_KEPT;
        button.hidden = true;
        return;
      }
      button.disabled = false;
      look(fields, got ? '' : LOST);
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
    release = holdBack(() => finish(at));
    box.querySelector('#photo-view-title').focus();
  });
}
