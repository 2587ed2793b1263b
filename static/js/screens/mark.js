/** Mark: a tree, where it stands, and what it looks like. Three taps to a first save; nothing here waits for anything. */

import { fixTroubleCode } from '../core/fix_trouble.js';
import { watchFix } from '../device.js';
import { fixFields, kindsOfLeaves, listSites, proposeTag, recentKinds, siteAt, siteOfLastMark, takenTags, todayOn, visitChange } from '../hill/ground_facts.js';
import { LatestFix, photoBytes, photoChange, pictureUrl, sayIfUnseen, takeShot } from '../hill/shots.js';
import { deviceId, dropDraft, getDraft, getPack, listRecords, newId, saveChanges, saveDraft } from '../store.js';
import { fileField, FormFault, readDraft, readForm, showFault } from '../ui/form.js';
import { html, on, render } from '../ui/html.js';
import { icon } from '../ui/icons.js';
import { notice } from '../ui/notice.js';
import { livePosition } from '../ui/position.js';
import { faultOfTree, followKind, kindField, measureFields, sayTakenTag, siteField, treeOfForm } from '../ui/tree_form.js';
import { cardWords, sureWords, treeTitle } from '../ui/tree_sheets.js';
import { sayHere, showDistance, speciesName } from '../ui/words.js';

const DRAFT = 'mark';
const DRAFT_PHOTOS = 'mark-photos'; // apart, so that a keystroke does not write the pictures again
const FROM_MAY_I = 'mark-from-may-i'; // what was asked there, when Mark was opened from it
const FROM_MAY_I_MS = 60 * 60_000; // an hour later one stands at another tree
const NO_SITE = 'none';
const WITHOUT_POSITION = {
  denied: 'Position is switched off for Fellside, so none is kept. Allow it in the phone’s settings; then take it on the tree’s own page.',
  none: 'No position can be had in this window, so none is kept. It can be given on the tree’s own page.',
  searching: 'No position was found yet: take it on the tree’s own page.',
};

const isEmpty = (values, shots) => shots.length === 0 && Object.values(values).every((value) => value === null || value === false || value === '');

/** Whether a tree is kept that nobody could tell from another: no position, no photo, and no word of what it is. */
const isBare = ({ changes, fix, photos }) => !fix && photos === 0
  && ['species', 'girth_mm', 'height_mm', 'condition', 'note'].every((name) => (changes[0].set[name] ?? null) === null);

/** What May I? was asked about just before; taken once, and only into a form that holds nothing yet. */
async function takeFromMayI(values, shots) {
  const asked = await getDraft(FROM_MAY_I);
  if (!asked) return values;
  const young = Math.abs(Date.now() - new Date(asked.at).getTime()) < FROM_MAY_I_MS;
  const taken = young && isEmpty(values, shots) ? { ...values, species: asked.species ?? null, girth_cm: asked.girth_cm ?? null } : values;
  if (taken !== values) await saveDraft(DRAFT, taken); // first kept here, then let go there
  await dropDraft(FROM_MAY_I);
  return taken;
}

/**
 * Open the screen.
 * @param {Element} root
 * @returns {Promise<() => void>} close
 */
export async function open(root) {
  const [sites, pack, device, leaves, draft, draftPhotos] = await Promise.all([
    listSites(), getPack(), deviceId(), listRecords('leave'), getDraft(DRAFT), getDraft(DRAFT_PHOTOS),
  ]);
  const stops = [];
  const urls = [];
  const siteWords = new Map(sites.map((site) => [site.id, site.fields.name ?? 'unnamed site']));
  let [trees, visits] = [[], []];
  let shots = draftPhotos ?? [];
  let values = await takeFromMayI(draft ?? {}, shots);
  const latest = new LatestFix();
  let trouble = null;
  let tagByHand = Boolean(values.tag_by_hand);
  let kindTouched = false; // chips do not change places once a finger was among them
  let saved = null;
  let live = null;

  async function readKnown() {
    [trees, visits] = await Promise.all([listRecords('tree'), listRecords('visit')]);
  }

  const found = () => siteAt(sites, latest.fix, siteOfLastMark({ visits, trees, on: todayOn(), device }));

  const siteNow = () => {
    if (values.site === NO_SITE) return null;
    if (values.site) return sites.find((site) => site.id === values.site) ?? null;
    return found().site;
  };

  function siteLine() {
    if (values.site === NO_SITE) return 'On no site';
    if (values.site) return `On ${siteNow()?.fields.name ?? 'a site'}, chosen by you`;
    const at = found();
    if (at.site) return `On ${at.site.fields.name}${at.by === 'visit' ? ', as last marked today' : ''}`;
    if (at.near) return `On no site: ${at.near.site.fields.name} is ${showDistance(at.near.distance_m)} away`;
    return sites.length === 0 ? 'No site is kept on this phone yet' : latest.fix ? 'On no site kept here' : 'Site: known once the position is';
  }

  function photoStrip() {
    return html`${shots.map((shot, i) => {
      const url = shot.thumb ? pictureUrl(shot.thumb) : null;
      if (url) urls.push(url);
      return html`<figure>${url ? html`<img src="${url}" alt="Photo ${i + 1}">` : icon('photo')}
        <figcaption>${shot.fix ? sureWords(shot.fix.accuracy_m) : 'no position'}
          <button type="button" class="button quiet" data-drop-photo="${i}" aria-label="Take photo ${i + 1} out">${icon('close')}</button></figcaption></figure>`;
    })}`;
  }

  function kinds(site) {
    return kindField({
      value: values.species ?? null, typed: values.species_typed ?? null, nameOf: (kind) => speciesName(pack, kind),
      kinds: recentKinds(trees, site?.id ?? null, pack, kindsOfLeaves(leaves, site?.id ?? null, todayOn())),
    });
  }

  function drawForm() {
    const site = siteNow();
    kindTouched = false;
    render(root, html`<div class="page mark">
      <div class="page-head"><h1 tabindex="-1">Mark a tree</h1><p class="under" data-site-line>${siteLine()}</p></div>
      <div data-position></div>
      <form novalidate id="mark-form">
        <div class="photos" data-photos>${photoStrip()}</div>
        <div class="stack" data-kinds="${site?.id ?? ''}">${kinds(site)}</div>
        ${measureFields({ ...values, tag: values.tag ?? proposeTag(trees, site) })}
        ${siteField({ value: values.site ?? null, sites: [...siteWords], first: 'by position', last: [NO_SITE, 'no site here'] })}
        ${!isEmpty(values, shots) && html`<button type="button" class="button quiet" data-afresh>Put this draft away and start afresh</button>`}
        <div class="actions stuck">
          ${fileField({ name: 'photo', label: 'Take photo', capture: true, kind: 'hill' })}
          <button type="submit" class="button primary hill">${icon('mark')}Save tree</button>
        </div>
      </form></div>`);
    live = livePosition(root.querySelector('[data-position]'));
    live.show(latest.fix, trouble);
  }

  function drawPhotos() {
    render(root.querySelector('[data-photos]'), photoStrip());
  }

  /** What follows the position: the site's name, the kinds of its leaves, and the tag until it was typed by hand. */
  function follow() {
    if (saved) return;
    const place = root.querySelector('[data-kinds]');
    const site = siteNow();
    if (place && !kindTouched && place.dataset.kinds !== (site?.id ?? '') && !place.contains(document.activeElement)) {
      place.dataset.kinds = site?.id ?? '';
      render(place, kinds(site));
    }
    live?.show(latest.fix, trouble);
    const line = root.querySelector('[data-site-line]');
    if (line && line.textContent !== siteLine()) line.textContent = siteLine();
    const tag = root.querySelector('[name="tag"]');
    if (tag && !tagByHand && document.activeElement !== tag) tag.value = proposeTag(trees, site);
  }

  async function keepDraft(ev) {
    const form = root.querySelector('#mark-form');
    if (!form || ev?.target.type === 'file') return;
    if (ev) followKind(ev);
    if (ev?.target.name === 'tag') tagByHand = ev.target.value.trim() !== '';
    values = { ...readDraft(form), tag_by_hand: tagByHand };
    if (!tagByHand) values.tag = null;
    await saveDraft(DRAFT, values);
  }

  async function takeOut(shot) {
    if (!shots.includes(shot)) throw new Error('it is saved, or taken out already.');
    await keepShots(shots.filter((one) => one !== shot));
  }

  async function takePhoto(ev, input) {
    const [file] = input.files;
    if (!file) return;
    try {
      const shot = await takeShot(file, latest);
      shots = [...shots, shot];
      drawPhotos();
      await saveDraft(DRAFT_PHOTOS, shots);
      sayIfUnseen(root.querySelector('[data-photos]'), shots.length, () => takeOut(shot));
    } catch (fault) {
      notice(fault.message, { kind: 'trouble' });
    } finally {
      input.value = ''; // so that the same photo may be taken again
    }
  }

  /** The changes of one marked tree, all of which go in together or not at all. */
  async function changesToSave(read) {
    const site = siteNow();
    const on = todayOn();
    const treeId = newId();
    const visit = visitChange(visits, site, on);
    const here = (await latest.now()) ?? shots.find((shot) => shot.fix)?.fix ?? null;
    const changes = [
      { rec: treeId, type: 'tree', set: { ...treeOfForm(read, pack?.species ?? []), site: site?.id ?? null, origin: 'lifted', marked_on: on } },
    ];
    if (visit.change) changes.push(visit.change);
    if (here) changes.push({ rec: newId(), type: 'fix', set: fixFields(here, treeId, visit.id) });
    for (const shot of shots) changes.push({ rec: newId(), ...photoChange(shot, { tree: treeId, site: site?.id ?? null, visit: visit.id }) });
    return { treeId, changes, visit, fix: here };
  }

  /** Read the form against what is kept now: another phone's trees may have come meanwhile. */
  async function readMark(form) {
    const read = readForm(form);
    await readKnown();
    const others = takenTags({ trees, pack, sites: siteWords });
    const fault = faultOfTree(read, others);
    if (fault?.field === 'tag' && !tagByHand) return { ...read, tag: proposeTag(trees, siteNow()) };
    if (fault) {
      form.querySelector(`[name="${fault.field}"]`).closest('details')?.setAttribute('open', '');
      showFault(form, fault.field, fault.sentence);
      throw new FormFault(fault.field, fault.sentence);
    }
    return read;
  }

  async function save(ev, form) {
    ev.preventDefault();
    const button = form.querySelector('[type="submit"]');
    if (button.disabled) return; // it is being saved already
    button.disabled = true;
    try {
      const read = await readMark(form);
      const made = await changesToSave(read);
      const { photos_refused: refused } = await saveChanges(made.changes, { photos: shots.map(photoBytes) });
      const recs = made.changes.map((change) => ({ rec: change.rec, type: change.type }));
      saved = { ...made, recs, tag: read.tag, species: made.changes[0].set.species, photos: shots.length - refused.length, refused, without: made.fix ? null : fixTroubleCode(trouble), values: { ...values, ...readDraft(form) }, shots };
      await Promise.all([dropDraft(DRAFT), dropDraft(DRAFT_PHOTOS)]);
      values = {};
      shots = [];
      tagByHand = false;
      drawSaved();
    } catch (fault) {
      button.disabled = false;
      if (!(fault instanceof FormFault)) notice(`Not saved: ${fault.message}`, { kind: 'trouble' });
    }
  }

  function drawSaved() {
    const { tag, fix: at } = saved;
    render(root, html`<div class="page mark done-page">
      <div class="page-head"><h1 tabindex="-1" data-saved>Saved on this phone</h1><p class="under">${siteLineOf(saved)}</p></div>
      <div class="sheet">
        <p class="strong">${treeTitle(tag, saved.species ? speciesName(pack, saved.species) : 'Kind not noted')}</p>
        ${isBare(saved) && html`<p class="state ask" data-bare>${icon('ask')}${tag ? 'Nothing is noted of this tree but its tag.' : 'Nothing is noted of this tree.'}</p>`}
        <p>${at ? `Its position is kept, ${sureWords(at.accuracy_m)}.` : sayHere(WITHOUT_POSITION[saved.without])}
          ${saved.photos > 0 && ` ${saved.photos} ${saved.photos === 1 ? 'photo' : 'photos'}.`}</p>
        ${saved.species && cardWords(pack, saved.species) && html`<p class="muted" data-card>${cardWords(pack, saved.species)}</p>`}
        ${saved.refused.map((one) => html`<p class="fault">${one.text}</p>`)}
        <p>${isBare(saved) ? html`<a href="#/tree/${saved.treeId}?change=1">Note what it is</a>` : html`<a href="#/tree/${saved.treeId}">Open the tree</a>`}</p>
      </div>
      <div class="actions stuck">
        <button type="button" class="button hill" data-undo-mark>${icon('undo')}Undo</button>
        <a class="button hill" href="#/may-i?tree=${saved.treeId}">${icon('may_i')}May I dig it?</a>
        <button type="button" class="button primary hill" data-another>${icon('mark')}Mark another</button>
      </div></div>`);
    root.querySelector('[data-saved]').focus({ preventScroll: true });
    globalThis.scrollTo(0, 0);
  }

  function siteLineOf(made) {
    const id = made.changes[0].set.site;
    return id ? `On ${siteWords.get(id) ?? 'a site'}` : 'On no site';
  }

  const trying = (work, words) => async (...args) => {
    try {
      await work(...args);
    } catch (fault) {
      notice(`${words}: ${fault.message}`, { kind: 'trouble' });
    }
  };

  async function another() {
    await readKnown();
    saved = null;
    drawForm();
    globalThis.scrollTo(0, 0);
  }

  /** The place Mark itself, tapped while it says what was saved, is the way to the next tree: the address stays the same. */
  const markTapped = trying(async (ev) => {
    if (!saved || !ev.target.closest?.('#nav a[href="#/mark"]')) return;
    ev.preventDefault();
    await another();
    root.querySelector('h1').focus({ preventScroll: true });
  }, 'The form could not be opened');

  const stillTyping = () => { if (saved) throw new Error('the tree is saved by now.'); };

  async function keepShots(next) {
    stillTyping();
    shots = next;
    drawPhotos();
    await saveDraft(DRAFT_PHOTOS, shots);
  }

  /** The form with these values and photos, which are its draft from now on. */
  async function startWith(nextValues, nextShots) {
    stillTyping();
    values = nextValues;
    shots = nextShots;
    tagByHand = Boolean(values.tag_by_hand);
    await Promise.all(isEmpty(values, shots) ? [dropDraft(DRAFT), dropDraft(DRAFT_PHOTOS)] : [saveDraft(DRAFT, values), saveDraft(DRAFT_PHOTOS, shots)]);
    drawForm();
  }

  async function undo() {
    const back = saved;
    await saveChanges(back.recs.map(({ rec, type }) => ({ rec, type, set: { deleted: true } })), {});
    await readKnown();
    values = back.values; // what was typed comes back, to be changed and saved again
    shots = back.shots;
    tagByHand = Boolean(values.tag);
    saved = null;
    drawForm();
    notice('The mark is taken back. What you had typed is here again.', { kind: 'plain' });
    await Promise.all([saveDraft(DRAFT, values), saveDraft(DRAFT_PHOTOS, shots)]);
  }

  await readKnown();
  drawForm();
  stops.push(
    watchFix((got) => { latest.take(got); trouble = null; follow(); }, (said) => { trouble = said; follow(); }),
    on(root, 'pointerdown', '[data-kinds]', () => { kindTouched = true; }),
    on(root, 'input', '#mark-form', trying(keepDraft, 'What you type is not kept')),
    on(root, 'change', '#mark-form', trying(async (ev) => { await keepDraft(ev); follow(); }, 'What you type is not kept')),
    on(root, 'change', 'input[name="photo"]', takePhoto),
    on(root, 'input', '[name="tag"]', (ev) => sayTakenTag(ev, () => takenTags({ trees, pack, sites: siteWords }))),
    on(root, 'submit', '#mark-form', save),
    on(root, 'click', '[data-another]', trying(another, 'The form could not be opened')),
    on(root, 'click', '[data-undo-mark]', trying(undo, 'That could not be taken back')),
    on(root, 'click', '[data-drop-photo]', trying(async (ev, button) => {
      const before = shots;
      await keepShots(shots.filter((_, i) => i !== Number(button.dataset.dropPhoto)));
      notice('The photo is taken out.', { undo: () => keepShots(before) });
    }, 'The photo is still in')),
    on(root, 'click', '[data-afresh]', trying(async () => {
      const before = { values, shots };
      await startWith({}, []);
      notice('The draft is put away.', { undo: () => startWith(before.values, before.shots) });
    }, 'The draft is still there')),
  );
  document.addEventListener('click', markTapped);
  return () => {
    document.removeEventListener('click', markTapped);
    stops.forEach((stop) => stop());
    urls.forEach((url) => URL.revokeObjectURL(url));
  };
}
