/**
 * Form fields that can be used with wet hands, and one way to read them.
 *
 *   html`<form novalidate>${textField({...})}${numberField({...})}...<button class="button primary">Save</button></form>`
 *   const values = readForm(form);      on saving: empty -> null, numbers as numbers; throws FormFault after showing it
 *   const values = readOrShow(form);    the same, null in place of the FormFault
 *   const draft = readDraft(form);      while typing: never throws; give it back as `value`s to restore the form
 */

import { html } from './html.js';
import { icon } from './icons.js';
import { count, showDate } from './words.js';

export const NAME_LENGTH = 120; // names and references; a tag has to fit on a label
export const TAG_LENGTH = 16;
const TEXT_LENGTH = 500; // one line
const NOTE_LENGTH = 20_000;
const FIRST_DAY = '1800-01-01'; // as home takes it
const YEARS_AHEAD = 100; // beyond lies no leave and no consent

let lastId = 0;

function nextId(name) {
  lastId += 1;
  return `field-${name}-${lastId}`;
}

/** What stands under a field: its hint, and an empty place for a fault. Both are tied to the control by id. */
function under(id, hint) {
  return html`${hint && html`<p class="hint" id="${id}-hint">${hint}</p>`}
    <p class="fault" id="${id}-fault" role="alert" hidden></p>`;
}

function describedBy(id, hint) {
  return `${hint ? `${id}-hint ` : ''}${id}-fault`;
}

function shown(value) {
  return value === null || value === undefined ? '' : String(value);
}

/**
 * One line of text.
 * @param {{name: string, label: string, value?: string|null, hint?: string, type?: string, autocomplete?: string,
 *   inputmode?: string, required?: boolean, options?: string[], maxLength?: number}} field options: offered while typing,
 *   not binding; maxLength: more characters are refused in words, as NAME_LENGTH or TAG_LENGTH
 */
export function textField({ name, label, value = null, hint = null, type = 'text', autocomplete = 'off', inputmode = null, required = false, options = null, maxLength = TEXT_LENGTH }) {
  const id = nextId(name);
  return html`<div class="field">
    <label for="${id}">${label}</label>
    <input id="${id}" name="${name}" type="${type}" value="${shown(value)}" autocomplete="${autocomplete}"
      data-label="${label}" data-max-length="${maxLength}" ${required ? html`data-required aria-required="true"` : ''}
      ${inputmode ? html`inputmode="${inputmode}"` : ''} ${options ? html`list="${id}-list"` : ''}
      aria-describedby="${describedBy(id, hint)}">
    ${options && html`<datalist id="${id}-list">${options.map((option) => html`<option value="${option}"></option>`)}</datalist>`}
    ${under(id, hint)}
  </div>`;
}

/**
 * A number between a minus and a plus button.
 * @param {{name: string, label: string, unit?: string, value?: number|string|null, step?: number, start?: number,
 *   min?: number, max?: number, whole?: boolean, hint?: string, required?: boolean}} field
 *   start: where the first press of plus or minus lands while the field is empty (default: min, else step);
 *   whole: fractions are refused (default true)
 */
export function numberField({ name, label, unit = null, value = null, step = 1, start = null, min = null, max = null, whole = true, hint = null, required = false }) {
  const id = nextId(name);
  const first = start ?? min ?? step;
  return html`<div class="field">
    <label for="${id}">${label}${unit && html` <span class="unit">${unit}</span>`}</label>
    <div class="stepper">
      <button type="button" class="step" data-step="${-step}" data-start="${first}" aria-label="${label}: ${step} less">${icon('minus')}</button>
      <input id="${id}" name="${name}" type="text" inputmode="${whole ? 'numeric' : 'decimal'}" value="${shown(value)}"
        autocomplete="off" data-kind="number" data-label="${label}" ${whole ? html`data-whole` : ''}
        ${min === null ? '' : html`data-min="${min}"`} ${max === null ? '' : html`data-max="${max}"`}
        ${required ? html`data-required aria-required="true"` : ''} aria-describedby="${describedBy(id, hint)}">
      <button type="button" class="step" data-step="${step}" data-start="${first}" aria-label="${label}: ${step} more">${icon('plus')}</button>
    </div>
    ${under(id, hint)}
  </div>`;
}

/**
 * Chips to tap: one of several, or with `multiple` any of several. Values may be texts, numbers, true, false or null.
 * @param {{name: string, label: string, options: {value: any, label: string, icon?: string}[], value?: any,
 *   multiple?: boolean, hint?: string, required?: boolean}} field value: the chosen one; with multiple a list or null
 */
export function chips({ name, label, options, value = null, multiple = false, hint = null, required = false }) {
  const id = nextId(name);
  const chosen = multiple ? (value ?? []) : [value];
  return html`<fieldset class="field chips" aria-describedby="${describedBy(id, hint)}">
    <legend>${label}</legend>
    <div class="chip-row">
      ${options.map(
        (option) => html`<label class="chip">
          <input type="${multiple ? 'checkbox' : 'radio'}" name="${name}" value="${JSON.stringify(option.value)}" data-kind="json"
            data-label="${label}" ${multiple ? html`data-many` : ''} ${required ? html`data-required` : ''}
            ${chosen.includes(option.value) ? html`checked` : ''}>
          <span>${option.icon ? icon(option.icon) : ''}${option.label}</span>
        </label>`,
      )}
    </div>
    ${under(id, hint)}
  </fieldset>`;
}

/** A yes-or-no switch: reads as true or false. For "not known" as a third answer use chips. */
export function toggle({ name, label, value = false, hint = null }) {
  const id = nextId(name);
  return html`<div class="field">
    <label class="toggle">
      <input type="checkbox" role="switch" name="${name}" data-label="${label}" ${value ? html`checked` : ''}
        aria-describedby="${describedBy(id, hint)}">
      <span class="toggle-mark" aria-hidden="true"></span><span>${label}</span>
    </label>
    ${under(id, hint)}
  </div>`;
}

/**
 * A calendar date, 'YYYY-MM-DD' or null; with `today: true` a button beside it sets the phone's own date.
 * `past: true` is for what was done or seen: a day that has not come yet is refused in words. Days over `yearsAhead` years
 * ahead are refused in any case.
 */
export function dateField({ name, label, value = null, hint = null, required = false, today = false, past = false, yearsAhead = YEARS_AHEAD }) {
  const id = nextId(name);
  return html`<div class="field">
    <label for="${id}">${label}</label>
    <div class="with-button">
      <input id="${id}" name="${name}" type="date" value="${shown(value)}" data-label="${label}" data-years-ahead="${yearsAhead}" ${past ? html`data-past` : ''}
        ${required ? html`data-required aria-required="true"` : ''} aria-describedby="${describedBy(id, hint)}">
      ${today && html`<button type="button" class="button" data-set-today>Today</button>`}
    </div>
    ${under(id, hint)}
  </div>`;
}

/** Several lines of text. */
export function noteField({ name, label, value = null, hint = null, rows = 3, required = false, maxLength = NOTE_LENGTH }) {
  const id = nextId(name);
  return html`<div class="field">
    <label for="${id}">${label}</label>
    <textarea id="${id}" name="${name}" rows="${rows}" data-label="${label}" data-max-length="${maxLength}"
      ${required ? html`data-required aria-required="true"` : ''} aria-describedby="${describedBy(id, hint)}">${shown(value)}</textarea>
    ${under(id, hint)}
  </div>`;
}

/** A button that opens the camera (`capture: true`) or the file picker; listen for 'change' on input[name=...]. */
export function fileField({ name, label, accept = 'image/*', capture = false, multiple = false, kind = '', iconName = 'camera' }) {
  return html`<label class="button file ${kind}">
    ${icon(iconName)}<span>${label}</span>
    <input type="file" class="unseen" name="${name}" accept="${accept}" ${capture ? html`capture="environment"` : ''} ${multiple ? html`multiple` : ''}>
  </label>`;
}

/** What `readForm` throws when a field cannot be read; the sentence already stands at the field. */
export class FormFault extends Error {
  constructor(field, sentence) {
    super(sentence);
    this.field = field;
  }
}

/** Show a sentence at a field and move the focus there; `moveFocus` false: the person has gone on to another field already. */
export function showFault(form, name, sentence, { moveFocus = true } = {}) {
  const control = [...form.elements].find((el) => el.name === name);
  const place = control?.closest('.field')?.querySelector('.fault');
  if (!control || !place) throw new Error(`no field called ${name}`);
  place.textContent = sentence;
  place.hidden = false;
  control.setAttribute('aria-invalid', 'true');
  if (moveFocus) control.focus();
}

/** Take every shown fault away. */
export function clearFaults(form) {
  for (const place of form.querySelectorAll('.fault')) {
    place.textContent = '';
    place.hidden = true;
  }
  for (const control of form.querySelectorAll('[aria-invalid]')) control.removeAttribute('aria-invalid');
}

/** What was said of a field no longer holds once it is changed; chips of one name may stand in several rows. */
function clearFault(control) {
  for (const other of control.form?.elements ?? []) {
    if (other.name !== control.name || !other.hasAttribute('aria-invalid')) continue;
    other.removeAttribute('aria-invalid');
    const place = other.closest('.field')?.querySelector('.fault');
    if (!place) continue;
    place.textContent = '';
    place.hidden = true;
  }
}

/** Read "412", "41.2" or "41,2"; undefined when it is no number. */
function readNumber(text) {
  const plain = text.replace(',', '.').replace(/\s/g, '');
  return /^[+-]?(\d+\.?\d*|\.\d+)$/.test(plain) ? Number(plain) : undefined;
}

function checkNumber(control, number) {
  const { label, min, max, whole } = control.dataset;
  if (number === undefined) return `${label}: “${control.value}” is not a number. Write it in digits, as 412.`;
  if (whole !== undefined && !Number.isInteger(number)) return `${label}: ${control.value} has a fraction. Write a whole number.`;
  if (min !== undefined && number < Number(min)) return `${label}: ${number} is too small. It is at least ${min}.`;
  if (max !== undefined && number > Number(max)) return `${label}: ${number} is too large. It is at most ${max}.`;
  return null;
}

function checkText(control, text) {
  const { label, maxLength } = control.dataset;
  const length = [...text].length;
  return maxLength !== undefined && length > Number(maxLength) ? `${label}: ${length} characters are too many. At most ${maxLength} fit.` : null;
}

function checkDay(control, day) {
  const { label, past, yearsAhead } = control.dataset;
  const today = localDate(new Date());
  if (past !== undefined && day > today) return `${label}: ${showDate(day)} has not come yet. Write the day on which it was done.`;
  const last = `${String(Number(today.slice(0, 4)) + Number(yearsAhead)).padStart(4, '0')}${today.slice(4)}`;
  if (day.length > 10 || day > last) return `${label}: ${showDate(day)} lies more than ${count(Number(yearsAhead), 'year', 'years')} ahead. Set the year again.`;
  if (day < FIRST_DAY) return `${label}: ${showDate(day)} lies too far back. Set the year again.`;
  return null;
}

function readControls(form, onFault) {
  const values = {};
  for (const control of form.elements) {
    if (!control.name || control.disabled || control.type === 'file' || control.tagName === 'BUTTON' || control.tagName === 'FIELDSET') continue;
    const { name } = control;
    if (control.dataset.kind === 'json') {
      if (!(name in values)) values[name] = null;
      if (control.checked && control.dataset.many !== undefined) values[name] = [...(values[name] ?? []), JSON.parse(control.value)];
      else if (control.checked) values[name] = JSON.parse(control.value);
    } else if (control.type === 'checkbox') {
      values[name] = control.checked;
    } else if (control.type === 'radio') {
      if (control.checked || !(name in values)) values[name] = control.checked ? control.value : null;
    } else {
      const text = control.value.trim();
      values[name] = text === '' ? null : text;
      if (text === '' && control.validity.badInput) onFault(name, `${control.dataset.label}: this is not a whole date.`);
      const sentence = text === '' ? null : control.type === 'date' ? checkDay(control, text) : checkText(control, text);
      if (sentence) onFault(name, sentence);
      if (text !== '' && control.dataset.kind === 'number') {
        const number = readNumber(text);
        const sentence = checkNumber(control, number);
        if (sentence) onFault(name, sentence);
        values[name] = number ?? text;
      }
    }
  }
  for (const control of form.querySelectorAll('[data-required]')) {
    if (values[control.name] === null) onFault(control.name, ['radio', 'checkbox'].includes(control.type) ? `${control.dataset.label}: choose one.` : `${control.dataset.label} is needed.`);
  }
  return values;
}

/**
 * Read a form for saving: {name: value}, empty fields as null, numbers as numbers, chips as their values.
 * @throws {FormFault} at the first field that cannot be read; the sentence is then shown there and has the focus
 */
export function readForm(form) {
  clearFaults(form);
  return readControls(form, (name, sentence) => {
    showFault(form, name, sentence);
    throw new FormFault(name, sentence);
  });
}

/**
 * What a form says, for saving; null when it cannot be read: what is wrong stands at its field then, and has the focus.
 * @param {HTMLFormElement} form
 * @param {(form: HTMLFormElement) => object} read throws FormFault, as `readForm` does
 * @returns {object|null}
 */
export function readOrShow(form, read = readForm) {
  try {
    return read(form);
  } catch (fault) {
    if (fault instanceof FormFault) return null;
    throw fault;
  }
}

/**
 * The first sentence that would keep a form from being read; shown nowhere, the focus stays. For what is worked out while typing.
 * @param {string[]} names only faults of these fields
 * @returns {string|null}
 */
export function findFault(form, names) {
  const found = [];
  readControls(form, (name, sentence) => found.push({ name, sentence }));
  return found.find(({ name }) => names.includes(name))?.sentence ?? null;
}

/** Read a form as far as it is written, for keeping a draft; a number that is none yet stays as its text. Never throws. */
export function readDraft(form) {
  return readControls(form, () => {});
}

/** The phone's own calendar date as 'YYYY-MM-DD'. */
function localDate(now) {
  const two = (n) => String(n).padStart(2, '0');
  return `${now.getFullYear()}-${two(now.getMonth() + 1)}-${two(now.getDate())}`;
}

document.addEventListener('input', (ev) => ev.target.form && ev.target.name && clearFault(ev.target));

// Steppers and "Today" work in every form of the app, so that no screen has to wire them up.
document.addEventListener('click', (ev) => {
  const button = ev.target instanceof Element ? ev.target.closest('[data-step], [data-set-today]') : null;
  const input = button?.parentElement.querySelector('input');
  if (!input) return;
  if ('setToday' in button.dataset) {
    input.value = localDate(new Date());
  } else {
    const step = Number(button.dataset.step);
    const now = readNumber(input.value.trim());
    const next = now === undefined ? Number(button.dataset.start) : Number((now + step).toFixed(6));
    const { min, max } = input.dataset;
    input.value = String(Math.min(max === undefined ? Infinity : Number(max), Math.max(min === undefined ? -Infinity : Number(min), next)));
  }
  input.dispatchEvent(new Event('input', { bubbles: true }));
  input.dispatchEvent(new Event('change', { bubbles: true }));
});
