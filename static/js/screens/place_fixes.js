/** The part of Where it stands that lists a tree's fixes by stays, tells which are set aside and why, and how they spread. */

import { distanceM } from '../core/geodesy.js';
import { hasPosition, staysOf } from '../hill/steady_fix.js';
import { isFar, quarrelM, weighRecords } from '../hill/tree_place.js';
import { html } from '../ui/html.js';
import { icon } from '../ui/icons.js';
import { scatter } from '../ui/scatter.js';
import { count, showDistance, showInstant } from '../ui/words.js';

const SOURCES = {
  'web-geolocation': 'phone’s receiver',
  exif: 'written in a photo',
  track: 'from a recorded walk',
  hand: 'typed or set by hand',
};

/** '± 3.5 m' below ten metres, '± 14 m' from there on. */
export function showAccuracy(accuracyM) {
  if (!accuracyM) return 'accuracy not known'; // as core/fix.js: an accuracy of 0 says nothing
  return `± ${accuracyM < 9.95 ? Math.max(0.1, accuracyM).toFixed(1) : Math.round(accuracyM)} m`;
}

/** A distance between fixes: '2.2 m' below ten metres, then whole metres. */
export function showOff(metres) {
  return metres < 9.95 ? `${metres.toFixed(1)} m` : showDistance(metres);
}

/** Day and time of a fix by this phone's clock. */
function dayAndTime(record) {
  return record.fields.fixed_at ? showInstant(record.fields.fixed_at).split(', ') : [null, null];
}

const dayOf = (record) => dayAndTime(record)[0];
const timeOf = (record) => dayAndTime(record)[1];

/**
 * What is set aside, one sentence a stay.
 * @returns {{ids: string[], text: string, is_far: boolean}[]} is_far: something is wrong with it, beyond the ordinary scatter
 */
export function asideSentences(records) {
  const { aside, weighed } = weighRecords(records);
  return staysOf(records.filter((record) => aside.has(record.id))).map((stay) => {
    const [first] = stay;
    const { why } = aside.get(first.id);
    const off = Math.max(...stay.map((record) => aside.get(record.id).off_m));
    const which = dayOf(first) ? `of ${dayOf(first)}` : 'with no date';
    const one = stay.length === 1;
    const far = why === 'no-accuracy' || stay.some((record) => isFar(record, aside.get(record.id).off_m, weighed));
    const what = why === 'no-accuracy'
      ? `${one ? 'tells' : 'tell'} no accuracy beside others that do, and ${one ? 'is' : 'are'} set aside.`
      : far
        ? `${one ? 'lies' : 'lie up to'} ${showDistance(off)} off and ${one ? 'is' : 'are'} set aside.`
        : `${one ? 'lies' : 'lie up to'} ${showDistance(off)} off, within what both claim; the mean goes by the closer group.`;
    return { ids: stay.map((record) => record.id), is_far: far, text: `${one ? 'The one' : `${stay.length} of those`} ${which} ${what}` };
  });
}

/** How many fixes a position is made of and how far they spread, in sentences. */
export function spreadWords(weighed, all) {
  if (weighed.used.length === 1) return all === 1 ? 'From one fix.' : `From 1 of ${all} fixes.`;
  const from = weighed.used.length === all ? `From ${all} fixes.` : `From ${weighed.used.length} of ${all} fixes.`;
  return `${from} Half of them lie within ${showOff(weighed.half_m)} of it, the furthest ${showOff(weighed.furthest_m)} away.`;
}

function fixRow(record, weighed, aside) {
  const { fields } = record;
  const off = weighed && hasPosition(fields) ? distanceM(fields.lat, fields.lon, weighed.lat, weighed.lon) : null;
  const out = aside.get(record.id);
  const alone = weighed?.used.length === 1 && !out;
  return html`<li><div class="entry"><span class="entry-main"><span class="entry-title">${showAccuracy(fields.accuracy_m)}</span>
      <span class="entry-under">${[timeOf(record), off === null ? 'no position in it' : alone ? null : `${showOff(off)} from the middle`].filter(Boolean).join(', ')}</span>
      ${out && html`<span class="state ask">${icon('ask')}set aside</span>`}</span>
    <button type="button" class="button quiet" data-delete-fix="${record.id}" aria-label="Take out the fix of ${fields.fixed_at ? showInstant(fields.fixed_at) : 'a day not known'}, ${showAccuracy(fields.accuracy_m)}">${icon('bin')}Take out</button></div></li>`;
}

function stayHead(stay) {
  const [{ fields }] = stay;
  const source = SOURCES[fields.source] ?? 'source not noted';
  return html`<h3>${dayOf(stay[0]) ?? 'Date not known'}</h3><p class="muted">${count(stay.length, 'fix', 'fixes')}, ${source}${fields.platform ? `, ${fields.platform}` : ''}</p>`;
}

function bestOf(stay) {
  const told = stay.map((one) => one.fields.accuracy_m).filter(Boolean);
  return told.length > 0 ? `Best ${showAccuracy(Math.min(...told))}` : 'Accuracy not known';
}

/**
 * A sentence where the fixes that make the position contradict each other: of two nobody can tell which is wrong, and the
 * rule sets neither aside. Null where they agree.
 */
export function quarrelWords(records) {
  const apart = quarrelM(records);
  return apart === null ? null : `They do not agree: they lie up to ${showOff(apart)} from the middle, more than their accuracy explains, and the one above is not to be trusted. Take it once more, to see which was wrong.`;
}

/** Every fix of the tree, by stays, and a drawing of how they lie. */
export function fixList(records) {
  if (records.length === 0) return html`<p class="muted">No position yet. Stand beside the tree and hold still, or type where it stands.</p>`;
  const { weighed, usable, aside } = weighRecords(records);
  return html`${usable.length > 1 && scatter(usable.map(({ id, fields }) => ({ lat: fields.lat, lon: fields.lon, is_used: !aside.has(id) })), weighed)}
    ${staysOf(records).map((stay) => html`<section class="stay">${stayHead(stay)}
    ${stay.length > 3
      ? html`<details class="fold"><summary>${bestOf(stay)}: see all ${stay.length}</summary><ul class="entries">${stay.map((one) => fixRow(one, weighed, aside))}</ul>
          <button type="button" class="button quiet" data-delete-stay="${stay.map((one) => one.id).join(' ')}">${icon('bin')}Take all ${stay.length} out</button></details>`
      : html`<ul class="entries">${stay.map((one) => fixRow(one, weighed, aside))}</ul>`}</section>`)}`;
}
