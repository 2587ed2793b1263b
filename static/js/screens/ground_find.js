/** The part of Ground that finds a place somebody typed: on the map, from here, on which site, and which tree is near. */

import { BadInput } from '../core/errors.js';
import { metresBetween } from '../hill/ground_facts.js';
import { readTyped, siteWords, TYPED_HINT, wayWords } from '../hill/typed_place.js';
import { getMeta, setMeta } from '../store.js';
import { clearFaults, showFault, textField } from '../ui/form.js';
import { html, on, render } from '../ui/html.js';
import { icon } from '../ui/icons.js';
import { copyFrom, notationRows } from '../ui/notation.js';
import { notice } from '../ui/notice.js';
import { showDistance } from '../ui/words.js';

const NEAR_M = 60; // a tree no further off than this is told of, beyond what the figures leave open
const NOTATION = 'notation'; // the notation this person wants first, as on Where it stands

/**
 * Put the field into its place.
 * @param {Element} place emptied and filled
 * @param {{map: object, here: () => object|null, sites: () => object[], trees: () => object[]}} how here: the fix of this
 *   moment; sites: merged records; trees: rows of readTrees
 * @returns {Promise<{close: () => void, redraw: () => void}>} redraw: after the position or what is kept has changed
 */
export async function findPlace(place, { map, here, sites, trees }) {
  let found = null;
  let preferred = await getMeta(NOTATION);
  const part = (name) => place.querySelector(`[data-${name}]`);

  render(place, html`<form novalidate id="find-place"><div class="field-and-button">
      ${textField({ name: 'position', label: 'Find a place', hint: TYPED_HINT })}
      <button type="submit" class="button">${icon('fix')}Show it</button></div></form>
    <div data-found></div>`);

  function nearTree() {
    const reach = NEAR_M + (found.accuracy_m ?? 0);
    const [near] = trees().filter((row) => row.place).map((row) => ({ row, metres: metresBetween(found, row.place) }))
      .filter((one) => one.metres <= reach).sort((a, b) => a.metres - b.metres);
    return near && html`<p>Nearest tree: <a href="#/place/${near.row.id}">${near.row.tag ?? 'no tag'}</a>, ${showDistance(near.metres)} from there.</p>`;
  }

  function draw() {
    if (!found) {
      render(part('found'), html``);
      return;
    }
    const from = here();
    render(part('found'), html`<div class="found-place"><p role="status"><span class="strong" data-found-site>${siteWords(sites(), found)}.</span>
        <span data-found-way>${from ? `${wayWords(from, found)}.` : 'How far it is can be told once your position is shown.'}</span></p>
      ${nearTree()}${notationRows(found, preferred)}
      <button type="button" class="button" data-found-away>${icon('close')}Take it off the map</button></div>`);
  }

  function show(ev, form) {
    ev.preventDefault();
    clearFaults(form);
    try {
      found = readTyped(form.elements.position.value);
    } catch (fault) {
      if (!(fault instanceof BadInput)) throw fault;
      found = null;
      map.showPlace(null);
      draw();
      showFault(form, 'position', [fault.message, fault.cure].filter(Boolean).join(' '));
      return;
    }
    map.showPlace(found, form.elements.position.value.trim());
    map.lookAt(found);
    draw();
  }

  const stops = [
    on(place, 'submit', '#find-place', show),
    on(place, 'click', '[data-copy]', (ev, button) => copyFrom(button)),
    on(place, 'click', '[data-found-away]', () => {
      found = null;
      map.showPlace(null);
      draw();
      place.querySelector('input').focus();
    }),
    on(place, 'change', '[name="notation_first"]', async (ev, select) => {
      preferred = select.value;
      draw();
      await setMeta(NOTATION, preferred).catch((fault) => notice(`Not kept: ${fault.message}`, { kind: 'trouble' }));
    }),
  ];
  return { close: () => stops.forEach((stop) => stop()), redraw: draw };
}
