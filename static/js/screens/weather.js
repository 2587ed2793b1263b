/** Weather of a place: its lowest and highest typed day by day, the days that are missing, and its season. Works with no signal. */

import { daysBetween, plusDays, showDate as longDate } from '../core/dates.js';
import { canBe, COLDEST_C, HOTTEST_C, isWhole, missingRuns, weatherDayId } from '../core/weather_day.js';
import { todayOn } from '../hill/ground_facts.js';
import { dayChange, daysAbout, daysOf, lastDays, LATELY_DAYS, listPlaces, nextDay, strip } from '../hill/weather_days.js';
import { ofOthers } from '../hill/whose.js';
import { dropDraft, getDraft, getRecord, onStoreChange, saveChange, saveDraft } from '../store.js';
import { dayWords, degreesWords } from '../ui/degrees.js';
import { degreeField, turnSigns } from '../ui/degree_field.js';
import { ask } from '../ui/dialog.js';
import { FormFault, readDraft, readForm, showFault } from '../ui/form.js';
import { html, on, render } from '../ui/html.js';
import { icon } from '../ui/icons.js';
import { notice } from '../ui/notice.js';
import { oneTap } from '../ui/one_tap.js';
import { count, here, showDate, showRange } from '../ui/words.js';
import { showSeason } from './weather_season.js';

const WEEKDAYS = ['Sunday', 'Monday', 'Tuesday', 'Wednesday', 'Thursday', 'Friday', 'Saturday'];
const RUNS_SHOWN = 12;
const ODD_STEP_C = 20; // from one day to the next; more is asked about. Common practice
const HALF_DEGREE = 0.5; // as garden thermometers are read; common practice

const weekday = (day) => WEEKDAYS[new Date(`${day}T00:00:00Z`).getUTCDay()];
const nameOf = (place) => place.fields.name ?? (place.type === 'garden' ? 'unnamed garden' : 'unnamed site');

async function openList(root) {
  let closed = false;
  async function draw() {
    const places = await listPlaces();
    const last = await lastDays(places, todayOn());
    if (closed) return;
    const entry = (place) => html`<li><a class="entry" href="#/weather/${place.id}"><span class="entry-icon">${icon(place.type === 'garden' ? 'house' : 'site')}</span><span class="entry-main"><span class="entry-title">${nameOf(place)}</span>
      <span class="entry-under">${last.has(place.id) ? `noted up to ${showDate(last.get(place.id))}` : `nothing noted in the last ${LATELY_DAYS} days`}</span></span>${icon('forward')}</a></li>`;
    render(root, html`<div class="page"><div class="page-head"><a class="back" href="#/trees">${icon('back')}Trees</a><h1>Weather</h1><p class="under">The lowest and highest of each day, by place: from them come degree days, frosts, and how fast boxes dry.</p></div>
      ${places.length === 0 ? html`<div class="empty">${icon('site')}<p>No place is kept here yet. Note the ground or the garden first.</p><a class="button" href="#/ground">${icon('ground')}To the ground</a></div>` : html`<ul class="entries">${places.map(entry)}</ul>`}</div>`);
  }
  await draw();
  const stop = onStoreChange(draw);
  return () => {
    closed = true;
    stop();
  };
}

/**
 * Open the screen.
 * @param {Element} root
 * @param {{id?: string}} params id of a garden or site; without one all places are listed
 */
export async function open(root, params) {
  if (!params.id) return openList(root);
  const { id } = params;
  const key = `weather-${id}`;
  const place = (await listPlaces()).find((one) => one.id === id) ?? null;
  if (place === null) {
    render(root, html`<div class="page"><div class="page-head"><a class="back" href="#/weather">${icon('back')}Weather</a><h1>Weather</h1></div><div class="empty">${icon('site')}<p>This place is not on this ${here()}. It was removed, or has not come from home yet.</p></div></div>`);
    return () => {};
  }
  const today = () => todayOn(place.fields.zone ?? undefined);
  let days = await daysOf(id, today()); // this year's
  let about = new Map(); // the chosen day and some before it, where that was longer ago
  let closed = false;
  const typed = (await getDraft(key))?.typed ?? {}; // 'YYYY-MM-DD' -> what stands in its form and is not kept yet
  let day = Object.keys(typed).sort().at(-1) ?? nextDay(days, today());
  about = await daysAbout(id, day);

  render(root, html`<div class="page weather"><div class="page-head"><a class="back" href="#/weather">${icon('back')}Weather</a><h1>${nameOf(place)}</h1><p class="under">The lowest and highest of each day, as the thermometer kept them.</p></div>
    <div class="weather-days"><section class="sheet"><form novalidate data-day></form></section><section class="sheet" data-strip></section><section class="sheet" data-earlier></section></div>
    <div data-season></div></div>`);
  const part = (name) => root.querySelector(`[data-${name}]`);
  const drawn = new Map();

  /** Draw a part, unless it stands there as it is: what is unfolded or being chosen in it is not taken away by news from home. */
  function put(name, markup) {
    const text = markup.toString();
    if (drawn.get(name) === text) return;
    drawn.set(name, text);
    render(part(name), markup);
  }

  /** The last day before this one that is known: where the first press of plus or minus begins. */
  const before = () => [...about].filter(([one]) => one < day).at(-1)?.[1] ?? null;

  const field = (name, label, value, start) => degreeField({ name, label, value, step: HALF_DEGREE, start: start ?? 0, min: COLDEST_C, max: HOTTEST_C });

  function drawForm() {
    const values = typed[day] ?? null;
    const known = about.get(day) ?? null;
    const last = before();
    const isToday = day === today();
    render(part('day'), html`<div class="sheet-head"><h2>${isToday ? 'Today' : weekday(day)}, ${longDate(day)}</h2></div>
      ${field('tmin_c', 'Lowest', values ? values.tmin_c : (known?.low ?? null), last?.low)}
      ${field('tmax_c', 'Highest', values ? values.tmax_c : (known?.high ?? null), last?.high)}
      <p class="hint">${known === null ? 'Not noted yet. If only one is known, leave the other empty.' : 'Noted already: what you save now takes its place.'}</p>
      <div class="actions"><button type="submit" class="button primary hill">${icon('done')}Keep ${isToday ? 'today' : showDate(day)}</button>
        ${known !== null && html`<button type="button" class="button quiet" data-take-away>${icon('bin')}Take this day away</button>`}</div>`);
  }

  /** What is missing this year, since the first day that was ever noted; the latest first. */
  function missingPart() {
    const [first] = days.keys();
    if (first === undefined) return null;
    const newYear = `${today().slice(0, 4)}-01-01`;
    const runs = missingRuns(days, first > newYear ? first : newYear, plusDays(today(), -1)).reverse();
    const missing = runs.reduce((sum, [from, until]) => sum + daysBetween(from, until) + 1, 0);
    if (missing === 0) return html`<p class="state good">${icon('yes')}No day is missing this year.</p>`;
    return html`<details class="fold"><summary>${count(missing, 'day is', 'days are')} missing this year</summary><ul class="day-rows">
      ${runs.slice(0, RUNS_SHOWN).map(([from, until]) => html`<li><button type="button" class="day-row" data-day-on="${until}"><span>${showRange(from, until)}</span><span class="muted">${count(daysBetween(from, until) + 1, 'day', 'days')}</span></button></li>`)}</ul>
      ${runs.length > RUNS_SHOWN && html`<p class="muted">And ${count(runs.length - RUNS_SHOWN, 'gap', 'gaps')} before.</p>`}</details>`;
  }

  function drawStrip() {
    const [first] = days.keys();
    const row = (one) => {
      const told = days.get(one);
      const isMissing = first !== undefined && first <= one && one < today() && !isWhole(told); // as the year counts them
      const words = !told ? (isMissing ? 'missing' : 'not noted') : isMissing ? `${dayWords(told)}, ${told.low === null ? 'lowest' : 'highest'} missing` : dayWords(told);
      return html`<li><button type="button" class="day-row" data-day-on="${one}" ${one === day ? html`aria-current="date"` : ''}><span>${weekday(one).slice(0, 3)} ${showDate(one).replace(/ \d{4}$/, '')}</span>
        <span class="${isMissing ? 'state ask' : told ? 'strong' : 'muted'}">${isMissing && icon('ask')}${words}</span></button></li>`;
    };
    put('strip', html`<h2>The last two weeks</h2><ul class="day-rows">${strip(today()).map(row)}</ul>`);
    put('earlier', html`<h2>Earlier days</h2>${missingPart()}
      <div class="field"><label for="weather-on">Choose a day</label><input id="weather-on" type="date" data-pick-date value="${day}" max="${today()}"></div>
      <div><a class="button" href="#/weather-file/${id}">${icon('intake')}Read a station’s file</a></div>`);
  }

  async function pick(next) {
    day = next;
    about = await daysAbout(id, next);
    if (closed || day !== next) return;
    drawForm();
    drawStrip();
  }

  /** A day that was tapped or chosen further down: its form comes into sight, ready to be typed into. */
  async function goTo(next, takesFocus = true) {
    await pick(next);
    if (closed) return;
    part('day').closest('section').scrollIntoView({ block: 'nearest' });
    if (takesFocus) part('day').elements.tmin_c.focus({ preventScroll: true });
  }

  /** What was typed for a day outlives the page, and a look at another day. */
  function remember(on, values) {
    if (values === null) delete typed[on];
    else typed[on] = values;
    return Object.keys(typed).length === 0 ? dropDraft(key) : saveDraft(key, { typed });
  }

  async function keep(change, back, words, undoWords) {
    try {
      await saveChange(change);
      notice(words, { undoWords, undo: () => saveChange(back) });
      await remember(day, null);
      return true;
    } catch (fault) {
      notice(`Not saved: ${fault.message}`, { kind: 'trouble' });
      return false;
    }
  }

  async function save(form) {
    let values;
    try {
      const { tmin_c: low, tmax_c: high } = readForm(form);
      values = { tmin_c: low, tmax_c: high };
    } catch (fault) {
      if (fault instanceof FormFault) return false;
      throw fault;
    }
    if (values.tmin_c === null && values.tmax_c === null) {
      showFault(form, 'tmin_c', 'Write the lowest, the highest, or both.');
      return false;
    }
    if (!canBe(values.tmin_c, values.tmax_c)) {
      showFault(form, 'tmin_c', `The lowest, ${degreesWords(values.tmin_c)}, is above the highest, ${degreesWords(values.tmax_c)}. Look whether the two were swapped.`);
      return false;
    }
    const saved = day;
    if (!(await isMeant(values))) return false;
    const { change, back } = await dayChange(id, saved, values);
    if (!(await keep(change, back, `${showDate(saved)}: ${dayWords({ low: values.tmin_c, high: values.tmax_c })}. Saved on this phone.`, 'Undo'))) return false;
    days = await daysOf(id, today());
    await pick(nextDay(days, today(), saved));
    return true;
  }

  /** A slip of the finger, 35 for 3.5, is asked about before frosts and windows go by it. */
  async function isMeant({ tmin_c: low, tmax_c: high }) {
    const last = before();
    const isOdd = (one, other) => one !== null && other !== null && Math.abs(one - other) > ODD_STEP_C;
    if (last === null || !(isOdd(low, last.low) || isOdd(high, last.high))) return true;
    return (await ask({ title: `${dayWords({ low, high })}: is that right?`, text: `The day noted before it had ${dayWords(last)}.`, yes: 'Keep it', no: 'Look again' })) !== null;
  }

  async function takeAway() {
    const record = await getRecord(weatherDayId(id, day));
    if (record !== null && (await ofOthers([record])).size > 0) {
      notice('Who keeps the log takes this day away. What is wrong in it you can put right.', { kind: 'plain' });
      return;
    }
    const { change, back } = await dayChange(id, day, null);
    if (!(await keep(change, back, `${showDate(day)} is taken away.`, 'Undo the removal'))) return;
    days = await daysOf(id, today());
    await pick(day);
  }

  async function redraw(what) {
    if (what?.types?.length && !what.types.includes('weather_day')) return;
    [days, about] = await Promise.all([daysOf(id, today()), daysAbout(id, day)]);
    if (closed) return;
    drawStrip();
    if (!typed[day]) drawForm(); // what is being typed is not taken away
    season.drawLate();
  }

  drawForm();
  drawStrip();
  const form = part('day');
  const tap = oneTap();
  const season = showSeason(part('season'), { id, isClosed: () => closed, daysHere: (from) => [...days.keys()].filter((one) => one >= from).length });
  const stops = [
    on(root, 'submit', '[data-day]', tap((ev, sent) => save(sent))),
    on(root, 'click', '[data-day-on]', (ev, button) => goTo(button.dataset.dayOn)),
    on(root, 'change', '[data-pick-date]', (ev, input) => input.value && input.value <= today() && goTo(input.value, false)), // by key a date is chosen in steps: the focus stays
    turnSigns(root),
    on(root, 'click', '[data-take-away]', takeAway),
    on(root, 'input', '[data-day]', (ev) => ev.target.name && remember(day, readDraft(form))),
    onStoreChange(redraw),
    season.close,
  ];
  season.read().catch((fault) => globalThis.reportError?.(fault));
  return () => {
    closed = true;
    for (const stop of stops) stop();
  };
}
