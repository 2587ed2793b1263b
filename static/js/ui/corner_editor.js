/**
 * Draw a boundary: walk to each corner, tap the map, or paste the area. Everything a tap does can be done by a button too.
 * The map and the receiver are handed in; this file knows neither.
 */

import { AreaFault, areaFromCorners, areaHa, cornersOf, readAreaText } from '../core/area_text.js';
import { clearFaults, fileField, noteField, readForm, showFault, textField, FormFault } from './form.js';
import { html, on, render } from './html.js';
import { icon } from './icons.js';
import { readCorners } from './read_corners.js';
import { count, showDistance } from './words.js';

const MOST_HA = 10_000; // own rule: one landholder's ground is hardly larger; a slip of the degrees is
const COARSE_M = 20; // common practice: a corner less sure than this is worth waiting for
const KEPT_TEXT = 20_000; // characters of typed text that are put away with a draft; a longer one is a file, and is there to be chosen again

function degrees(text, limit) {
  const plain = String(text ?? '').trim().replace(',', '.');
  const number = /^-?\d+(\.\d+)?$/.test(plain) ? Number(plain) : NaN;
  return Math.abs(number) <= limit ? number : null;
}

/**
 * @param {Element} place where the buttons go
 * @param {{title?: string, map: object, boundary: object|null, draft: object|null, others?: object[], whereAmI: () => object|null,
 *   onDraft: (draft: object) => any, onSave: (boundary: object) => any, onCancel: () => any}} work
 *   others: sites around, shown faintly to find the way by; whereAmI: the best fix so far; onDraft is told of each step, so that a killed app loses no corner
 * @returns {() => void} close
 */
export function openCornerEditor(place, { title = 'Boundary', map, boundary, draft, others = [], whereAmI, onDraft, onSave, onCancel }) {
  let corners = draft?.corners ?? cornersOf(boundary) ?? [];
  let pasted = draft?.pasted ?? (boundary && !cornersOf(boundary) ? boundary : null); // an area kept as a whole
  let typed = draft?.typed ?? ''; // text that has not become an area yet: a fault must not cost it
  let inHand = null;
  let said = null;
  const before = [];

  function step(change) {
    before.push({ corners: [...corners], pasted });
    change();
    said = null;
    keep();
    draw();
  }

  const keep = () => onDraft({ corners, pasted, typed: typed.length <= KEPT_TEXT ? typed : '' });

  function put(corner) {
    step(() => {
      pasted = null;
      if (inHand === null) corners = [...corners, corner];
      else corners = corners.map((one, i) => (i === inHand ? corner : one));
      inHand = null;
    });
  }

  function putHere() {
    const fix = whereAmI();
    if (!fix) {
      said = 'Your position is not known yet. Wait a little under open sky, or tap the map.';
      return draw();
    }
    put({ lat: fix.lat, lon: fix.lon });
    if (fix.accuracy_m === null || fix.accuracy_m > COARSE_M) {
      said = fix.accuracy_m === null ? 'Set, but how surely is not known.' : `Set, but only within ${showDistance(fix.accuracy_m)}. Stay a minute and move it, or go on.`;
      draw();
    }
    return undefined;
  }

  /** Whether what is drawn makes an area at all. */
  function isArea() {
    try {
      return Boolean(pasted ?? areaFromCorners(corners));
    } catch (fault) {
      if (fault instanceof AreaFault) return false;
      throw fault;
    }
  }

  function sizeWords() {
    if (pasted) return `The whole area as it was given, about ${areaHa(pasted).toFixed(2)} ha. Setting a corner starts a new one in its place.`;
    if (corners.length < 3) return `${count(corners.length, 'corner', 'corners')} so far; three make an area.`;
    try {
      return `${count(corners.length, 'corner', 'corners')}, about ${areaHa(areaFromCorners(corners)).toFixed(2)} ha.`;
    } catch (fault) {
      if (fault instanceof AreaFault) return fault.message;
      throw fault;
    }
  }

  function draw() {
    map.showSites([...others.map((site) => ({ ...site, kind: 'around' })), ...(pasted ? [{ id: 'pasted', name: 'as given', boundary: pasted }] : [])]);
    map.showCorners(pasted ? [] : corners, inHand, (i) => {
      inHand = inHand === i ? null : i;
      said = null;
      draw();
    });
    const held = inHand === null ? null : corners[inHand];
    render(place, html`<section class="sheet corner-editor"><h2>${title}</h2>
      <p role="status">${said ?? sizeWords()}</p>
      ${corners.length === 0 && !pasted && html`<p>Walk to a corner and press “Corner here”, or tap the corners on the map, in the order they are walked.</p>`}
      ${held && html`<p class="strong">Corner ${inHand + 1} is in hand. Tap the map or press a button to move it.</p>`}
      <div class="pick-row">
        <button type="button" class="button" data-act="middle">${icon('plus')}${held ? 'Move it to the map’s middle' : 'Corner at the map’s middle'}</button>
        <button type="button" class="button" data-act="undo" ${before.length ? '' : html`disabled`}>${icon('undo')}One step back</button>
        ${held && html`<button type="button" class="button rust" data-act="out">${icon('bin')}Take it out</button>
          <button type="button" class="button" data-act="after">${icon('plus')}Another one after it</button>`}
      </div>
      ${held && html`<form novalidate data-degrees><div class="two">
        ${textField({ name: 'lat', label: 'Latitude', value: held.lat.toFixed(6), inputmode: 'text', required: true })}
        ${textField({ name: 'lon', label: 'Longitude', value: held.lon.toFixed(6), inputmode: 'text', required: true })}</div>
        <button class="button">Set these degrees</button></form>`}
      ${corners.length > 0 && !pasted && html`<div class="pick-row" role="group" aria-label="Corners">${corners.map((_, i) => html`<button type="button" class="button" data-corner="${i}" aria-pressed="${String(i === inHand)}" aria-label="Corner ${i + 1}">${i + 1}</button>`)}</div>`}
      <details class="fold" ${typed ? html`open` : ''}><summary>Type the corners, or bring an area from elsewhere</summary>
        <form novalidate data-paste>${noteField({ name: 'area', label: 'Corners, track or area', value: typed, rows: 5, required: true, maxLength: 5_000_000, hint: 'One corner to a line, in degrees or in any grid: 55.4012, -3.3920. Or the text of a GPX track walked round the edge, or of a GeoJSON area. It is drawn on the map before you save it.' })}
        <div class="pick-row"><button class="button">Read it</button>${fileField({ name: 'file', label: 'Choose a GPX or GeoJSON file', accept: '.gpx,.geojson,.json,application/gpx+xml,application/geo+json', iconName: 'site' })}</div></form></details>
      <button type="button" class="button quiet" data-act="cancel">Not now, leave it as it was</button>
      <div class="actions stuck"><button type="button" class="button hill" data-act="here">${icon('fix')}${held ? 'Move it here' : 'Corner here'}</button>
        <button type="button" class="button primary hill" data-act="save">Save</button></div>
    </section>`);
  }

  function save() {
    try {
      const boundary = pasted ?? areaFromCorners(corners);
      const ha = areaHa(boundary);
      if (ha > MOST_HA) throw new AreaFault(`This area has ${Math.round(ha).toLocaleString('en-GB')} ha; one site has at most ${MOST_HA.toLocaleString('en-GB')}. Look at its corners: one may have a wrong degree.`);
      return onSave(boundary);
    } catch (fault) {
      if (!(fault instanceof AreaFault)) throw fault;
      said = fault.message;
      return draw();
    }
  }

  const acts = {
    here: putHere,
    middle: () => put(map.middle()),
    undo: () => {
      const last = before.pop();
      if (!last) return;
      ({ corners, pasted } = last);
      inHand = null;
      keep();
      draw();
    },
    out: () => step(() => { corners = corners.filter((_, i) => i !== inHand); inHand = null; }),
    after: () => step(() => {
      const next = corners[(inHand + 1) % corners.length];
      const held = corners[inHand];
      corners = [...corners.slice(0, inHand + 1), { lat: (held.lat + next.lat) / 2, lon: (held.lon + next.lon) / 2 }, ...corners.slice(inHand + 1)];
      inHand += 1;
    }),
    save,
    cancel: onCancel,
  };

  draw();
  map.fit();
  map.keepInSight(true, whereAmI());
  const stops = [
    map.onTap(put),
    on(place, 'click', '[data-act]', (ev, button) => acts[button.dataset.act]()),
    on(place, 'click', '[data-corner]', (ev, button) => {
      const i = Number(button.dataset.corner);
      inHand = inHand === i ? null : i;
      draw();
      if (inHand !== null) map.lookAt(corners[inHand]);
    }),
    on(place, 'submit', '[data-degrees]', (ev, form) => {
      ev.preventDefault();
      clearFaults(form);
      const [lat, lon] = [degrees(form.elements.lat.value, 90), degrees(form.elements.lon.value, 180)];
      if (lat === null) return showFault(form, 'lat', `“${form.elements.lat.value}” is no latitude. Write degrees from -90 to 90, as 55.4012.`);
      if (lon === null) return showFault(form, 'lon', `“${form.elements.lon.value}” is no longitude. Write degrees from -180 to 180, as -3.392; west is minus.`);
      return put({ lat, lon });
    }),
    on(place, 'change', '[data-paste] input[type="file"]', async (ev, input) => {
      const { form } = input;
      const [file] = input.files;
      if (!file) return;
      form.elements.area.value = await file.text();
      typed = form.elements.area.value;
      input.value = '';
      form.requestSubmit();
    }),
    on(place, 'input', '[data-paste] textarea', (ev, box) => {
      typed = box.value;
      keep();
    }),
    on(place, 'submit', '[data-paste]', (ev, form) => {
      ev.preventDefault();
      try {
        const text = readForm(form).area;
        const area = text.startsWith('{') || text.startsWith('[') ? readAreaText(text) : null;
        const single = area ? cornersOf(area) : readCorners(text);
        step(() => {
          pasted = single ? null : area;
          corners = single ?? [];
          inHand = null;
          typed = isArea() ? '' : text;
        });
        map.fit();
      } catch (fault) {
        if (fault instanceof AreaFault) showFault(form, 'area', fault.message);
        else if (!(fault instanceof FormFault)) throw fault;
      }
    }),
  ];
  return () => {
    for (const stop of stops) stop();
    map.showCorners([], null, () => {});
    place.replaceChildren();
    map.keepInSight(false);
  };
}
