/** What is said of a tick: done or skipped, a note or a reason, the day, and a photo. A dialog, and the changes it becomes. */

import { dropDraft, getDraft, newId, saveDraft } from '../store.js';
import { ask } from '../ui/dialog.js';
import { chips, dateField, fileField, noteField, readDraft } from '../ui/form.js';
import { html } from '../ui/html.js';
import { todayOn } from './ground_facts.js';
import { photoBytes, photoChange, takeShot } from './shots.js';

const STATES = [{ value: 'done', label: 'Done' }, { value: 'skipped', label: 'Skipped' }];
const ONE_PHOTO = 'One photo taken.';

const keyOf = (rec) => `tick-${rec}`;

/**
 * Ask for a note. What was typed, and the photo, are there again when it is asked anew, until the tick is saved.
 * @param {string} rec of the task's state @param {string} title whose task it is @param {object} state task_state fields as they stand @param {'done'|'skipped'} first what is chosen at first
 * @returns {Promise<{state: string, note: string|null, on: string, shot: object|null}|null>} null: closed without an answer
 */
export async function askTick(rec, title, state, first) {
  const kept = (await getDraft(keyOf(rec))) ?? {};
  const values = { state: state.state ?? first, note: state.note ?? null, on: state.settled_on ?? todayOn(), ...kept.values };
  let shot = kept.shot ?? null;
  let taking = Promise.resolve();
  const asked = ask({
    title,
    fields: html`${chips({ name: 'state', label: 'What came of it', options: STATES, value: values.state, required: true })}
      ${noteField({ name: 'note', label: 'What was seen and done, or why not', value: values.note })}
      ${dateField({ name: 'on', label: 'On', value: values.on, required: true, past: true })}
      <div class="row">${fileField({ name: 'photo', label: 'Take photo', capture: true })}<span role="status" data-shot>${shot ? ONE_PHOTO : ''}</span></div>`,
    yes: 'Save',
  });
  const box = [...document.querySelectorAll('dialog[open]')].at(-1);
  const say = (words) => { box.querySelector('[data-shot]').textContent = words; };
  const keep = () => saveDraft(keyOf(rec), { values: readDraft(box.querySelector('form')), shot });
  box.addEventListener('input', ({ target }) => target.type !== 'file' && keep());
  box.querySelector('input[name="photo"]').addEventListener('change', ({ target: { files } }) => {
    const [file] = files;
    if (!file) return;
    say('Reading the photo …');
    // Where it is taken is told by the tree: no position is asked for.
    taking = takeShot(file, null).then((taken) => {
      shot = { ...taken, taken_at: new Date().toISOString() };
      say(ONE_PHOTO);
      return keep();
    }, (fault) => say(fault.message));
  });
  const said = await asked;
  await taking;
  return said && { state: said.state, note: said.note, on: said.on, shot };
}

/** The tick is saved: what was typed for it is no draft any more. @param {string} rec */
export const dropTick = (rec) => dropDraft(keyOf(rec));

/**
 * What saveChanges wants of the photo of a tick.
 * @param {object|null} shot @param {{rec: string, tree: string|null, site: string|null}} task
 * @returns {{changes: object[], photos: object[]}} both empty without a photo
 */
export function photoOfTick(shot, { rec, tree, site }) {
  if (!shot) return { changes: [], photos: [] };
  const { type, set } = photoChange(shot, tree ? { tree } : { site });
  return { changes: [{ rec: newId(), type, set: { ...set, task_state: rec } }], photos: [photoBytes(shot)] };
}
