/** The part of House about the calendar: a private address for a calendar program, and the file to take along. */

import { asOwner } from '../hill/as_owner.js';
import { askHomeBytes, askHomeJson, HomeError } from '../store/home.js';
import { ask } from '../ui/dialog.js';
import { chips, readForm, toggle } from '../ui/form.js';
import { handOver } from '../ui/hand_over.js';
import { html, on, render } from '../ui/html.js';
import { icon } from '../ui/icons.js';
import { notice } from '../ui/notice.js';
import { showInstant } from '../ui/words.js';

const WAIT_MS = 8000;
const FILE_NAME = 'fellside-due.ics';
const RINGS = [{ value: 'none', label: 'Not at all' }, { value: 'evening', label: 'The evening before' }, { value: 'morning', label: 'That morning' }];

/**
 * Show the part.
 * @param {Element} place
 * @param {{isClosed: () => boolean}} screen
 * @returns {{read: () => Promise<void>, close: () => void}}
 */
export function showCalendar(place, { isClosed }) {
  let told = null;
  let url = null; // told once, when it is made

  function draw() {
    if (isClosed()) return;
    const has = told?.made_at;
    render(place, html`<h2>Due in your calendar</h2>
      <p>What is due, day by day, in the calendar you look at anyway. It only reads: ticking is done here.</p>
      ${told === null ? html`<p class="muted" role="status">Asking home …</p>` : html`<p>${has ? html`<span class="state good">${icon('yes')}A private address is in use</span> <span class="muted">since ${showInstant(told.made_at)}</span>` : html`<span class="state quiet">${icon('clock')}No address made yet</span>`}</p>
      ${url && html`<div class="stack" role="status"><p>Give this address to your calendar program, as a calendar to subscribe to. It is shown this once:</p><p class="address" data-address>${url}</p>
        <button type="button" class="button" data-copy-address>${icon('papers')}Copy it</button>
        <p class="caution">${icon('info')}<span>Whoever has the address can read what is due. Your calendar has to be where home is in reach: a calendar kept by somebody else cannot see it.</span></p></div>`}
      <form novalidate data-calendar-form>
        ${chips({ name: 'alarm', label: 'Ring for each thing', options: RINGS, value: told.alarm })}
        ${toggle({ name: 'names', label: 'With what is owed to landholders, by name', value: told.names, hint: 'Leave it off when others keep your calendar.' })}
        ${toggle({ name: 'again', label: 'For the file: an older one is in my calendar', value: false, hint: 'What was settled since is called off there. Else leave it off.' })}
        <div class="pick-row"><button type="submit" class="button">${icon('key')}${has ? 'Make a new address' : 'Make the address'}</button>
          <button type="button" class="button" data-take-file>${icon('down')}Take the file</button>
          ${has && html`<button type="button" class="button quiet" data-end-address>End it</button>`}</div></form>`}`);
  }

  async function read() {
    try {
      told = await askHomeJson('/api/calendar', { waitMs: WAIT_MS });
      draw();
    } catch (trouble) {
      if (!(trouble instanceof HomeError)) throw trouble;
      if (!isClosed() && told === null) render(place, html`<h2>Due in your calendar</h2><p class="muted">Home is not in reach: this can wait until it is.</p>`);
    }
  }

  async function trying(what) {
    try {
      await what();
    } catch (trouble) {
      notice(trouble.message, { kind: 'trouble' });
    }
  }

  async function make(form) {
    const { alarm, names } = readForm(form);
    const chosen = { alarm, names };
    if (told.made_at && !(await ask({ title: 'Make a new address?', text: 'The one in use is good no longer: your calendar program has to be given the new one.', yes: 'Make it' }))) return;
    const did = await asOwner(() => askHomeJson('/api/calendar', { json: chosen, waitMs: WAIT_MS }));
    if (did === null) return;
    const { url: made, ...rest } = did.done;
    told = rest;
    url = made;
    draw();
    notice('The address is made.');
  }

  async function end() {
    if (!(await ask({ title: 'End the address?', text: 'Your calendar program gets nothing more from it.', yes: 'End it' }))) return;
    const did = await asOwner(() => askHomeJson('/api/calendar', { method: 'DELETE', waitMs: WAIT_MS }));
    if (did === null) return;
    told = did.done;
    url = null;
    draw();
    notice('The address is good no longer.');
  }

  async function takeFile() {
    const { alarm, again, names } = readForm(place.querySelector('[data-calendar-form]'));
    const { bytes } = await askHomeBytes(`/api/calendar.ics?alarm=${alarm}${again ? '&again=1' : ''}${names ? '&names=1' : ''}`, { waitMs: WAIT_MS });
    handOver(new Blob([bytes], { type: 'text/calendar' }), FILE_NAME);
    notice(`${FILE_NAME} is in your downloads.`);
  }

  async function copy() {
    await navigator.clipboard.writeText(url);
    notice('Copied.');
  }

  draw();
  const stops = [
    on(place, 'submit', '[data-calendar-form]', (ev, form) => {
      ev.preventDefault();
      return trying(() => make(form));
    }),
    on(place, 'click', '[data-end-address]', () => trying(end)),
    on(place, 'click', '[data-take-file]', () => trying(takeFile)),
    on(place, 'click', '[data-copy-address]', () => trying(copy)),
  ];
  return { read, close: () => stops.forEach((stop) => stop()) };
}
