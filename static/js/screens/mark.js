/** Mark: a tree, where it stands, and what it looks like. Three taps to a first save; nothing here waits for anything. */

import { watchFix } from '../device.js';
import { fixFields, listSites, proposeTag, recentKinds, siteAt, todayOn, visitChange } from '../hill/ground_facts.js';
import { LatestFix, photoBytes, photoChange, pictureUrl, takeShot } from '../hill/shots.js';
import { dropDraft, getDraft, getPack, listRecords, newId, saveChanges, saveDraft } from '../store.js';
import { fileField, readDraft, readForm, FormFault } from '../ui/form.js';
import { html, on, render } from '../ui/html.js';
import { icon } from '../ui/icons.js';
import { notice } from '../ui/notice.js';
import { livePosition } from '../ui/position.js';
import { kindField, measureFields, siteField, treeOfForm } from '../ui/tree_form.js';
import { showDistance, speciesName } from '../ui/words.js';

const DRAFT = 'mark';
const DRAFT_PHOTOS = 'mark-photos'; // apart, so that a keystroke does not write the pictures again
const NO_SITE = 'none';

/**
 * Open the screen.
 * @param {Element} root
 * @returns {Promise<() => void>} close
 */
export async function open(root) {
  const [sites, trees, visits, pack, draft, draftPhotos] = await Promise.all([
    listSites(), listRecords('tree'), listRecords('visit'), getPack(), getDraft(DRAFT), getDraft(DRAFT_PHOTOS),
  ]);
  const stops = [];
  const urls = [];
  let values = draft ?? {};
  let shots = draftPhotos ?? [];
  const latest = new LatestFix();
  let trouble = null;
  let tagByHand = Boolean(values.tag_by_hand);
  let saved = null;
  let live = null;

  const siteNow = () => {
    if (values.site === NO_SITE) return null;
    if (values.site) return sites.find((site) => site.id === values.site) ?? null;
    return siteAt(sites, latest.fix, { visits, on: todayOn() }).site;
  };

  function siteLine() {
    if (values.site === NO_SITE) return 'On no site';
    if (values.site) return `On ${siteNow()?.fields.name ?? 'a site'}, chosen by you`;
    const found = siteAt(sites, latest.fix, { visits, on: todayOn() });
    if (found.site) return `On ${found.site.fields.name}${found.by === 'visit' ? ', as last marked today' : ''}`;
    if (found.near) return `On no site: ${found.near.site.fields.name} is ${showDistance(found.near.distance_m)} away`;
    return sites.length === 0 ? 'No site is kept on this phone yet' : latest.fix ? 'On no site kept here' : 'Site: known once the position is';
  }

  function photoStrip() {
    return html`${shots.map((shot, i) => {
      const url = shot.thumb ? pictureUrl(shot.thumb) : null;
      if (url) urls.push(url);
      return html`<figure>${url ? html`<img src="${url}" alt="Photo ${i + 1}">` : icon('photo')}
        <figcaption>${shot.fix ? `± ${Math.round(shot.fix.accuracy_m ?? 0)} m` : 'no position'}
          <button type="button" class="button quiet" data-drop-photo="${i}" aria-label="Take photo ${i + 1} out">${icon('close')}</button></figcaption></figure>`;
    })}`;
  }

  function drawForm() {
    const site = siteNow();
    render(root, html`<div class="page mark">
      <div class="page-head"><h1>Mark a tree</h1><p class="under" data-site-line>${siteLine()}</p></div>
      <div data-position></div>
      <form novalidate id="mark-form">
        <div class="photos" data-photos>${photoStrip()}</div>
        ${kindField({ value: values.species ?? null, kinds: recentKinds(trees, site?.id ?? null, pack), nameOf: (kind) => speciesName(pack, kind) })}
        ${measureFields({ ...values, tag: values.tag ?? proposeTag(trees, site) })}
        ${siteField({ value: values.site ?? null, sites: sites.map((one) => [one.id, one.fields.name ?? 'unnamed site']), first: 'by position', last: [NO_SITE, 'no site here'] })}
        ${draft && html`<button type="button" class="button quiet" data-afresh>Put this draft away and start afresh</button>`}
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

  /** What follows the position: the site's name, and the tag until it was typed by hand. */
  function follow() {
    if (saved) return;
    live?.show(latest.fix, trouble);
    const line = root.querySelector('[data-site-line]');
    if (line && line.textContent !== siteLine()) line.textContent = siteLine();
    const tag = root.querySelector('[name="tag"]');
    if (tag && !tagByHand && document.activeElement !== tag) tag.value = proposeTag(trees, siteNow());
  }

  async function keepDraft(ev) {
    const form = root.querySelector('#mark-form');
    if (!form || ev?.target.type === 'file') return;
    if (ev?.target.name === 'tag') tagByHand = ev.target.value.trim() !== '';
    values = { ...readDraft(form), tag_by_hand: tagByHand };
    if (!tagByHand) values.tag = null;
    await saveDraft(DRAFT, values);
  }

  async function takePhoto(ev, input) {
    const [file] = input.files;
    if (!file) return;
    try {
      const shot = await takeShot(file, latest);
      shots = [...shots, shot];
      drawPhotos();
      await saveDraft(DRAFT_PHOTOS, shots);
      notice(shot.fix ? 'Photo taken, with its position.' : 'Photo taken. No position yet.', { kind: 'plain' });
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
      { rec: treeId, type: 'tree', set: { ...treeOfForm(read), site: site?.id ?? null, origin: 'lifted', marked_on: on } },
    ];
    if (visit.change) changes.push(visit.change);
    if (here) changes.push({ rec: newId(), type: 'fix', set: fixFields(here, treeId, visit.id) });
    for (const shot of shots) changes.push({ rec: newId(), ...photoChange(shot, { tree: treeId, site: site?.id ?? null, visit: visit.id }) });
    return { treeId, changes, visit, fix: here };
  }

  async function save(ev, form) {
    ev.preventDefault();
    let read;
    try {
      read = readForm(form);
    } catch (fault) {
      if (fault instanceof FormFault) return;
      throw fault;
    }
    const button = form.querySelector('[type="submit"]');
    button.disabled = true;
    try {
      const made = await changesToSave(read);
      const { photos_refused: refused } = await saveChanges(made.changes, { photos: shots.map(photoBytes) });
      const recs = made.changes.map((change) => ({ rec: change.rec, type: change.type }));
      saved = { ...made, recs, tag: read.tag, species: read.species, photos: shots.length - refused.length, refused, values: { ...values, ...readDraft(form) }, shots };
      if (made.visit.change) visits.push({ id: made.visit.id, type: 'visit', fields: made.visit.change.set });
      trees.push({ id: made.treeId, type: 'tree', fields: made.changes[0].set });
      await Promise.all([dropDraft(DRAFT), dropDraft(DRAFT_PHOTOS)]);
      values = {};
      shots = [];
      tagByHand = false;
      drawSaved();
    } catch (fault) {
      button.disabled = false;
      notice(`Not saved: ${fault.message}`, { kind: 'trouble' });
    }
  }

  function drawSaved() {
    const { tag, fix: at } = saved;
    render(root, html`<div class="page mark done-page">
      <div class="page-head"><h1 tabindex="-1" data-saved>Saved on this phone</h1><p class="under">${siteLineOf(saved)}</p></div>
      <div class="sheet">
        <p><span class="tag big">${tag ?? 'no tag'}</span></p>
        <p>${saved.species ? `${speciesName(pack, saved.species)}.` : 'Its kind is not noted.'} ${at ? `Its position is kept, ${at.accuracy_m === null ? 'accuracy not known' : `± ${Math.max(1, Math.round(at.accuracy_m))} m`}.` : 'No position was found yet: take it again from the tree’s own page.'}
          ${saved.photos > 0 && ` ${saved.photos} ${saved.photos === 1 ? 'photo' : 'photos'}.`}</p>
        ${saved.refused.map((one) => html`<p class="fault">${one.text}</p>`)}
        <p><a href="#/tree/${saved.treeId}">Open the tree</a></p>
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
    return id ? `On ${sites.find((site) => site.id === id)?.fields.name ?? 'a site'}` : 'On no site';
  }

  async function undo() {
    const back = saved;
    await saveChanges(back.recs.map(({ rec, type }) => ({ rec, type, set: { deleted: true } })), {});
    trees.splice(trees.findIndex((tree) => tree.id === back.treeId), 1);
    const visitAt = visits.findIndex((visit) => back.recs.some((one) => one.rec === visit.id));
    if (visitAt >= 0) visits.splice(visitAt, 1);
    values = back.values; // what was typed comes back, to be mended and saved again
    shots = back.shots;
    tagByHand = Boolean(values.tag);
    saved = null;
    drawForm();
    notice('The mark is taken back. What you had typed is here again.', { kind: 'plain' });
    await Promise.all([saveDraft(DRAFT, values), saveDraft(DRAFT_PHOTOS, shots)]);
  }

  drawForm();
  stops.push(
    watchFix((got) => { latest.take(got); trouble = null; follow(); }, (said) => { trouble = said?.message ?? String(said); follow(); }),
    on(root, 'input', '#mark-form', keepDraft),
    on(root, 'change', '#mark-form', async (ev) => { await keepDraft(ev); follow(); }),
    on(root, 'change', 'input[name="photo"]', takePhoto),
    on(root, 'submit', '#mark-form', save),
    on(root, 'click', '[data-another]', () => { saved = null; drawForm(); globalThis.scrollTo(0, 0); }),
    on(root, 'click', '[data-undo-mark]', () => undo().catch((fault) => notice(`That could not be taken back: ${fault.message}`, { kind: 'trouble' }))),
    on(root, 'click', '[data-drop-photo]', async (ev, button) => {
      shots = shots.filter((_, i) => i !== Number(button.dataset.dropPhoto));
      drawPhotos();
      await saveDraft(DRAFT_PHOTOS, shots);
    }),
    on(root, 'click', '[data-afresh]', async () => {
      values = {};
      shots = [];
      tagByHand = false;
      await Promise.all([dropDraft(DRAFT), dropDraft(DRAFT_PHOTOS)]);
      drawForm();
    }),
  );
  return () => {
    stops.forEach((stop) => stop());
    urls.forEach((url) => URL.revokeObjectURL(url));
  };
}
