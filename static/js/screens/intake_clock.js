/** The camera's clock: what is known of it, before any photo is looked at, and the three ways to set it. */

import { chips, dateField, FormFault, numberField, readForm, showFault, textField } from '../ui/form.js';
import { html } from '../ui/html.js';
import { icon } from '../ui/icons.js';
import { count, showDate } from '../ui/words.js';

const MOST_HOURS = 360_000; // a clock never set shows a year some decades back
const TIME = /^([01]?\d|2[0-3])[:.]([0-5]\d)(?:[:.]([0-5]\d))?$/;
const WAYS = [
  { value: 'estimated', label: 'Found by itself' },
  { value: 'photo', label: 'One photo shows a clock' },
  { value: 'hand', label: 'By hand' },
];

const known = (value) => value !== null && value !== undefined;

/** Seconds as '+1 h 0 min 3 s'. */
export function showSeconds(s) {
  const whole = Math.abs(Math.round(s));
  const sign = s < 0 && whole > 0 ? '−' : '+';
  const parts = [[Math.floor(whole / 3600), 'h'], [Math.floor((whole % 3600) / 60), 'min'], [whole % 60, 's']].filter(([n], i) => n > 0 || i === 2);
  return sign + parts.map(([n, unit]) => `${n} ${unit}`).join(' ');
}

/** How the clock is set now: 'estimated', 'photo' or 'hand'. */
export function wayOf(clock) {
  if (clock.clock_photo) return 'photo';
  return known(clock.clock_offset_s) || clock.zone ? 'hand' : 'estimated';
}

function clockLine(seen, clock, photos) {
  const way = wayOf(clock);
  if (known(seen?.offset_s)) {
    const from = way === 'estimated' ? `, from ${count(seen.photos, 'photo', 'photos')}` : way === 'photo' ? ', read off the photo of a clock' : ', set by hand';
    return html`<p class="state good" data-clock-line>${icon('clock')}<span>To the camera’s time is added <strong class="nowrap">${showSeconds(seen.offset_s)}</strong>${known(seen.spread_s) && html`, give or take <span class="nowrap">${Math.max(1, Math.ceil(seen.spread_s))} s</span>`}${from}${clock.zone && html`; its zone is ${clock.zone}`}.</span></p>`;
  }
  if (clock.zone) return html`<p class="state good" data-clock-line>${icon('clock')}<span>The camera’s clock is taken as right, in the zone ${clock.zone}.</span></p>`;
  if (photos.length > 0 && photos.every((one) => one.known)) return html`<p class="state quiet" data-clock-line>${icon('clock')}<span>Nothing to put right: every photo here is kept already, with its time and place.</span></p>`;
  if (seen?.text) return html`<p class="state ask" data-clock-line>${icon('clock')}<span>${seen.text}</span></p>`;
  const zoneless = photos.some((one) => (one.trouble ?? []).some((t) => t.code === 'no-zone'));
  return html`<p class="state ${zoneless ? 'ask' : 'quiet'}" data-clock-line>${icon('clock')}<span>${zoneless
    ? 'Nothing was found out about the camera’s clock: there is no walk with times among the files to hold it against.'
    : 'Nothing to put right: every photo that tells its time tells its zone too.'}</span></p>`;
}

function saidLine(said) {
  if (!said) return null;
  const { moved, placed, lost } = said;
  const parts = [moved > 0 && `${count(moved, 'photo', 'photos')} moved`, placed > 0 && `${count(placed, 'photo has', 'photos have')} a place now that had none`, lost > 0 && `${count(lost, 'photo has', 'photos have')} lost its place`].filter(Boolean);
  return html`<p class="strong" role="status" data-clock-said>${parts.length === 0 ? 'Placed again: no photo moved.' : `Placed again: ${parts.join(', ')}.`}</p>`;
}

/** Seconds as the fields of the form. */
function handFields(clock) {
  const s = clock.clock_offset_s;
  if (!known(s)) return { was: 1, hours: null, minutes: null, seconds: null };
  const whole = Math.abs(Math.round(s));
  return { was: s < 0 ? -1 : 1, hours: Math.floor(whole / 3600), minutes: Math.floor((whole % 3600) / 60), seconds: whole % 60 };
}

/**
 * The sheet of the camera's clock.
 * @param {{seen: object|null, clock: object, photos: object[], said: object|null, form: {open: boolean, way: string,
 *   n: number|null}, zones: string[], ownZone: string}} what seen: what home found; form: how it stands on the screen, n: the
 *   number of the photo that shows a clock
 */
export function clockSheet({ seen, clock, photos, said, form, zones, ownZone }) {
  const zoneless = photos.filter((one) => !one.known && (one.trouble ?? []).some((t) => t.code === 'no-zone')).length;
  const photo = form.n === null ? null : photos[form.n - 1] ?? null;
  const { was, hours, minutes, seconds } = handFields(clock);
  const shown = clock.clock_photo?.sha256 === photo?.sha256 ? clock.clock_photo : null;
  const cameraAt = photo?.camera_at ?? null;
  const ways = {
    estimated: html`<p class="hint">Held against the walk, by the photos that know both their time and their own place.</p>`,
    photo: html`${numberField({ name: 'n', label: 'Number of the photo that shows a clock', value: form.n, start: 1, min: 1, max: Math.max(1, photos.length) })}
      ${photo && html`<figure class="clock-photo"><span data-large="${photo.sha256}">${icon('photo')}</span><figcaption>${photo.file}. ${cameraAt ? `The camera had ${showDate(cameraAt.slice(0, 10))}, ${cameraAt.slice(11)}.` : 'It does not say what time its camera had: choose another.'}</figcaption></figure>`}
      <div class="two">${dateField({ name: 'shown_on', label: 'The day it was', value: shown?.shown.slice(0, 10) ?? cameraAt?.slice(0, 10) ?? null })}
        ${textField({ name: 'shown_at', label: 'The time the clock shows', value: shown?.shown.slice(11) ?? null, inputmode: 'text', hint: 'As 14:05:30, or 14:05 without seconds.' })}</div>
      ${textField({ name: 'shown_zone', label: 'The zone that clock kept', value: shown?.zone ?? ownZone, options: zones })}`,
    hand: html`${chips({ name: 'was', label: 'The camera’s clock was', value: was, options: [{ value: 1, label: 'behind' }, { value: -1, label: 'ahead' }] })}
      <div class="three">${numberField({ name: 'hours', label: 'by', unit: 'h', value: hours, min: 0, max: MOST_HOURS })}
        ${numberField({ name: 'minutes', label: 'and', unit: 'min', value: minutes, min: 0, max: 59 })}
        ${numberField({ name: 'seconds', label: 'and', unit: 's', value: seconds, min: 0, max: 59 })}</div>
      ${textField({ name: 'zone', label: 'The zone it was set to', value: clock.zone ?? (wayOf(clock) === 'hand' ? null : ownZone), options: zones, hint: 'As Europe/London. Leave the hours empty where only the zone is known.' })}`,
  };
  return html`<section class="sheet"><h2>The camera’s clock</h2>
    ${clockLine(seen, clock, photos)}
    ${saidLine(said)}
    ${zoneless > 0 && wayOf(clock) === 'estimated' && html`<div class="row"><p>${zoneless === 1 ? '1 photo tells' : `${zoneless} photos tell`} a time without its zone.</p>
      <button type="button" class="button" data-zone="${ownZone}">The camera was set to ${ownZone}</button></div>`}
    <details class="fold" data-clock-fold ${form.open ? html`open` : ''}><summary>Set it another way</summary>
      <form novalidate class="stack" id="clock">
        ${chips({ name: 'way', label: 'How its clock is known', value: form.way, options: WAYS })}
        ${ways[form.way]}
        <div class="actions"><button type="submit" class="button primary">${icon('clock')}Place them again</button></div></form></details></section>`;
}

/**
 * What the form says.
 * @param {HTMLFormElement} form
 * @param {object[]} photos
 * @returns {{clock_offset_s: number|null, zone: string|null, clock_photo: object|null}}
 * @throws {FormFault} with its sentence at the field
 */
export function readClock(form, photos) {
  const read = readForm(form);
  const refuse = (name, sentence) => {
    showFault(form, name, sentence);
    throw new FormFault(name, sentence);
  };
  const none = { clock_offset_s: null, zone: null, clock_photo: null };
  if (read.way === 'photo') {
    const photo = read.n === null ? null : photos[read.n - 1] ?? null;
    if (!photo) refuse('n', 'There is no photo of that number. Take one from the list below.');
    if (!photo.camera_at) refuse('n', 'That photo does not say what time its camera had. Choose another.');
    if (read.shown_on === null) refuse('shown_on', 'The day is needed.');
    const time = TIME.exec(read.shown_at ?? '');
    if (!time) refuse('shown_at', 'That is no time of day. Write it as 14:05:30.');
    if (read.shown_zone === null) refuse('shown_zone', 'The zone is needed, as Europe/London.');
    const [, hours, minutes, seconds] = time;
    const shown = `${read.shown_on}T${hours.padStart(2, '0')}:${minutes}${seconds === undefined ? '' : `:${seconds}`}`;
    return { ...none, clock_photo: { sha256: photo.sha256, shown, zone: read.shown_zone } };
  }
  if (read.way === 'hand') {
    const told = [read.hours, read.minutes, read.seconds];
    const offset = told.every((one) => one === null) ? null : read.was * ((read.hours ?? 0) * 3600 + (read.minutes ?? 0) * 60 + (read.seconds ?? 0));
    if (offset === null && read.zone === null) refuse('hours', 'Say by how much, or in which zone it was right.');
    return { ...none, clock_offset_s: offset === 0 ? 0 : offset, zone: read.zone };
  }
  return none;
}
