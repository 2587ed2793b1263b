/** The part of House that lists phones and desks: who they are, what each may do, letting in and shutting out. */

import { asOwner } from '../hill/as_owner.js';
import { askHomeJson } from '../store/home.js';
import { keepDeviceNames } from '../sync.js';
import { ask } from '../ui/dialog.js';
import { chips, textField } from '../ui/form.js';
import { html, on, render } from '../ui/html.js';
import { icon } from '../ui/icons.js';
import { notice } from '../ui/notice.js';
import { here, showAgo, showInstant } from '../ui/words.js';

const WAIT_MS = 8000;
const MOST_NAME = 80;
const ROLE_WORDS = { full: 'may do everything', record: 'may record' };

/** Why another phone cannot use an address of home; null when it can. */
function onlyHere(url) {
  const { hostname, protocol } = new URL(url);
  if (['localhost', '127.0.0.1', '[::1]'].includes(hostname)) {
    return 'This address works on this machine only. Another phone needs an https address of this server: open Fellside here by that one, then make the code.';
  }
  if (protocol !== 'https:') return 'This address is not https. A phone can open it, but can neither keep the app nor find its place by it. Give this server an https address.';
  return null;
}

function deviceEntry(one, isOwn) {
  const seen = `last here ${one.last_seen_at ? showAgo(one.last_seen_at) : 'never'}`;
  const under = one.revoked ? `shut out · ${seen}` : `${ROLE_WORDS[one.role] ?? ROLE_WORDS.full}${one.signed_in ? ' · owner signed in' : ''} · ${seen} · paired ${showInstant(one.paired_at)}`;
  return html`<li class="device"><div class="entry"><span class="entry-icon">${icon(one.revoked ? 'no' : 'phone')}</span><span class="entry-main"><span class="entry-title">${one.name}${isOwn && ' (this one)'}</span><span class="entry-under">${under}</span></span></div>
    ${!one.revoked && html`<div class="pick-row"><button type="button" class="button" data-change="${one.device}" aria-label="Change “${one.name}”">Change</button><button type="button" class="button rust" data-revoke="${one.device}" aria-label="Shut out “${one.name}”">Shut out</button></div>`}</li>`;
}

function codeShown(code) {
  return html`<div class="stack" role="status"><p>On the new phone, point its camera at this, or open the address and type the code under Pair:</p>
    ${code.qr && html`<img class="qr" src="data:image/svg+xml;base64,${btoa(code.qr)}" alt="The address to pair by, as a QR code for the new phone’s camera">`}
    <p class="pair-code">${code.code}</p><p class="address">${code.url}</p>
    <p>${code.role === 'record' ? html`<strong>That phone may record:</strong> it sees sites, where their trees stand, and its own work, and no landholder’s contact data.` : html`<strong>That phone may do everything.</strong>`}</p>
    <p class="muted">Good for one phone, until ${showInstant(code.good_until)}.</p>
    ${onlyHere(code.url) && html`<p class="caution">${icon('info')}<span>${onlyHere(code.url)}</span></p>`}</div>`;
}

/**
 * Show the part.
 * @param {Element} place
 * @param {{identity: object|null, isClosed: () => boolean, onActed: () => any}} screen onActed: the owner did something
 * @returns {{read: () => Promise<void>, close: () => void}} read: ask home for the list
 */
export function showDevices(place, { identity, isClosed, onActed }) {
  const isPaired = Boolean(identity?.token);
  const mayAll = isPaired && identity.role !== 'record';
  let devices = null; // null: not asked yet
  let away = null; // the sentence why home's list is not here
  let code = null;

  function draw() {
    if (isClosed()) return;
    render(place, html`<h2>Phones and desks</h2>
      ${!isPaired && html`<p>This one is not paired with home yet. What you record stays on it until then.</p><a class="button primary" href="#/pair">${icon('key')}Pair this ${here()}</a>`}
      ${isPaired && !mayAll && html`<p><span class="state good">${icon('phone')}This ${here()} may record</span></p><p>It sees sites, where their trees stand, and its own work, and no landholder’s contact data. What it records goes home. The owner can change that at home, under House.</p>`}
      ${away && html`<p class="caution">${icon('info')}<span>${away}</span></p>`}
      ${devices && html`<ul class="entries">${devices.map((one) => deviceEntry(one, one.device === identity?.device))}</ul>`}
      ${mayAll && !devices && !away && html`<p role="status">Asking home …</p>`}
      ${code && codeShown(code)}
      ${mayAll && html`<div class="pick-row"><button type="button" class="button primary" data-code="full">${icon('key')}Pair a phone</button>
        <button type="button" class="button" data-code="record">${icon('key')}Pair one that may record</button></div>`}`);
  }

  async function read() {
    if (!mayAll) return;
    try {
      devices = (await askHomeJson('/api/devices', { waitMs: WAIT_MS })).devices;
      away = null;
      await keepDeviceNames(devices);
    } catch (trouble) {
      away = trouble.code === 'away' ? 'Home is not in reach, so its list of phones is not here.' : trouble.message;
    }
    draw();
  }

  const post = (path, json) => askHomeJson(path, { json, waitMs: WAIT_MS });

  /** Do an owner's act and say so; what home refuses is said, and nothing else happens. */
  async function act(what, said = null) {
    try {
      const acted = await asOwner(what);
      if (acted === null) return null;
      if (said !== null) notice(said);
      onActed();
      return acted.done;
    } catch (trouble) {
      notice(trouble.message, { kind: 'trouble' });
      return null;
    }
  }

  /** As `post`; where it would leave nobody who may do everything, it is asked whether that is meant. */
  async function postOrAsk(path, json) {
    try {
      return await post(path, json);
    } catch (trouble) {
      if (trouble.code !== 'last-full') throw trouble;
    }
    const sure = await ask({
      title: 'The last one that may do everything', choices: [{ value: true, label: 'Do it anyway', kind: 'rust' }],
      text: 'After this no phone or desk can let others in. Another can be paired with the passphrase, or with a code made at the server itself.',
    });
    return sure ? post(path, { ...json, anyway: true }) : null;
  }

  async function makeCode(role) {
    code = (await act(() => post('/api/pair-code', { role }))) ?? code;
    draw();
  }

  async function revoke(device) {
    const { name } = devices.find((one) => one.device === device);
    const isOwn = device === identity?.device;
    // Shutting out cannot be undone from here, only mended by pairing anew: so it is asked, not just noticed.
    const answer = await ask({
      title: `Shut out “${name}”?`,
      text: isOwn ? 'This is the one in your hand. It keeps what it has, but gets and gives nothing until it is paired again.' : 'It gets nothing more from home and gives nothing. What it sent already stays. To let it in again, pair it anew.',
      choices: [{ value: true, label: 'Shut it out', kind: 'rust' }],
    });
    if (!answer) return;
    const told = await act(() => postOrAsk(`/api/devices/${device}/revoke`, {}));
    if (told === null) return;
    notice(`“${name}” is shut out.`);
    await read();
  }

  async function change(device) {
    const one = devices.find((it) => it.device === device);
    const values = await ask({
      title: `Change “${one.name}”`,
      fields: html`${textField({ name: 'name', label: 'Name', value: one.name, required: true, maxLength: MOST_NAME })}
        ${chips({ name: 'role', label: 'What it may do', value: one.role, required: true, options: [{ value: 'full', label: 'Everything' }, { value: 'record', label: 'Record' }], hint: 'One that may record sees sites, where their trees stand, and its own work, and no landholder’s contact data.' })}`,
    });
    if (values === null) return;
    const renamed = values.name !== one.name && (await act(() => post(`/api/devices/${device}/name`, { name: values.name })));
    if (renamed === null) return;
    const told = values.role !== one.role && (await act(() => postOrAsk(`/api/devices/${device}/role`, { role: values.role })));
    if (told) notice(`“${values.name}” ${ROLE_WORDS[values.role]}.`);
    else if (renamed) notice(`It is called “${values.name}” now.`);
    if (renamed || told) await read();
  }

  draw();
  const stops = [
    on(place, 'click', '[data-code]', (ev, button) => makeCode(button.dataset.code)),
    on(place, 'click', '[data-revoke]', (ev, button) => revoke(button.dataset.revoke)),
    on(place, 'click', '[data-change]', (ev, button) => change(button.dataset.change)),
  ];
  return { read, close: () => stops.forEach((stop) => stop()) };
}
