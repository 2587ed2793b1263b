/** The part of Where it stands that takes a position somebody typed, off a map or an older note, as one more fix. */

import { BadInput } from '../core/errors.js';
import { metresBetween } from '../hill/ground_facts.js';
import { readTyped, saidAccuracy, siteWords, TYPED_HINT } from '../hill/typed_place.js';
import { dropDraft, getDraft, listRecords, newId, saveChanges, saveDraft } from '../store.js';
import { clearFaults, FormFault, numberField, readDraft, readForm, showFault, textField } from '../ui/form.js';
import { html, on, render } from '../ui/html.js';
import { icon } from '../ui/icons.js';
import { notice } from '../ui/notice.js';
import { showDistance } from '../ui/words.js';
import { showAccuracy } from './place_fixes.js';

/**
 * Put the form into its place.
 * @param {Element} place emptied and filled
 * @param {{tree: object, stands: () => object|null}} how tree: its record; stands: the position kept so far
 * @returns {Promise<() => void>} close
 */
export async function typePosition(place, { tree, stands }) {
  const key = `place-type-${tree.id}`;
  const [draft, sites] = await Promise.all([getDraft(key), listRecords('site')]);

  function draw(values, open) {
    render(place, html`<details class="fold" ${open ? html`open` : ''}><summary>Type its position</summary>
      <form novalidate id="place-type">
        ${textField({ name: 'position', label: 'Position', value: values.position ?? null, hint: TYPED_HINT })}
        ${numberField({ name: 'said_m', label: 'How sure, if you know', unit: 'm', value: values.said_m ?? null, step: 5, start: 5, min: 0.1, max: 100_000, whole: false, hint: 'Empty: as sure as the figures typed make it' })}
        <p class="strong" role="status" data-typed-read></p>
        <div class="actions"><button type="submit" class="button primary hill">${icon('fix')}Save this position</button></div></form></details>`);
    tell(values);
  }

  /** What the figures say so far, while they are typed: nothing as long as they cannot be read. */
  function tell({ position, said_m: said }) {
    const line = place.querySelector('[data-typed-read]');
    let typed;
    try {
      typed = readTyped(position ?? '');
    } catch (fault) {
      if (!(fault instanceof BadInput)) throw fault;
      line.textContent = ''; // half of a position is no fault yet: saving tells what is wrong
      return;
    }
    const kept = stands();
    const accuracy = saidAccuracy(typed, typeof said === 'number' ? said : null);
    line.textContent = [
      siteWords(sites, { ...typed, accuracy_m: accuracy }), showAccuracy(accuracy),
      kept && `${showDistance(metresBetween(typed, kept))} from what is kept`,
    ].filter(Boolean).join(', ');
  }

  async function save(ev, form) {
    ev.preventDefault();
    let read;
    let typed;
    try {
      read = readForm(form);
      typed = readTyped(read.position ?? '');
    } catch (fault) {
      if (fault instanceof FormFault) return;
      if (!(fault instanceof BadInput)) throw fault;
      showFault(form, 'position', [fault.message, fault.cure].filter(Boolean).join(' '));
      return;
    }
    const accuracy = saidAccuracy(typed, read.said_m);
    const rec = newId();
    await saveChanges([{ rec, type: 'fix', set: {
      tree: tree.id, lat: typed.lat, lon: typed.lon, accuracy_m: accuracy, fixed_at: new Date().toISOString(), source: 'hand' } }]);
    await dropDraft(key);
    draw({}, false);
    notice(`Position as typed, ${showAccuracy(accuracy)}. Saved on this phone.`, {
      undo: async () => {
        await saveChanges([{ rec, type: 'fix', set: { deleted: true } }]);
        await saveDraft(key, read);
        draw(read, true);
      },
    });
  }

  const trying = (work) => (...args) => work(...args).catch((fault) => notice(`Not saved: ${fault.message}`, { kind: 'trouble' }));
  draw(draft ?? {}, draft !== null);
  const stops = [
    on(place, 'input', '#place-type', trying(async (ev) => {
      const values = readDraft(ev.target.form);
      clearFaults(ev.target.form);
      tell(values);
      if (values.position === null && values.said_m === null) await dropDraft(key);
      else await saveDraft(key, values);
    })),
    on(place, 'submit', '#place-type', trying(save)),
  ];
  return () => stops.forEach((stop) => stop());
}
