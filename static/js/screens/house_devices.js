/** The part of House that lists phones and desks: who they are, what each may do, letting in and shutting out. */

import { asOwner } from '../hill/as_owner.js';
import { askHomeJson, HomeError } from '../store/home.js';
import { keepDeviceNames } from '../sync.js';
import { ask } from '../ui/dialog.js';
import { chips, textField } from '../ui/form.js';
import { html, on, render } from '../ui/html.js';
import { icon } from '../ui/icons.js';
import { notice } from '../ui/notice.js';
import { copyCautions, namedWords, ROLE_WORDS, shutOutWords, underWords, usedBy } from '../ui/phone_words.js';
import { here } from '../ui/words.js';
import { codeShown } from './house_code.js';

const WAIT_MS = 8000;
const MOST_NAME = 80;
const CODE_MS = 10 * 60 * 1000; // how long home takes a code
const LOOK_MS = 2000; // how often it is looked whether the code that is shown was used

function deviceEntry(one, isOwn, { devices, app }) {
  const under = underWords(one, devices, app);
  return html`<li class="device"><div class="entry"><span class="entry-icon">${icon(one.revoked ? 'no' : 'phone')}</span><span class="entry-main"><span class="entry-title">${one.name}${isOwn && ' (this one)'}</span><span class="entry-under">${under}</span></span></div>
    ${!one.revoked && html`<div class="pick-row"><button type="button" class="button" data-change="${one.device}" aria-label="Change “${one.name}”">Change</button><button type="button" class="button rust" data-revoke="${one.device}" aria-label="Shut out “${one.name}”">Shut out</button></div>`}</li>`;
}

/**
 * Show the part.
 * @param {Element} place
 * @param {{identity: object|null, isClosed: () => boolean, onActed: () => any}} screen onActed: the owner did something
 * @returns {{read: () => Promise<void>, close: () => void}} read: ask home for the list
 */
export function showDevices(place, { identity, isClosed, onActed }) {
  const isPaired = Boolean(identity?.token);
  const own = identity?.device;
  const mayAll = isPaired && identity.role !== 'record';
  let devices = null; // null: not asked yet
  let away = null; // the sentence why home's list is not here
  let app = null; // the version of the app that home has
  let code = null; // with the list as it stood when it was made, and by whom it was used
  let looking = null;

  function draw() {
    if (isClosed()) return;
    render(place, html`<h2>Phones and desks</h2>
      ${!isPaired && html`<p>This one is not paired with home yet. What you record stays on it until then.</p><a class="button primary" href="#/pair">${icon('key')}Pair this ${here()}</a>`}
      ${isPaired && !mayAll && html`<p><span class="state good">${icon('phone')}This ${here()} may record</span></p><p>It sees sites, where their trees stand, and its own work, and no landholder’s contact data. What it records goes home. The owner can change that at home, under House.</p>`}
      ${away && html`<p class="caution">${icon('info')}<span>${away}</span></p>`}
      ${devices && copyCautions(devices).map((text) => html`<p class="caution">${icon('warn')}<span>${text}</span></p>`)}
      ${devices && html`<ul class="entries">${devices.map((one) => deviceEntry(one, one.device === own, { devices, app }))}</ul>`}
      ${mayAll && !devices && !away && html`<p role="status">Asking home …</p>`}
      ${code && codeShown(code)}
      ${mayAll && html`<div class="pick-row"><button type="button" class="button primary" data-code="full">${icon('key')}Pair a phone</button>
        <button type="button" class="button" data-code="record">${icon('key')}Pair one that may record</button></div>`}`);
  }

  async function read() {
    if (!mayAll) return;
    try {
      take(await askHomeJson('/api/devices', { waitMs: WAIT_MS }));
      away = null;
      await keepDeviceNames(devices);
    } catch (trouble) {
      away = trouble.code === 'away' ? 'Home is not in reach, so its list of phones is not here.' : trouble.message;
    }
    draw();
  }

  function take(told) {
    devices = told.devices;
    app = told.app ?? null;
  }

  /** Look whether the code that is shown was used: it is good for one phone, and would mislead the next. */
  async function look() {
    if (isClosed() || code === null || code.used_by || code.is_old) return;
    if (document.visibilityState === 'visible') {
      const shown = code;
      const told = await askHomeJson('/api/devices', { waitMs: WAIT_MS }).catch((trouble) => {
        if (!(trouble instanceof HomeError)) throw trouble;
        return null; // away for a moment: looked again
      });
      if (code === shown) {
        const used = told && usedBy(code, code.before, told.devices);
        if (used) {
          take(told);
          code = { ...code, used_by: used.name };
          draw();
          await keepDeviceNames(devices);
        } else if (Date.now() - code.shown_at > CODE_MS) {
          code = { ...code, is_old: true };
          draw();
        }
      }
    }
    lookLater();
  }

  function lookLater() {
    clearTimeout(looking);
    looking = setTimeout(() => look().catch((fault) => globalThis.reportError?.(fault)), LOOK_MS);
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
    const made = await act(async () => ({ before: (await askHomeJson('/api/devices', { waitMs: WAIT_MS })).devices, ...(await post('/api/pair-code', { role })) }));
    if (made) code = { ...made, shown_at: Date.now() };
    draw();
    if (made) lookLater();
  }

  async function revoke(device) {
    const one = devices.find((it) => it.device === device);
    const { name } = one;
    // Shutting out cannot be undone from here, only mended by pairing anew: so it is asked, not just noticed.
    const answer = await ask({
      title: `Shut out “${name}”?`,
      text: shutOutWords(one, devices, device === own),
      choices: [{ value: true, label: 'Shut it out', kind: 'rust' }],
    });
    if (!answer) return;
    const told = await act(() => postOrAsk(`/api/devices/${device}/revoke`, {}));
    if (told === null) return;
    notice(`“${name}” is shut out.`);
    await read();
  }

  /** Another one is called alike: a name of its own is offered, and taken by a tap. */
  function offerName(device, name, like) {
    const done = notice(namedWords(name, like), {
      kind: 'plain', stays: true,
      act: {
        label: `Call it “${like}”`,
        run: async () => {
          done();
          if (await act(() => post(`/api/devices/${device}/name`, { name: like }), namedWords(like, null))) await read();
        },
      },
    });
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
    if (renamed?.like) offerName(device, values.name, renamed.like);
    const told = values.role !== one.role && (await act(() => postOrAsk(`/api/devices/${device}/role`, { role: values.role })));
    if (told) notice(`“${values.name}” ${ROLE_WORDS[values.role]}.`);
    else if (renamed && !renamed.like) notice(namedWords(values.name, null));
    if (renamed || told) await read();
  }

  draw();
  const stops = [
    on(place, 'click', '[data-code]', (ev, button) => makeCode(button.dataset.code)),
    on(place, 'click', '[data-revoke]', (ev, button) => revoke(button.dataset.revoke)),
    on(place, 'click', '[data-change]', (ev, button) => change(button.dataset.change)),
  ];
  return { read, close: () => { clearTimeout(looking); stops.forEach((stop) => stop()); } };
}
