/** What they show today: one event noted for many trees at once, with a look back at other years. Works with no signal. */

import { todayOn } from '../hill/ground_facts.js';
import { photoBytes, photoChange, pictureUrl, takeShot } from '../hill/shots.js';
import { FROST, groupsFor, notedWords, placesForFrost, readSightings, yearsWords } from '../hill/sightings.js';
import { dropDraft, getDraft, newId, onStoreChange, saveChanges, saveDraft } from '../store.js';
import { chips, dateField, fileField, FormFault, readDraft, readForm } from '../ui/form.js';
import { html, on, render } from '../ui/html.js';
import { icon } from '../ui/icons.js';
import { notice } from '../ui/notice.js';
import { count, EVENTS, showDate } from '../ui/words.js';

const KEY = 'seen';
const PHOTO_KEY = 'seen-photos';
const NOTED_HERE = ['bud_swell', 'bud_break', 'flush_hardened', 'leaf_colour', 'leaf_fall', FROST];
const LABELS = Object.fromEntries(NOTED_HERE.map((kind) => [kind, kind === FROST ? 'first frost' : EVENTS[kind]]));
const sentence = (words) => `${words.charAt(0).toUpperCase()}${words.slice(1)}`;
const OPTIONS = NOTED_HERE.map((value) => ({ value, label: sentence(LABELS[value]) }));
const BACK = { due: 'Due', trees: 'Trees' };

/**
 * Open the screen.
 * @param {Element} root @param {{from?: string}} params from: the place it was opened from, `due` or `trees`
 */
export async function open(root, params = {}) {
  let facts = null;
  let closed = false;
  let busy = false;
  let pictures = []; // addresses of small pictures, let go when they are drawn anew
  let [shot = null] = (await getDraft(PHOTO_KEY)) ?? [];
  const kept = { kind: null, happened_on: null, trees: [], places: [], ...(await getDraft(KEY)) };
  const back = Object.hasOwn(BACK, params.from) ? params.from : 'trees';

  /** Which list is tapped: of trees, or of places where frost is noted. */
  const picked = () => (kept.kind === FROST ? 'places' : 'trees');
  const day = () => kept.happened_on ?? todayOn();
  const groups = () => (kept.kind === FROST ? placesForFrost(facts, day()) : groupsFor(facts, kept.kind, day()));

  function line(row) {
    const noted = notedWords(kept.kind, row);
    return html`<li><label class="toggle"><input type="checkbox" data-pick="${row.id}" ${kept[picked()].includes(row.id) ? html`checked` : ''}><span class="toggle-mark" aria-hidden="true"></span>
      <span><span class="strong">${row.name}</span>${noted && html` <span class="state quiet">${icon('done')}${noted}</span>`}${row.before.length > 0 && html` <span class="muted">${yearsWords(row.before)}</span>`}</span></label></li>`;
  }

  /** The trees of a kind at one place; the head of the kind has the button for all of them where there is no other place. */
  function placePart({ name, words, about, rows }, kind, number, isOnly) {
    return html`<div class="sheet-head"><div class="seen-head">${name && html`<h3>${name}</h3>`}${words && html`<p class="${about ? 'state' : 'muted'}">${about && icon('clock')}${words}</p>`}</div>
      ${rows.length > 1 && !isOnly && html`<button type="button" class="button" data-all="${number}" aria-label="All of ${kind}, ${name}">These ${rows.length}</button>`}</div>
      <ul class="terms">${rows.map(line)}</ul>`;
  }

  function section({ name, places }, number) {
    const some = places.reduce((sum, { rows }) => sum + rows.length, 0);
    return html`<section class="sheet seen-kind"><div class="sheet-head"><h2>${sentence(name)}</h2>
      ${some > 1 && html`<button type="button" class="button" data-all="${number}" aria-label="All of ${name}">All ${some}</button>`}</div>
      ${places.map((place, at) => placePart(place, name, `${number}.${at}`, places.length === 1))}</section>`;
  }

  function listPart() {
    if (kept.kind === null) return html`<p class="muted">Choose what they show; then tap the trees that show it.</p>`;
    return html`${groups().map(section)}${photoPart()}`;
  }

  /** A photo goes with one tree: of many it would show one and be told of all. */
  function photoPart() {
    pictures.forEach((url) => URL.revokeObjectURL(url));
    pictures = shot?.thumb ? [pictureUrl(shot.thumb)] : [];
    if (shot) return html`<div class="photos" data-shot><figure>${pictures.length > 0 ? html`<img src="${pictures[0]}" alt="The photo for this tree">` : icon('photo')}
      <figcaption>for one tree <button type="button" class="button quiet" data-drop aria-label="Take the photo out">${icon('close')}</button></figcaption></figure></div>`;
    return kept.kind !== FROST && kept.trees.length === 1 && fileField({ name: 'photo', label: 'Take photo', capture: true });
  }

  const saveWords = () => {
    const some = kept[picked()].length;
    if (kept.kind === FROST) return some === 0 ? 'Tap the place first' : `Note it for ${count(some, 'place', 'places')}`;
    return some === 0 ? 'Tap the trees first' : `Note it for ${count(some, 'tree', 'trees')}`;
  };

  function draw() {
    const isEmpty = facts.rows.length === 0 && facts.gardens.length === 0;
    render(root, html`<div class="page"><div class="page-head"><a class="back" href="#/${back}">${icon('back')}${BACK[back]}</a><h1>What do they show?</h1><p class="under">What is due moves with what the trees themselves show.</p></div>
      ${isEmpty ? html`<div class="empty">${icon('trees')}<p>No tree is kept here yet.</p></div>` : html`<form novalidate id="seen">
        ${chips({ name: 'kind', label: 'Seen', options: OPTIONS, value: kept.kind, required: true })}
        ${dateField({ name: 'happened_on', label: 'On', value: kept.happened_on, hint: 'left empty: today', today: true, past: true })}
        <div class="stack" data-list>${listPart()}</div>
        <div class="actions stuck"><button type="submit" class="button primary hill">${icon('leafbud')}<span data-save-words>${saveWords()}</span></button></div></form>`}</div>`);
  }

  function drawList() {
    render(root.querySelector('[data-list]'), listPart());
    root.querySelector('[data-save-words]').textContent = saveWords();
  }

  const redrawList = () => {
    drawList();
    return saveDraft(KEY, kept);
  };

  /** The photo's button comes and goes with the number of trees; the rows stay as they are under the finger. */
  function pick(id, isOn) {
    const name = picked();
    kept[name] = isOn ? [...new Set([...kept[name], id])] : kept[name].filter((one) => one !== id);
    const field = root.querySelector('[data-list] > label.file, [data-list] > [data-shot]');
    const part = document.createElement('div');
    render(part, html`${photoPart()}`);
    field?.remove();
    root.querySelector('[data-list]').append(...part.childNodes);
    root.querySelector('[data-save-words]').textContent = saveWords();
    return saveDraft(KEY, kept);
  }

  /** One tap for a whole kind, or for its trees at one place: those not noted yet this season; where all are, all of them. */
  function pickAll(number) {
    const [kind, place] = number.split('.').map(Number);
    const { places } = groups()[kind];
    const rows = (place === undefined ? places : [places[place]]).flatMap((one) => one.rows);
    const fresh = rows.filter(({ noted }) => noted.length === 0);
    const ids = (fresh.length > 0 ? fresh : rows).map(({ id }) => id);
    const name = picked();
    const all = ids.every((id) => kept[name].includes(id));
    kept[name] = all ? kept[name].filter((id) => !ids.includes(id)) : [...new Set([...kept[name], ...ids])];
    return redrawList();
  }

  async function keepShot(next) {
    shot = next;
    await (shot ? saveDraft(PHOTO_KEY, [shot]) : dropDraft(PHOTO_KEY));
    if (!closed) await redrawList();
  }

  async function takePhoto(input) {
    const [file] = input.files;
    if (!file) return;
    try {
      await keepShot({ ...(await takeShot(file, null)), taken_at: new Date().toISOString() });
    } catch (fault) {
      notice(fault.message, { kind: 'trouble' });
    }
  }

  /** The changes of one save: an event each, and the photo of the one tree. */
  function changesOf(kind, seenOn) {
    const places = new Map(facts.rows.map((row) => [row.id, row.place]));
    const events = kept[picked()].map((id) => ({ rec: newId(), type: 'event', set: { ...(kind === FROST ? { site: id } : { tree: id, site: places.get(id) ?? null }), kind, happened_on: seenOn } }));
    if (!shot || kind === FROST) return events;
    const { type, set } = photoChange(shot, { tree: kept.trees[0] });
    return [...events, { rec: newId(), type, set: { ...set, event: events[0].rec } }];
  }

  async function save(form) {
    try {
      const { kind, happened_on: read } = readForm(form);
      const some = kept[picked()].length;
      if (some === 0) {
        notice(kind === FROST ? 'Tap the place where it froze first.' : 'Tap the trees that show it first.', { kind: 'plain' });
        return;
      }
      if (shot && kind !== FROST && some > 1) {
        notice('The photo goes with one tree. Leave only that one tapped, or take the photo out.', { kind: 'plain' });
        return;
      }
      const seenOn = read ?? todayOn();
      const changes = changesOf(kind, seenOn);
      const photos = changes.at(-1).type === 'photo' ? [photoBytes(shot)] : [];
      await saveChanges(changes, { photos });
      notice(`${kind === FROST ? count(some, 'place', 'places') : count(some, 'tree', 'trees')}: ${LABELS[kind]}, ${showDate(seenOn)}${photos.length > 0 ? ', with its photo' : ''}. Saved on this phone.`, {
        undo: () => saveChanges(changes.map(({ rec, type }) => ({ rec, type, set: { deleted: true } }))),
      });
      kept[picked()] = [];
      await dropDraft(KEY);
      if (photos.length > 0) {
        shot = null;
        await dropDraft(PHOTO_KEY);
      }
      facts = await readSightings();
      if (!closed) draw();
    } catch (fault) {
      if (!(fault instanceof FormFault)) notice(`Not saved: ${fault.message}`, { kind: 'trouble' });
    }
  }

  facts = await readSightings();
  kept.trees = kept.trees.filter((id) => facts.rows.some((row) => row.id === id));
  kept.places = kept.places.filter((id) => facts.places.has(id));
  draw();
  const stops = [
    on(root, 'change', '[data-pick]', (ev, box) => pick(box.dataset.pick, box.checked)),
    on(root, 'click', '[data-all]', (ev, button) => pickAll(button.dataset.all)),
    on(root, 'click', '[data-drop]', () => keepShot(null)),
    on(root, 'change', '[name="photo"]', (ev, input) => takePhoto(input)),
    on(root, 'change', '[name="kind"], [name="happened_on"]', () => {
      const { kind, happened_on: seenOn } = readDraft(root.querySelector('#seen'));
      Object.assign(kept, { kind, happened_on: seenOn });
      return redrawList();
    }),
    on(root, 'submit', '#seen', async (ev, form) => {
      ev.preventDefault();
      if (busy) return; // a second tap meanwhile was meant for the first
      busy = true;
      await save(form);
      busy = false;
    }),
    onStoreChange(async ({ types, pack }) => {
      if (busy || (!pack && !types.some((type) => ['tree', 'event', 'site', 'garden', 'lift'].includes(type)))) return;
      facts = await readSightings();
      // Nothing was tapped here: another window's taps are not written over.
      if (!closed && root.querySelector('[data-list]')) drawList();
    }),
  ];
  return () => {
    closed = true;
    pictures.forEach((url) => URL.revokeObjectURL(url));
    for (const stop of stops) stop();
  };
}
