/** The form in which a person changes one window, one event or one value of a species card. */

import { plainEdge } from '../core/card_edit.js';
import { capital, cardEventWord, CARD_EVENTS, edgeWords, MONTH_CHOICES, monthDayWords, traitWord, valueWord } from './card_words.js';
import { chips, noteField, numberField, textField, toggle } from './form.js';
import { html } from './html.js';
import { plainSources } from './words.js';

const MOST_OFFSET_DAYS = 120; // as field/core/card_edit.py has it
const MOST_REASON = 500;
const ENDS = [['opens', 'hard_open', 'Opens'], ['closes', 'hard_close', 'Closes']];

function selectField({ name, label, value, options, hint = null }) {
  const id = `card-${name}`;
  return html`<div class="field"><label for="${id}">${label}</label><select id="${id}" name="${name}" data-label="${label}" aria-describedby="${id}-fault">${options.map(([key, words]) => html`<option value="${key}" ${String(key) === String(value) ? html`selected` : ''}>${words}</option>`)}</select>
    ${hint && html`<p class="hint">${hint}</p>`}<p class="fault" id="${id}-fault" role="alert" hidden></p></div>`;
}

const dayFields = (prefix, values) => html`<div class="day-of-year">${numberField({ name: `${prefix}day`, label: 'Day', value: values[`${prefix}day`], min: 1, max: 31, required: true })}${selectField({ name: `${prefix}month`, label: 'Month', value: values[`${prefix}month`], options: MONTH_CHOICES })}</div>`;

function edgeFields([end, hard, title], values, was) {
  const byEvent = values[`${end}_by`] === 'event';
  return html`<fieldset class="sheet" data-end="${end}"><legend><h2>${title}</h2></legend>
    <p class="muted">The card says: ${edgeWords(was[end])}, ${was[hard] ? 'strictly' : 'with some give'}. ${capital(plainSources(was[`why_${end}`]))}.</p>
    ${chips({ name: `${end}_by`, label: 'Told by', value: values[`${end}_by`], options: [{ value: 'event', label: 'an event' }, { value: 'date', label: 'a date' }] })}
    <div class="stack" data-by="event" ${byEvent ? '' : html`hidden`}>
      ${selectField({ name: `${end}_event`, label: 'Event', value: values[`${end}_event`], options: CARD_EVENTS.map((name) => [name, cardEventWord(name)]) })}
      ${numberField({ name: `${end}_days`, label: 'Days', value: values[`${end}_days`], min: 0, max: MOST_OFFSET_DAYS, hint: '0: on that day itself' })}
      ${chips({ name: `${end}_side`, label: 'Before or after', value: values[`${end}_side`], options: [{ value: 'before', label: 'before it' }, { value: 'after', label: 'after it' }] })}</div>
    <div class="stack" data-by="date" ${byEvent ? html`hidden` : ''}>
      ${dayFields(`${end}_`, values)}
      <p class="hint">As in the lowland at 52° N; at your sites it moves with latitude and height.</p>
      ${toggle({ name: `${end}_fixed`, label: 'The same day at every place', value: values[`${end}_fixed`] === true })}</div>
    ${chips({ name: hard, label: 'How strict', value: values[hard], options: [{ value: true, label: 'strict' }, { value: false, label: 'some give' }] })}
    ${noteField({ name: `why_${end}`, label: 'Your reason', value: values[`why_${end}`], rows: 2, maxLength: MOST_REASON, hint: 'Needed where you change the day, so that you still know it in two years' })}</fieldset>`;
}

function edgeValues(end, raw) {
  const edge = plainEdge(raw);
  const isEvent = edge.event !== undefined;
  const [month, day] = isEvent ? [1, 1] : edge.on.split('-').map(Number);
  return {
    [`${end}_by`]: isEvent ? 'event' : 'date', [`${end}_event`]: isEvent ? edge.event : CARD_EVENTS[0], [`${end}_days`]: isEvent ? Math.abs(edge.days) : 0,
    [`${end}_side`]: isEvent && edge.days >= 0 ? 'after' : 'before', [`${end}_month`]: month, [`${end}_day`]: day, [`${end}_fixed`]: edge.moves === 'no',
  };
}

/** A window as the form begins with it. @param {object} rule as it stands @param {object|null} change the person's own */
export function windowValues(rule, change) {
  const values = { hard_open: rule.hard_open, hard_close: rule.hard_close };
  for (const [end] of ENDS) Object.assign(values, edgeValues(end, rule[end]), { [`why_${end}`]: change?.[`why_${end}`] ?? null });
  return values;
}

/** @param {object} values of `windowValues`, or as they were typed @param {object} was without the person's change */
export const windowFields = (values, was) => html`<div class="cols">${ENDS.map((end) => edgeFields(end, values, was))}</div>`;

const reasonField = (why) => noteField({ name: 'why', label: 'Your reason', value: why, rows: 2, maxLength: MOST_REASON, hint: 'So that you still know it in two years' });

/** @param {{usual: string}} event as it stands */
export function eventValues({ usual }, change) {
  const [month, day] = (change?.on ?? usual).split('-').map(Number);
  return { month, day, why: change?.why ?? null };
}

export const eventFields = (values, was) => html`<section class="sheet"><p class="muted">The card says: ${monthDayWords(was.usual)}. ${capital(plainSources(was.source))}.</p>
  ${dayFields('', values)}<p class="hint">As in the lowland at 52° N; at your sites it moves with latitude and height. Every window that hangs on it moves too.</p>${reasonField(values.why)}</section>`;

export const traitValues = ({ value }, change) => ({ value: change?.value ?? value, why: change?.why ?? null });

/** @param {object} trait as home tells it: its `range` for numbers, `known` for words */
export function traitFields(trait, values, was) {
  const label = traitWord(trait.name);
  const field = typeof was.value === 'boolean' ? chips({ name: 'value', label, value: values.value, options: [{ value: true, label: 'yes' }, { value: false, label: 'no' }] })
    : typeof was.value === 'number' ? numberField({ name: 'value', label, value: values.value, min: trait.range?.[0], max: trait.range?.[1], whole: false, required: true })
      : textField({ name: 'value', label, value: values.value, required: true, options: trait.known, hint: trait.known?.length > 1 ? `On other cards: ${trait.known.slice(0, 6).join(', ')}` : null });
  return html`<section class="sheet"><p class="muted">The card says: ${valueWord(was.value)}.${was.note && ` ${capital(plainSources(was.note))}.`} ${capital(plainSources(was.source))}.</p>${field}${reasonField(values.why)}</section>`;
}

/** Only what is chosen is seen and read: a date, or what the tree shows. */
export function showChosen(form) {
  for (const part of form.querySelectorAll('[data-end]')) {
    const by = JSON.parse(part.querySelector('[name$="_by"]:checked')?.value ?? '"date"');
    for (const half of part.querySelectorAll('[data-by]')) {
      half.hidden = half.dataset.by !== by;
      for (const control of half.querySelectorAll('input, select')) control.disabled = half.hidden;
    }
  }
}

/** The field of the form at which something that home found is told. @param {string|null} field home's word for it */
export function fieldFor(form, field) {
  const names = field === 'opens' || field === 'closes' ? [`${field}_days`, `${field}_day`] : field === 'on' ? ['day'] : [field];
  const usable = [...form.elements].filter((one) => one.name && !one.disabled && one.closest('.field')?.querySelector('.fault'));
  return usable.find(({ name }) => names.includes(name)) ?? usable.find(({ name }) => /day|days|value/.test(name)) ?? usable[0];
}
