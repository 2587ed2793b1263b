/** What stands on the page where a station's file is read: markup only, out of home's answer. */

import { daysBetween } from '../core/dates.js';
import { dayWords, degreesWords } from '../ui/degrees.js';
import { chips } from '../ui/form.js';
import { html } from '../ui/html.js';
import { icon } from '../ui/icons.js';
import { count, showDate, showInstant, showRange } from '../ui/words.js';

const UNITS = [{ value: 'C', label: '°C' }, { value: 'F', label: '°F' }, { value: '0.1C', label: 'tenths of °C' }];
const FORMS = [{ value: 'd/m/Y', label: 'day first' }, { value: 'm/d/Y', label: 'month first' }];
const FORM_WORDS = { 'd/m/Y': 'the day first', 'm/d/Y': 'the month first' };
const UNIT_WORDS = { C: 'degrees Celsius', F: 'degrees Fahrenheit', '0.1C': 'tenths of a degree Celsius' };
export const ROLES = {
  date: 'Day', time: 'Time of day, if it has its own column', tmin: 'Lowest', tmax: 'Highest', temp: 'Temperature, where there is one an hour',
  year: 'Year, where day, month and year stand apart', month: 'Month', day: 'Day of the month',
};
const MOST_LISTED = 12;

const day = (one) => dayWords({ low: one.tmin_c, high: one.tmax_c });

/** Which column a role is read from, from 1; null where none is. */
function columnOf(role, report, answers) {
  if (answers !== null) return answers[role] ?? null;
  const heading = report.used[role];
  const at = heading === undefined ? -1 : report.columns.indexOf(heading);
  return at < 0 ? null : at + 1;
}

/**
 * The form by which a person says how the file is to be read.
 * @param {object} report home's @param {object|null} answers what was said before @param {string[]} asked codes of home's questions
 */
export function howForm(report, answers, asked) {
  const select = (role) => {
    const chosen = columnOf(role, report, answers);
    return html`<div class="field"><label for="column-${role}">${ROLES[role]}</label><select id="column-${role}" name="${role}"><option value="">none</option>
      ${report.columns.map((heading, at) => html`<option value="${at + 1}" ${chosen === at + 1 ? html`selected` : ''}>${at + 1}: ${heading || 'no heading'}</option>`)}</select></div>`;
  };
  const [first, rest] = [['date', 'tmin', 'tmax'], ['temp', 'time', 'year', 'month', 'day']];
  const isOther = rest.some((role) => columnOf(role, report, answers) !== null);
  return html`<form novalidate data-how>
    <div class="columns-asked">${first.map(select)}</div>
    <details class="fold" ${isOther ? html`open` : ''}><summary>The table is made otherwise</summary><div class="columns-asked">${rest.map(select)}</div></details>
    ${chips({ name: 'unit', label: 'Temperatures are in', options: UNITS, value: answers?.unit ?? report.unit })}
    ${(asked.includes('date_form') || report.date_form) && chips({ name: 'date_form', label: 'Dates have', options: FORMS, value: answers?.date_form ?? report.date_form })}
    <div class="actions"><button type="submit" class="button ${asked.length > 0 ? 'primary' : ''}">${icon('sync')}Read it ${asked.length > 0 ? '' : 'again '}so</button></div></form>`;
}

/** What home asks, with the form to answer it by. */
export function questionsSheet(name, { questions, report }, answers) {
  return html`<section class="sheet"><h2>${name}</h2>
    ${questions.map((one) => html`<p class="state ask">${icon('ask')}<span>${one.text}</span></p>`)}
    ${howForm(report, answers, questions.map(({ code }) => code))}</section>`;
}

function listFold(words, rows, all) {
  if (all === 0) return null;
  return html`<details class="fold"><summary>${words}</summary><ul class="terms">${rows.slice(0, MOST_LISTED).map((row) => html`<li>${row}</li>`)}</ul>${all > MOST_LISTED && html`<p class="muted">and ${all - Math.min(MOST_LISTED, rows.length)} more</p>`}</details>`;
}

/** What was read, and what was not. */
export function readSheet(name, { report, plan }, answers) {
  const dayCount = plan.years.reduce((sum, { days }) => sum + days, 0) + plan.ahead;
  const how = [report.hourly ? 'Readings through the day, made one lowest and highest' : 'A lowest and highest a day', UNIT_WORDS[report.unit], FORM_WORDS[report.date_form] && `dates with ${FORM_WORDS[report.date_form]}`].filter(Boolean).join('; ');
  const gap = ([from, until]) => `${showRange(from, until)}: ${count(daysBetween(from, until) + 1, 'day', 'days')}`;
  return html`<section class="sheet"><h2>${name}</h2>
    <p class="strong">${count(dayCount, 'day', 'days')}, ${showRange(report.first_on, report.last_on)}</p><p>${how}.</p>
    <dl class="facts">${plan.coldest && html`<dt>Coldest</dt><dd>${degreesWords(plan.coldest.tmin_c)} on ${showDate(plan.coldest.on)}</dd>`}${plan.warmest && html`<dt>Warmest</dt><dd>${degreesWords(plan.warmest.tmax_c)} on ${showDate(plan.warmest.on)}</dd>`}
      ${plan.first.map((one) => html`<dt>${showDate(one.on)}</dt><dd>${day(one)}</dd>`)}${dayCount > plan.first.length + plan.last.length && html`<dt aria-hidden="true">…</dt><dd aria-hidden="true"></dd>`}${plan.last.map((one) => html`<dt>${showDate(one.on)}</dt><dd>${day(one)}</dd>`)}</dl>
    ${report.missing_days === 0 ? html`<p class="state good">${icon('yes')}No day is missing in between.</p>` : listFold(`${count(report.missing_days, 'day is', 'days are')} missing in between`, report.gaps.map(gap), report.gaps.length)}
    ${listFold(`${count(report.refused_count, 'line', 'lines')} not used`, report.refused.map(({ line, reason }) => `Line ${line}: ${reason}.`), report.refused_count)}
    ${report.missing_values > 0 && html`<p class="muted">${count(report.missing_values, 'value is', 'values are')} marked as missing in the file.</p>`}${report.repeated > 0 && html`<p class="muted">${count(report.repeated, 'line tells', 'lines tell')} a day again in the same words.</p>`}
    <details class="fold" data-otherwise><summary>Something is read wrongly</summary>${howForm(report, answers, [])}</details></section>`;
}

/** What keeping it would do, and the choices. */
export function planSheet({ plan }, { since, typed }, isBusy) {
  const lines = [
    [plan.new, 'new', 'yes'], [plan.changed, 'put right, told otherwise by an earlier file', 'yes'], [plan.filled, 'noted by hand, their missing half filled', 'yes'], [plan.replaced, 'noted by hand, replaced', 'yes'],
    [plan.same, 'kept already, the same', 'done'], [plan.typed_stay, 'noted by hand otherwise, and left so', 'hand'], [plan.earlier, `before ${plan.since}, left out`, 'skipped'], [plan.ahead, 'not come yet, left out', 'skipped'],
    [plan.cannot, 'left out: half of the day does not go with what was noted', 'skipped'],
  ].filter(([number]) => number > 0);
  const last = plan.years.at(-1)?.year ?? plan.since;
  const starts = plan.years.map(({ year }) => year).filter((year) => year > last - 30);
  const beside = (one) => `${showDate(one.on)}: ${day({ tmin_c: one.typed[0], tmax_c: one.typed[1] })} by hand, ${day({ tmin_c: one.file[0], tmax_c: one.file[1] })} in the file`;
  return html`<section class="sheet"><h2>Keep it</h2><ul class="terms">${lines.map(([number, words, sign]) => html`<li class="row">${icon(sign)}<span><span class="strong">${count(number, 'day', 'days')}</span> ${words}</span></li>`)}</ul>
    <form novalidate data-choices>${starts.length > 1 && html`<div class="field"><label for="since">Begin with the year</label><select id="since" name="since">${starts.map((year) => html`<option value="${year}" ${year === (since ?? Math.max(plan.since, starts[0])) ? html`selected` : ''}>${year}</option>`)}</select></div>`}
      ${plan.typed_told.length > 0 && chips({ name: 'typed', label: 'Where a day was noted by hand otherwise', options: [{ value: 'keep', label: 'leave what was noted' }, { value: 'file', label: 'take the file’s' }], value: typed })}</form>
    ${listFold(`What differs: ${count(plan.typed_told.length, 'day', 'days')}`, plan.typed_told.map(beside), plan.typed_told.length)}
    <div class="actions">${plan.write > 0 ? html`<button type="button" class="button primary hill" data-keep-days ${isBusy ? html`disabled` : ''}>${icon('done')}Keep ${count(plan.write, 'day', 'days')}</button>` : html`<p class="state good" role="status">${icon('yes')}Nothing in it is new.</p>`}
      <button type="button" class="button quiet" data-put-away>${icon('close')}Put the file away</button></div></section>`;
}

/** The readings that days still stand by, each with its way back. */
export function batchesSheet(batches) {
  if (batches.length === 0) return null;
  return html`<section class="sheet"><h2>Files kept before</h2><ul class="entries">${batches.map((one) => html`<li><div class="entry"><span class="entry-main"><span class="entry-title">${count(one.days, 'day', 'days')}, ${showRange(one.first_on, one.last_on)}</span>
      <span class="entry-under">${one.read_at === null ? 'read on a day not known' : `read on ${showInstant(one.read_at)}`}</span></span>
      <button type="button" class="button" data-take-back="${one.batch}">${icon('undo')}Take back</button></div></li>`)}</ul></section>`;
}
