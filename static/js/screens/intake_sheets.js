/** The smaller sheets of the intake: where files are dropped, how far it got, what was not taken, the walks, the place by hand. */

import { notations, readPosition } from '../core/gridref.js';
import { html } from '../ui/html.js';
import { icon } from '../ui/icons.js';
import { count, showDistance, showInstant } from '../ui/words.js';
import { intake, nameOf, TOLD_WORDS } from './intake_job.js';

const MOST_BAD = 3; // more of them are folded: what was taken stands below
const MB = 1_000_000;
const UNIFORM_68 = 0.465; // radius of the circle with 68 % of a square's area, in sides of the square: sqrt(0.68 / pi)

const known = (value) => value !== null && value !== undefined;

/** Where files come in. */
export function dropSheet(title) {
  return html`<section class="sheet drop" data-drop><h2>${title}</h2>
    <p>Photos and recorded walks (GPX): drop them here, or choose them. Originals keep the camera’s own time and place.</p>
    <div class="pick-row">
      <label class="button file hill">${icon('photo')}<span>Choose files</span><input type="file" class="unseen" name="files" multiple></label>
      <label class="button file hill">${icon('intake')}<span>Choose a folder</span><input type="file" class="unseen" name="folder" webkitdirectory multiple></label>
    </div><p class="muted">A copy that a phone kept? <a href="#/copy?part=home">Bring it home here</a>. A weather station’s file? <a href="#/weather">Choose its place</a>.</p></section>`;
}

const megabytes = (bytes) => (bytes < 10 * MB ? (bytes / MB).toFixed(1) : String(Math.round(bytes / MB)));

/** How far it got, in a sentence. */
export function runWords({ step, done, of, sent, bytes, name, waits }) {
  if (step === 'read') return waits ?? `Home is reading ${count(of, 'file', 'files')}.`;
  if (step === 'save') return `Home is keeping ${count(of, 'file', 'files')}.`;
  if (step === 'undo') return `Home is taking ${count(of, 'file', 'files')} back.`;
  const far = `${done} of ${of} home, ${megabytes(sent)} of ${megabytes(bytes)} MB`;
  if (waits) return `${waits} ${far}; what is home stays there.`;
  return done < of ? `${far}: ${name}` : far;
}

/** Progress with its buttons. */
export function runSheet({ step, waits, byItself }, mark) {
  return html`<div class="sheet progress" data-run-step="${mark}">${step === 'send' ? html`<progress max="1" value="0" aria-label="Sent home"></progress>` : html`<progress aria-label="Home is at work"></progress>`}
    <p data-run-words role="status"></p>
    ${waits !== null && html`<p class="state ask">${icon('warn')}<span>${byItself ? 'It goes on by itself as soon as home answers.' : 'It waits until you say go on.'}</span></p>`}
    <div class="actions">${waits !== null && html`<button type="button" class="button primary" data-go-on-now>${icon('sync')}Go on now</button>`}
      ${(step === 'send' || waits !== null) && html`<button type="button" class="button" data-stop>${icon('close')}Stop</button>`}</div></div>`;
}

/** What was chosen and is not home: after a stop, or after the app was closed while files were being sent. */
export function unsentSheet() {
  const { run, rest, sent, of, found } = intake;
  if (run) return null;
  const away = rest.length > 0 ? rest.length : Math.max(0, of - sent.length);
  if (away === 0 && (found !== null || sent.length === 0)) return null;
  const look = found === null && sent.length > 0 && html`<button type="button" class="button" data-read>Look over the ${count(sent.length, 'file', 'files')} at home</button>`;
  return html`<section class="sheet" data-unsent><h2>An intake is begun</h2>
    <p>${sent.length} of ${of} files are home${away === 0 ? '' : html`. ${rest.length > 0 ? 'The others wait here.' : 'Choose the same files or folder again for the others; what is home is not sent twice.'}`}</p>
    <div class="actions">${rest.length > 0 && html`<button type="button" class="button primary" data-send-rest>${icon('sync')}Go on with the other ${rest.length}</button>`}${look}
      ${found === null && html`<button type="button" class="button quiet" data-again>Start again</button>`}</div></section>`;
}

/** What is not taken, each with its sentence. */
export function badSheet(bad) {
  if (bad.length === 0) return null;
  const item = (one) => html`<li class="ask" data-trouble="${one.name}">${icon('warn')}<div><p class="strong">${one.name}</p><p>${one.text}</p></div></li>`;
  return html`<section class="sheet" data-bad><div class="sheet-head"><h2>Not taken: ${bad.length}</h2><button type="button" class="button quiet" data-forget-bad>Put this away</button></div><ul class="reasons">${bad.slice(0, MOST_BAD).map(item)}</ul>
    ${bad.length > MOST_BAD && html`<details class="fold"><summary>${bad.length - MOST_BAD} more</summary><ul class="reasons">${bad.slice(MOST_BAD).map(item)}</ul></details>`}</section>`;
}

/** The walks, in words. */
export function walkSheet(tracks) {
  if (tracks.length === 0) return null;
  return html`<section class="sheet"><h2>Walks</h2><ul class="entries">${tracks.map((one) => html`<li><div class="entry" data-track="${one.sha256}"><span class="entry-icon">${icon('walk')}</span><span class="entry-main"><span class="entry-title">${nameOf(one)}</span>
    <span class="entry-under">${known(one.length_m) ? showDistance(one.length_m) : 'length not known'}, ${count(one.points ?? 0, 'point', 'points')}${one.start ? `, ${showInstant(one.start)}` : ', no times'}</span>${(one.trouble ?? []).map((t) => html`<span class="entry-under">${t.text}</span>`)}
    ${one.known && html`<span class="state quiet">${icon('done')}kept already</span>`}</span></div></li>`)}</ul></section>`;
}

/** Below the sketch: the chosen photo's place, and the way to give it another. */
export function placeTools({ one, n, moving, place }) {
  if (moving) {
    return html`<p class="state ask" role="status">${icon('hand')}<span>${moving.length === 1 ? 'Tap the sketch where it was taken, or type the place.' : `Tap the sketch where these ${moving.length} were taken, or type the place.`}</span></p>
      <form novalidate id="place-form" class="stack"><div class="field"><label for="place-text">The place</label>
        <div class="with-button"><input id="place-text" name="place" type="text" autocomplete="off" aria-describedby="place-hint place-fault"><button type="submit" class="button primary">Set it</button></div>
        <p class="hint" id="place-hint">A grid reference (NT 123 456), degrees (55.4025 -3.3950), UTM or MGRS.</p><p class="fault" id="place-fault" role="alert" hidden></p></div>
        <div class="actions"><button type="button" class="button" data-stop-moving>${icon('close')}Leave it as it is</button></div></form>`;
  }
  if (!one) return html`<p class="muted">Numbers are photos, rings are trees, the line is the walk. Tap a photo here or its number in the list.</p>`;
  const said = place ? notations(place.lat, place.lon, place.accuracy_m) : null;
  return html`<div data-chosen="${one.sha256}"><p class="strong">Photo ${n}, ${nameOf(one)}</p>
    <p>${place ? html`${said.gb_grid ?? said.irish_grid ?? said.decimal}, ${known(place.accuracy_m) ? `± ${Math.max(1, Math.round(place.accuracy_m))} m${TOLD_WORDS[place.told] ?? ''}: the circle` : 'how surely is not known'}` : 'It has no place yet.'}</p></div>
    ${!one.known && !intake.left[one.sha256] && html`<div class="pick-row">
      ${place && !intake.accepted[one.sha256] && html`<button type="button" class="button" data-tool="accept">${icon('fix')}Accept the place</button>`}
      <button type="button" class="button" data-tool="move">${icon('hand')}${place ? 'Move it' : 'Place it'}</button>
      ${intake.moved[one.sha256] && html`<button type="button" class="button" data-tool="back">${icon('undo')}Put it back</button>`}</div>`}`;
}

/** The place that was typed, as surely as its figures tell it; degrees tell nothing of that. @throws {BadInput} */
export function typedPlace(text) {
  const { lat, lon, square_m: side } = readPosition(text);
  return { lat, lon, accuracy_m: side === null ? null : Math.max(1, Math.round(side * UNIFORM_68)), told: 'figures' };
}

/** The buttons that stay in sight. */
export function saveBar(fresh, busy) {
  return html`<button type="button" class="button hill" data-again ${busy ? html`disabled` : ''}>Start again</button>
    <button type="button" class="button primary hill" data-save ${fresh === 0 || busy ? html`disabled` : ''}>${icon('intake')}${fresh === 0 ? 'Nothing new to save' : `Save ${count(fresh, 'file', 'files')}`}</button>`;
}
