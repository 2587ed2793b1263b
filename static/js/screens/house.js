/** House: how home is backed up, its phones and owner, this phone's own keeping, and the version of the app. */

import { getIdentity } from '../store.js';
import { applyUpdate, checkForUpdate, installWays } from '../update.js';
import { html, on, render } from '../ui/html.js';
import { icon } from '../ui/icons.js';
import { notice } from '../ui/notice.js';
import { here } from '../ui/words.js';
import { showBackup } from './house_backup.js';
import { showCalendar } from './house_calendar.js';
import { showDevices } from './house_devices.js';
import { showOwner } from './house_owner.js';

const MB = 1_000_000;

const BY_HAND = 'In the browser’s menu or address bar choose Install. It then opens without any network.';

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
  const mayAll = Boolean(identity?.token) && identity.role !== 'record';
  let closed = false;

  render(root, html`<div class="page house"><div class="page-head"><h1>House</h1><p class="under">Your phones, and how safely things are kept.</p></div>
    ${mayAll && html`<section class="sheet" data-backup></section>`}
    <div class="cols"><div><section class="sheet" data-devices></section>${mayAll && html`<section class="sheet" data-owner></section><section class="sheet" data-calendar></section>`}</div><div><section class="sheet" data-keeping></section><section class="sheet" data-app></section></div></div></div>`);
  const part = (name) => root.querySelector(`[data-${name}]`);

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

  async function keepForGood() {
    const granted = (await navigator.storage?.persist?.()) ?? false;
    notice(granted ? 'The phone keeps it for good now.' : 'The phone did not agree yet. It usually does once the app is installed and used.', { kind: granted ? 'done' : 'plain' });
    await drawKeeping();
  }

  const isClosed = () => closed;
  const owner = mayAll ? showOwner(part('owner'), { isClosed, onChange: () => devices.read() }) : null;
  const devices = showDevices(part('devices'), { identity, isClosed, onActed: () => owner?.read() });
  const calendar = mayAll ? showCalendar(part('calendar'), { isClosed }) : null;
  drawApp();
  if (mayAll) showBackup(part('backup'), isClosed);
  await drawKeeping();
  devices.read();
  for (const one of [owner, calendar]) one?.read().catch((fault) => globalThis.reportError?.(fault));
  const stops = [
    devices.close,
    ...[owner, calendar].filter(Boolean).map((one) => one.close),
    on(root, 'click', '[data-keep]', keepForGood),
    on(root, 'click', '[data-install]', install),
    on(root, 'click', '[data-update]', lookForUpdate),
  ];
  return () => {
    closed = true;
    for (const stop of stops) stop();
  };
}
