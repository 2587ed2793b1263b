/** Intake, at the desk: photos and recorded walks come home, are placed, looked over, and saved with their trees. */

import { bestFix, groupBy, listSites, ownZone, siteAt } from '../hill/ground_facts.js';
import { getPack, listRecords } from '../store.js';
import { askHome, askHomeJson, HomeError } from '../store/home.js';
import { syncNow } from '../sync.js';
import { FormFault, numberField, readForm, textField } from '../ui/form.js';
import { html, on, render } from '../ui/html.js';
import { icon } from '../ui/icons.js';
import { notice } from '../ui/notice.js';
import { count, showDistance, showInstant, speciesName } from '../ui/words.js';
import { filesOfDrop, sendFiles } from './intake_files.js';
import { sketch, walkPoints } from './intake_sketch.js';

const known = (value) => value !== null && value !== undefined;
const BY_WORDS = { photo: 'by its own position', track: 'by the walk, from its time', hand: 'by hand' };
const NO_PHOTO = new Set(['empty', 'unreadable', 'not-photo-or-track']);
const READ_WAIT_MS = 600_000; // a whole season's photos take home a while
const PREVIEW_WAIT_MS = 20_000;
const AT_ONCE_M = 25; // one tree alone this near is taken to be meant by "accept all that are plain"; common practice

/**
 * The tree a photo plainly belongs to: the only one near. With two or more near, or none, null: a person says.
 * @param {{tree: string, distance_m: number}[]} near likeliest first
 */
export function plainTree(near) {
  return near.length === 1 && near[0].distance_m <= AT_ONCE_M ? near[0].tree : null;
}

/** Home's small picture as an address; null where none can be made (the row then shows its drawing). */
async function previewUrl(sha256) {
  try {
    const answer = await askHome(`/api/blob/${sha256}/preview`, { waitMs: PREVIEW_WAIT_MS });
    return URL.createObjectURL(await answer.blob());
  } catch (fault) {
    if (fault instanceof HomeError) return null;
    throw fault;
  }
}

/** Seconds as '+1 h 0 min 3 s'. */
export function showSeconds(s) {
  const whole = Math.abs(Math.round(s));
  const sign = s < 0 && whole > 0 ? '−' : '+';
  const parts = [[Math.floor(whole / 3600), 'h'], [Math.floor((whole % 3600) / 60), 'min'], [whole % 60, 's']].filter(([n], i) => n > 0 || i === 2);
  return sign + parts.map(([n, unit]) => `${n} ${unit}`).join(' ');
}

/** Open the screen. */
export async function open(root) {
  const [sites, trees, fixes, pack] = await Promise.all([listSites(), listRecords('tree'), listRecords('fix'), getPack()]);
  const fixesOf = groupBy(fixes, 'tree');
  const keptTrees = trees.map((tree) => ({ id: tree.id, tree, tag: tree.fields.tag ?? 'no tag', fix: bestFix(fixesOf.get(tree.id) ?? [])?.fields ?? null }))
    .sort((a, b) => a.tag.localeCompare(b.tag, 'en', { numeric: true }));
  let sent = []; // {sha256, name, file} at home
  let sendTrouble = [];
  let found = null; // what home read
  let lines = [];
  const chosen = new Map(); // sha256 -> tree id, or '' for none
  let clock = { clock_offset_s: null, zone: null };
  let running = null;
  let closed = false;
  const previews = new Map();

  const named = (sha256) => sent.find((one) => one.sha256 === sha256)?.name;
  const treeWord = (id) => {
    const one = keptTrees.find((kept) => kept.id === id);
    return one ? `${one.tag}, ${speciesName(pack, one.tree.fields.species)}` : 'a tree not kept here';
  };

  function drawStart() {
    return html`<section class="sheet drop" data-drop><h2>Bring it home</h2>
      <p>Photos and recorded walks (GPX): drop them here, or choose them. Originals keep the camera’s own time and place.</p>
      <div class="pick-row">
        <label class="button file hill">${icon('photo')}<span>Choose files</span><input type="file" class="unseen" name="files" multiple></label>
        <label class="button file hill">${icon('intake')}<span>Choose a folder</span><input type="file" class="unseen" name="folder" webkitdirectory multiple></label>
      </div></section>`;
  }

  function troubleList(list) {
    return html`<ul class="reasons">${list.map((one) => html`<li class="ask" data-trouble="${one.name}">${icon('warn')}<div><p class="strong">${one.name}</p><p>${one.text}</p></div></li>`)}</ul>`;
  }

  function badFiles() {
    const read = (found?.photos ?? []).concat(found?.tracks ?? []).filter((one) => isRefused(one)).map((one) => ({ name: nameOf(one), text: one.trouble.map((t) => t.text).join(' ') || 'It cannot be read.' }));
    const other = (found?.trouble ?? []).map((one) => ({ name: one.name ?? one.file ?? 'A file', text: one.text ?? one.message }));
    return [...sendTrouble, ...other, ...read];
  }

  const nameOf = (one) => named(one.sha256) ?? one.name ?? one.file;
  /** A file that home could make nothing of: no photo, and no walk with anything in it. */
  const isRefused = (one) => ('points' in one
    ? one.points + (one.waypoints ?? 0) + (one.routes ?? 0) === 0
    : (one.trouble ?? []).some((t) => NO_PHOTO.has(t.code)));
  const goodPhotos = () => (found?.photos ?? []).filter((one) => !isRefused(one));
  const goodTracks = () => (found?.tracks ?? []).filter((one) => !isRefused(one));

  function clockSheet() {
    const { clock: seen } = found;
    return html`<form novalidate class="sheet" id="clock"><h2>The camera’s clock</h2>
      <p>${known(seen?.offset_s)
        ? html`To the camera’s time is added <strong class="nowrap">${showSeconds(seen.offset_s)}</strong>${known(seen.spread_s) && html`, give or take ${Math.ceil(seen.spread_s)} s`}. ${seen.text}`
        : seen?.text ?? 'Not known: no photo has both a position and a time on a walk.'}</p>
      ${numberField({ name: 'clock_offset_s', label: 'Add to the camera’s time', unit: 's', value: clock.clock_offset_s, step: 1, start: 0, min: -1300000000, max: 1300000000, hint: 'From a photo of a clock: true time less camera time. Minus where the camera was ahead. Empty: estimated.', whole: false })}
      ${textField({ name: 'zone', label: 'The zone the camera was set to', value: clock.zone, options: [ownZone(), 'UTC', ...new Set(sites.map((site) => site.fields.zone).filter(Boolean))], hint: 'As Europe/London. Empty: by the photo itself, else not known.' })}
      <div class="actions"><button type="submit" class="button">${icon('clock')}Place them again</button></div></form>`;
  }

  function photoRow(one, n) {
    const name = nameOf(one);
    const near = one.near ?? [];
    const placed = known(one.lat);
    const picked = chosen.get(one.sha256);
    const others = (one.trouble ?? []).map((t) => t.text);
    return html`<li class="shot-row" data-photo="${one.sha256}">
      <span class="shot-n" aria-hidden="true">${n}</span>
      <span class="shot-preview" data-preview="${one.sha256}">${icon('photo')}</span>
      <div class="shot-words"><p class="strong">${name}</p>
        <p class="muted">${one.taken_at ? showInstant(one.taken_at) : 'time not known'}</p>
        <p class="state ${placed ? 'good' : 'ask'}">${icon(placed ? 'fix' : 'ask')}${placed ? BY_WORDS[one.placed_by] ?? 'placed' : 'not placed'}${placed && known(one.accuracy_m) ? `, ± ${Math.max(1, Math.round(one.accuracy_m))} m` : ''}</p>
        ${one.known && html`<p class="state quiet">${icon('done')}Kept already: these very bytes are in the log.</p>`}</div>
      <fieldset class="shot-tree" ${one.known ? html`disabled` : ''}><legend>Which tree?</legend>
        <div class="pick-row">${near.slice(0, 4).map((tree) => html`<button type="button" class="button ${picked === tree.tree ? 'primary' : ''}" data-accept="${tree.tree}" aria-pressed="${picked === tree.tree ? 'true' : 'false'}">${icon(picked === tree.tree ? 'done' : 'plus')}${tree.tag ?? 'no tag'} <span class="nowrap">${showDistance(tree.distance_m)}</span></button>`)}</div>
        ${near.length > 1 && !picked && html`<p class="hint">${count(near.length, 'tree is', 'trees are')} near: say which.</p>`}
        <select data-tree aria-label="Another tree for ${name}"><option value="">no tree</option>
          ${keptTrees.map((tree) => html`<option value="${tree.id}" ${picked === tree.id ? html`selected` : ''}>${treeWord(tree.id)}</option>`)}</select></fieldset>
      ${others.length > 0 && html`<p class="shot-why muted">${others.join(' ')}</p>`}
    </li>`;
  }

  function drawReview() {
    const photos = goodPhotos();
    const tracks = goodTracks();
    const bad = badFiles();
    const placed = photos.filter((one) => known(one.lat));
    const drawing = sketch({
      photos: photos.map((one, i) => ({ n: i + 1, lat: one.lat, lon: one.lon })).filter((one) => known(one.lat)),
      lines,
      trees: keptTrees.filter((tree) => tree.fix).map((tree) => ({ tag: tree.tag, lat: tree.fix.lat, lon: tree.fix.lon })),
    });
    const zoneless = photos.filter((one) => (one.trouble ?? []).some((t) => t.code === 'no-zone')).length;
    const plain = photos.filter((one) => !one.known && !chosen.get(one.sha256) && plainTree(one.near ?? [])).length;
    const fresh = photos.filter((one) => !one.known).length + tracks.filter((one) => !one.known).length;
    return html`<div class="cols wide-first"><div>
        <section class="sheet"><div class="sheet-head"><h2>Photos</h2><span class="muted">${placed.length} of ${photos.length} placed</span></div>
          ${zoneless > 0 && clock.zone === null && html`<div class="stack"><p class="state ask">${icon('clock')}${zoneless === 1 ? '1 photo tells' : `${zoneless} photos tell`} a time without its zone.</p>
            <div><button type="button" class="button" data-zone="${ownZone()}">The camera was set to ${ownZone()}</button></div></div>`}
          ${plain > 0 && html`<button type="button" class="button" data-accept-plain>${icon('done')}Accept the ${count(plain, 'photo', 'photos')} with one tree near</button>`}
          ${photos.length === 0 ? html`<p class="muted">No photo among them.</p>` : html`<ul class="shot-rows">${photos.map((one, i) => photoRow(one, i + 1))}</ul>`}</section>
      </div><div>
        ${bad.length > 0 && html`<section class="sheet" data-bad><h2>Not taken</h2>${troubleList(bad)}</section>`}
        ${drawing && html`<section class="sheet"><h2>Where they lie</h2>${drawing}<p class="muted">Numbers are photos, rings are trees, the line is the walk.</p></section>`}
        ${tracks.length > 0 && html`<section class="sheet"><h2>Walks</h2><ul class="entries">${tracks.map((one) => html`<li><div class="entry" data-track="${one.sha256}"><span class="entry-icon">${icon('walk')}</span><span class="entry-main"><span class="entry-title">${nameOf(one)}</span>
          <span class="entry-under">${known(one.length_m) ? showDistance(one.length_m) : 'length not known'}, ${count(one.points ?? 0, 'point', 'points')}${one.start ? `, ${showInstant(one.start)}` : ', no times'}</span>${(one.trouble ?? []).map((t) => html`<span class="entry-under">${t.text}</span>`)}
          ${one.known && html`<span class="state quiet">${icon('done')}kept already</span>`}</span></div></li>`)}</ul></section>`}
        ${clockSheet()}
      </div></div>
      <div class="actions stuck"><button type="button" class="button hill" data-again>Start again</button>
        <button type="button" class="button primary hill" data-save ${fresh === 0 ? html`disabled` : ''}>${icon('intake')}${fresh === 0 ? 'Nothing new to save' : `Save ${count(fresh, 'file', 'files')}`}</button></div>`;
  }

  function draw() {
    render(root, html`<div class="page intake">
      <div class="page-head"><h1>Intake</h1><p class="under">What the camera and the recorder brought back</p></div>
      <div data-run></div>
      ${found ? drawReview() : html`${drawStart()}${sendTrouble.length > 0 && html`<section class="sheet" data-bad><h2>Not taken</h2>${troubleList(sendTrouble)}</section>`}`}</div>`);
    if (found) showPreviews();
  }

  async function showPreviews() {
    for (const spot of root.querySelectorAll('[data-preview]')) {
      const sha256 = spot.dataset.preview;
      if (!previews.has(sha256)) {
        const url = await previewUrl(sha256);
        if (closed) return;
        previews.set(sha256, url);
      }
      const url = previews.get(sha256);
      if (url && spot.isConnected) render(spot, html`<img src="${url}" alt="">`);
    }
  }

  function showRun(state) {
    const place = root.querySelector('[data-run]');
    if (!place) return;
    if (!place.firstElementChild) {
      render(place, html`<div class="sheet progress"><progress max="1" value="0" aria-label="Sent home"></progress><p data-run-words role="status"></p><div class="actions"><button type="button" class="button" data-stop>${icon('close')}Stop</button></div></div>`);
    }
    place.querySelector('progress').value = state.bytes > 0 ? state.sent / state.bytes : 0;
    const words = state.done < state.of ? `Sending ${state.done + 1} of ${state.of}: ${state.name}` : 'Home is reading them';
    const line = place.querySelector('[data-run-words]');
    if (line.textContent !== words) line.textContent = words;
  }

  async function take(files) {
    if (running || files.length === 0) return;
    running = new AbortController();
    sendTrouble = [];
    try {
      const got = await sendFiles(files, { onProgress: showRun, signal: running.signal });
      sent = [...sent, ...got.sent.filter((one) => !sent.some((had) => had.sha256 === one.sha256))];
      sendTrouble = got.trouble;
      if (closed) return;
      if (got.stopped) notice(`Stopped. ${count(got.sent.length, 'file is', 'files are')} at home; choose them again to go on, none is sent twice.`, { kind: 'plain' });
      else if (sent.length > 0) await readThem();
    } finally {
      running = null;
      if (!closed) draw();
    }
  }

  async function readThem() {
    found = await askHomeJson('/api/intake/read', { waitMs: READ_WAIT_MS, json: { files: sent.map(({ sha256, name }) => ({ sha256, name })), ...clock } });
    lines = [];
    for (const track of goodTracks()) {
      const file = sent.find((one) => one.sha256 === track.sha256)?.file;
      const points = file ? await walkPoints(file) : [];
      if (points.length > 1) lines.push(points);
    }
  }

  async function save(button) {
    button.disabled = true;
    try {
      const photos = goodPhotos().filter((one) => !one.known).map((one) => {
        const tree = chosen.get(one.sha256) || null;
        const site = known(one.lat) ? siteAt(sites, one).site?.id ?? null : null;
        return { sha256: one.sha256, name: nameOf(one), tree, site: site ?? keptTrees.find((kept) => kept.id === tree)?.tree.fields.site ?? null };
      });
      const tracks = goodTracks().filter((one) => !one.known).map((one) => ({ sha256: one.sha256, name: nameOf(one) }));
      const said = await askHomeJson('/api/intake/save', { waitMs: READ_WAIT_MS, json: { photos, tracks, files: sent.map(({ sha256, name }) => ({ sha256, name })), ...clock } });
      await syncNow();
      startAgain();
      sendTrouble = (said.trouble ?? []).map((one) => ({ name: one.name ?? one.file ?? 'A file', text: one.text ?? one.message }));
      draw();
      notice(`${count(said.saved.length, 'file is', 'files are')} kept at home.`);
    } catch (fault) {
      button.disabled = false;
      throw fault;
    }
  }

  function startAgain() {
    sent = [];
    sendTrouble = [];
    found = null;
    lines = [];
    chosen.clear();
    clock = { clock_offset_s: null, zone: null };
  }

  async function placeAgain(ev, form) {
    ev.preventDefault();
    try {
      clock = { ...readForm(form) };
    } catch (fault) {
      if (fault instanceof FormFault) return;
      throw fault;
    }
    await readThem();
    draw();
  }

  const trying = (work) => async (...args) => {
    try {
      await work(...args);
    } catch (fault) {
      notice(fault.message, { kind: 'trouble' });
    }
  };

  draw();
  const stops = [
    on(root, 'change', 'input[type="file"]', trying(async (ev, input) => {
      const files = [...input.files];
      input.value = '';
      await take(files);
    })),
    on(root, 'dragover', '[data-drop]', (ev, el) => { ev.preventDefault(); el.classList.add('over'); }),
    on(root, 'dragleave', '[data-drop]', (ev, el) => el.classList.remove('over')),
    on(root, 'drop', '[data-drop]', trying(async (ev, el) => {
      ev.preventDefault();
      el.classList.remove('over');
      await take(await filesOfDrop(ev.dataTransfer));
    })),
    on(root, 'click', '[data-stop]', () => running?.abort()),
    on(root, 'click', '[data-accept]', (ev, el) => {
      const { photo } = el.closest('[data-photo]').dataset;
      chosen.set(photo, chosen.get(photo) === el.dataset.accept ? '' : el.dataset.accept);
      draw();
      root.querySelector(`[data-photo="${photo}"] [data-accept="${el.dataset.accept}"]`)?.focus();
    }),
    on(root, 'change', '[data-tree]', (ev, el) => {
      const { photo } = el.closest('[data-photo]').dataset;
      chosen.set(photo, el.value);
      draw();
      root.querySelector(`[data-photo="${photo}"] [data-tree]`)?.focus();
    }),
    on(root, 'click', '[data-accept-plain]', () => {
      for (const one of goodPhotos()) if (!one.known && !chosen.get(one.sha256) && plainTree(one.near ?? [])) chosen.set(one.sha256, plainTree(one.near));
      draw();
    }),
    on(root, 'submit', '#clock', trying(placeAgain)),
    on(root, 'click', '[data-zone]', trying(async (ev, el) => { clock = { ...clock, zone: el.dataset.zone }; await readThem(); draw(); })),
    on(root, 'click', '[data-again]', () => { startAgain(); draw(); }),
    on(root, 'click', '[data-save]', trying((ev, el) => save(el))),
  ];
  return () => {
    closed = true;
    running?.abort();
    stops.forEach((stop) => stop());
    for (const url of previews.values()) if (url) URL.revokeObjectURL(url);
  };
}
