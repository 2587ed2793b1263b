/** What is said of a tick: done or passed over, a note or a reason, the day, and a photo. A dialog, and the changes it becomes. */

import { newId } from '../store.js';
import { ask } from '../ui/dialog.js';
import { chips, dateField, fileField, noteField } from '../ui/form.js';
import { html } from '../ui/html.js';
import { todayOn } from './ground_facts.js';
import { photoBytes, photoChange, takeShot } from './shots.js';

const STATES = [{ value: 'done', label: 'Done' }, { value: 'skipped', label: 'Passed over' }];

/**
 * Ask for a note.
 * @param {string} title whose task it is @param {object} state task_state fields as they stand @param {'done'|'skipped'} first what is chosen at first
 * @returns {Promise<{state: string, note: string|null, on: string, shot: object|null}|null>} null: closed without an answer
 */
export async function askTick(title, state, first) {
  let shot = null;
  let taking = Promise.resolve();
  const asked = ask({
    title,
    fields: html`${chips({ name: 'state', label: 'What came of it', options: STATES, value: state.state ?? first, required: true })}
      ${noteField({ name: 'note', label: 'What was seen and done, or why not', value: state.note ?? null })}
      ${dateField({ name: 'on', label: 'On', value: state.settled_on ?? todayOn(), required: true })}
      <div class="row">${fileField({ name: 'photo', label: 'Take photo', capture: true })}<span role="status" data-shot></span></div>`,
    yes: 'Save',
  });
  const box = [...document.querySelectorAll('dialog[open]')].at(-1);
  const say = (words) => { box.querySelector('[data-shot]').textContent = words; };
  box.querySelector('input[name="photo"]').addEventListener('change', ({ target: { files } }) => {
    const [file] = files;
    if (!file) return;
    say('Reading the photo …');
    // Where it is taken is told by the tree: no position is asked for.
    taking = takeShot(file, null).then((taken) => {
      shot = { ...taken, taken_at: new Date().toISOString() };
      say('One photo taken.');
    }, (fault) => say(fault.message));
  });
  const said = await asked;
  await taking;
  return said && { state: said.state, note: said.note, on: said.on, shot };
}

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
