/** House: how home is backed up, the phones of the house, this phone's own keeping, and the version of the app. */

import { getIdentity } from '../store.js';
import { askHomeJson } from '../store/home.js';
import { keepDeviceNames } from '../sync.js';
import { applyUpdate, checkForUpdate, installWays } from '../update.js';
import { ask } from '../ui/dialog.js';
import { html, on, render } from '../ui/html.js';
import { icon } from '../ui/icons.js';
import { notice } from '../ui/notice.js';
import { here, showAgo, showInstant } from '../ui/words.js';
import { showBackup } from './house_backup.js';

const WAIT_MS = 8000;
const MB = 1_000_000;

const BY_HAND = 'In the browser’s menu or address bar choose Install. It then opens without any network.';

/** Why another phone cannot use an address of home; null when it can. */
function onlyHere(url) {
  const { hostname, protocol } = new URL(url);
  if (['localhost', '127.0.0.1', '[::1]'].includes(hostname)) {
    return 'This address works on this machine only. Another phone needs an https address of this server: open Fellside here by that one, then make the code.';
  }
  if (protocol !== 'https:') return 'This address is not https. A phone can open it, but can neither keep the app nor find its place by it. Give this server an https address.';
  return null;
}

async function readKeeping() {
  const estimate = (await navigator.storage?.estimate?.()) ?? {};
  return { lasts: (await navigator.storage?.persisted?.()) ?? null, used: estimate.usage ?? null, room: estimate.quota ?? null };
}

/**
 * Open the screen.
 * @param {Element} root
 * @returns {Promise<() => void>} close
 */
export async function open(root) {
  const identity = await getIdentity();
  let devices = null; // null: not asked yet
  let away = null; // the sentence why home's list is not here
  let code = null;
  let closed = false;

  render(root, html`<div class="page house"><div class="page-head"><h1>House</h1><p class="under">Your phones, and how safely things are kept.</p></div>
    ${identity?.token && html`<section class="sheet" data-backup></section>`}
    <div class="cols"><div><section class="sheet" data-devices></section></div><div><section class="sheet" data-keeping></section><section class="sheet" data-app></section></div></div></div>`);
  const part = (name) => root.querySelector(`[data-${name}]`);

  function deviceEntry(one) {
    const own = one.device === identity?.device;
    const under = one.revoked ? 'shut out' : `paired ${showInstant(one.paired_at)} · last here ${one.last_seen_at ? showAgo(one.last_seen_at) : 'never'}`;
    return html`<li><div class="entry"><span class="entry-icon">${icon(one.revoked ? 'no' : 'phone')}</span><span class="entry-main"><span class="entry-title">${one.name}${own && ' (this one)'}</span><span class="entry-under">${under}</span></span>
      ${!one.revoked && html`<button type="button" class="button rust" data-revoke="${one.device}" data-name="${one.name}">Shut out</button>`}</div></li>`;
  }

  function drawDevices() {
    render(part('devices'), html`<h2>Phones and desks</h2>
      ${!identity?.token && html`<p>This one is not paired with home yet. What you record stays on it until then.</p><a class="button primary" href="#/pair">${icon('key')}Pair this ${here()}</a>`}
      ${away && html`<p class="caution">${icon('info')}<span>${away}</span></p>`}
      ${devices && html`<ul class="entries">${devices.map(deviceEntry)}</ul>`}
      ${identity?.token && !devices && !away && html`<p role="status">Asking home …</p>`}
      ${code && html`<div class="stack" role="status"><p>On the new phone, point its camera at this, or open the address and type the code under Pair:</p>
        ${code.qr && html`<img class="qr" src="data:image/svg+xml;base64,${btoa(code.qr)}" alt="The address to pair by, as a QR code for the new phone’s camera">`}
        <p class="pair-code">${code.code}</p><p class="address">${code.url}</p><p class="muted">Good for one phone, until ${showInstant(code.good_until)}.</p>
        ${onlyHere(code.url) ? html`<p class="caution">${icon('info')}<span>${onlyHere(code.url)}</span></p>` : ''}</div>`}
      ${identity?.token && html`<div class="actions"><button type="button" class="button primary" data-code>${icon('key')}${code ? 'Another code' : 'Pair a phone'}</button></div>`}`);
  }

  async function drawKeeping() {
    const { lasts, used, room } = await readKeeping();
    if (closed) return;
    const state = lasts === true ? html`<span class="state good">${icon('yes')}This ${here()} keeps it for good</span>` : html`<span class="state ask">${icon('ask')}This ${here()} may clear it when room is short</span>`;
    render(part('keeping'), html`<h2>Kept on this ${here()}</h2><p>${state}</p>
      <dl class="facts"><dt>In use</dt><dd>${used === null ? 'not known' : `${Math.max(1, Math.round(used / MB))} MB`}</dd>
        <dt>Room for it</dt><dd>${room === null ? 'not known' : `about ${Math.round(room / MB / 100) / 10} GB`}</dd></dl>
      ${lasts !== true && html`<button type="button" class="button" data-keep>${icon('held')}Ask this ${here()} to keep it for good</button>`}
      <a class="button" href="#/sync">${icon('sync')}What home has, and what waits</a>
      <a class="button" href="#/copy">${icon('held')}Keep a copy, make room</a>`);
  }

  function drawApp() {
    const ways = installWays();
    render(part('app'), html`<h2>The app</h2>
      ${ways.installed ? html`<p><span class="state good">${icon('yes')}Installed</span></p>` : html`<p><span class="state ask">${icon('ask')}Opened in the browser, not installed</span></p><p>${ways.hint ?? BY_HAND}</p>`}
      <div class="pick-row">${ways.ask && html`<button type="button" class="button" data-install>${icon('phone')}Install it</button>`}
        <button type="button" class="button" data-update>${icon('sync')}Look for a newer version</button></div>
      <p class="muted">Letters: Atkinson Hyperlegible. Map drawing: Leaflet. Both are free works and come from your own server; nothing is ever fetched from anyone else.</p>`);
  }

  async function install() {
    const { ask: askToInstall } = installWays();
    if (askToInstall && (await askToInstall())) notice('Installed. Open it from its icon from now on.');
    if (!closed) drawApp();
  }

  async function lookForUpdate() {
    if (!(await checkForUpdate())) {
      notice('No newer version is at home.', { kind: 'plain' });
      return;
    }
    notice('A newer version is here.', {
      kind: 'plain',
      act: { label: 'Use it', run: () => { const why = applyUpdate(); if (why) notice(why, { kind: 'plain' }); } },
    });
  }

  async function readDevices() {
    if (!identity?.token) return;
    try {
      devices = (await askHomeJson('/api/devices', { waitMs: WAIT_MS })).devices;
      away = null;
      await keepDeviceNames(devices);
    } catch (trouble) {
      away = trouble.code === 'away' ? 'Home is not in reach, so its list of phones is not here.' : trouble.message;
    }
    if (!closed) drawDevices();
  }

  async function makeCode() {
    try {
      code = await askHomeJson('/api/pair-code', { json: {}, waitMs: WAIT_MS });
      if (!closed) drawDevices();
    } catch (trouble) {
      notice(trouble.message, { kind: 'trouble' });
    }
  }

  async function revoke(button) {
    const { revoke: device, name } = button.dataset;
    const own = device === identity?.device;
    // Shutting out cannot be undone from here, only mended by pairing anew: so it is asked, not just noticed.
    const answer = await ask({
      title: `Shut out “${name}”?`,
      text: own ? 'This is the one in your hand. It keeps what it has, but gets and gives nothing until it is paired again.' : 'It gets nothing more from home and gives nothing. What it sent already stays. To let it in again, pair it anew.',
      choices: [{ value: true, label: 'Shut it out', kind: 'rust' }],
    });
    if (!answer) return;
    try {
      devices = (await askHomeJson(`/api/devices/${device}/revoke`, { json: {}, waitMs: WAIT_MS })).devices ?? devices;
      notice(`“${name}” is shut out.`);
      await readDevices();
    } catch (trouble) {
      notice(trouble.message, { kind: 'trouble' });
    }
  }

  async function keepForGood() {
    const granted = (await navigator.storage?.persist?.()) ?? false;
    notice(granted ? 'The phone keeps it for good now.' : 'The phone did not agree yet. It usually does once the app is installed and used.', { kind: granted ? 'done' : 'plain' });
    await drawKeeping();
  }

  drawDevices();
  drawApp();
  if (identity?.token) showBackup(part('backup'), () => closed);
  await drawKeeping();
  readDevices();
  const stops = [
    on(root, 'click', '[data-code]', makeCode),
    on(root, 'click', '[data-revoke]', (ev, button) => revoke(button)),
    on(root, 'click', '[data-keep]', keepForGood),
    on(root, 'click', '[data-install]', install),
    on(root, 'click', '[data-update]', lookForUpdate),
  ];
  return () => {
    closed = true;
    for (const stop of stops) stop();
  };
}
