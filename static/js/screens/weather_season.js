/** The part of Weather that shows a place's seasons side by side, as home reckoned them; what was told last stays on this phone. */

import { showDate as longDate } from '../core/dates.js';
import { getMeta, onStoreChange, setMeta } from '../store.js';
import { askHomeJson, HomeError } from '../store/home.js';
import { onSyncState } from '../sync.js';
import { html, render } from '../ui/html.js';
import { icon } from '../ui/icons.js';
import { lineKey, seasonChart } from '../ui/season_chart.js';
import { count, here, showDate } from '../ui/words.js';

const WAIT_MS = 8000;
const KEPT = 'weather_told'; // {place: {at, told}}
const MOST_KEPT = 10;
const NUMBERS = new Intl.NumberFormat('en-GB', { maximumFractionDigits: 0 });

const round = (number) => NUMBERS.format(number).replace('-', '−');
const short = (on) => (on === null ? 'none' : showDate(on).replace(/ \d{4}$/, ''));
const isEmpty = (sum) => sum.known + sum.missing === 0;

/** A sum as it is shown: 'about' where days were filled, 'at least' where they could not be. @param {boolean} [grows] no day takes from it */
export function sumWords(sum, grows = true) {
  if (isEmpty(sum)) return '–';
  if (sum.filled === null) return grows && sum.logged > 0 ? `at least ${round(sum.logged)}` : 'not known';
  return sum.missing > 0 ? `about ${round(sum.filled)}` : round(sum.filled);
}

/** '2026', or where a season crosses the year '2026/27'. */
export const yearsOf = ({ since }) => (since.slice(5) === '01-01' ? since.slice(0, 4) : `${since.slice(0, 4)}/${String(Number(since.slice(2, 4)) + 1).padStart(2, '0').slice(-2)}`);

/** This season beside the one before and the mean of all before, in a sentence; null where it cannot be said. */
export function besideWords([now, ...earlier], today) {
  if (!now || now.whole.filled === null || earlier.length === 0) return null;
  const known = earlier.filter((one) => one.by_now.filled !== null && !isEmpty(one.by_now));
  const beside = (other) => {
    const more = Math.round(now.whole.filled) - Math.round(other);
    return more === 0 ? 'as many as' : `${round(Math.abs(more))} ${more > 0 ? 'more' : 'fewer'} than`;
  };
  const parts = known.slice(0, 1).map((one) => `${beside(one.by_now.filled)} by then in ${yearsOf(one)}`);
  if (known.length > 1) parts.push(`${beside(known.reduce((sum, one) => sum + one.by_now.filled, 0) / known.length)} the mean of ${known.length} earlier seasons`);
  return parts.length === 0 ? null : `By ${longDate(today)}: ${parts.join(', ')}.`;
}

function heatTable({ seasons, today }) {
  const row = (one, number) => html`<tr><th scope="row">${lineKey(number)} ${yearsOf(one)}</th><td>${sumWords(one.by_now)}</td><td>${number === 0 ? 'still running' : sumWords(one.whole)}</td></tr>`;
  const other = (one) => html`<tr><th scope="row">${yearsOf(one)}</th><td>${sumWords(one.by_now)}</td><td>${sumWords(one.simple)}</td></tr>`;
  const gaps = seasons.filter((one) => one.whole.words);
  return html`${framed(html`<table class="figures"><caption>Degree days above 5 °C</caption><thead><tr><th scope="col">Season</th><th scope="col">by ${short(today)}</th><th scope="col">in all</th></tr></thead><tbody>${seasons.map(row)}</tbody></table>`)}
    ${gapList(gaps.map((one) => `${yearsOf(one)}: ${one.whole.words}`))}
    <details class="fold"><summary>How they are counted</summary><p>Each day as a smooth wave from its lowest to its highest: what of it lies above 5 °C counts. By the mean of the two alone, as some tables have it, days about 5 °C tell too little.</p>
      ${framed(html`<table class="figures"><caption>By ${short(today)}</caption><thead><tr><th scope="col">Season</th><th scope="col">by the wave</th><th scope="col">by the mean</th></tr></thead><tbody>${seasons.filter((one) => one.simple).map(other)}</tbody></table>`)}</details>`;
}

/** A table that may be wider than a phone with large letters: it then scrolls by itself, with a finger or by key. */
const framed = (table) => html`<div class="figures-frame">${table}</div>`;

/** Where a table is cut off, the keyboard gets to its frame. */
function openFrames(place) {
  for (const frame of place.querySelectorAll('.figures-frame')) {
    if (frame.scrollWidth <= frame.clientWidth) frame.removeAttribute('tabindex');
    else frame.setAttribute('tabindex', '0');
  }
}

function gapList(lines) {
  if (lines.length === 0) return html`<p class="state good">${icon('yes')}No day is missing.</p>`;
  return html`<details class="fold"><summary>What is missing, and what was done about it</summary><ul class="terms">${lines.map((line) => html`<li>${line}</li>`)}</ul></details>`;
}

/** The first frost of a winter; where the log begins inside it, the day it came by. */
const firstWords = ({ first_on: on, begins_on: begins }) => (on && begins ? `by ${short(on)}` : short(on));

function frostTable({ winters }) {
  const row = (one) => html`<tr><th scope="row">${yearsOf(one)}</th><td>${one.frosts.nights}</td><td>${firstWords(one.frosts)}</td><td>${short(one.frosts.last_on)}</td></tr>`;
  return html`${framed(html`<table class="figures whole"><caption>Air frosts</caption><thead><tr><th scope="col">Winter</th><th scope="col">nights</th><th scope="col">first</th><th scope="col">last</th></tr></thead><tbody>${winters.map(row)}</tbody></table>`)}
    <p class="hint">A night below 0 °C in the air; on the ground it is colder.</p>
    ${gapList(winters.filter((one) => one.frosts.words).map((one) => `${yearsOf(one)}: ${one.frosts.words}`))}`;
}

function chillTable({ winters }) {
  const row = (one) => html`<tr><th scope="row">${yearsOf(one)}</th><td>${sumWords(one.chill_days)}</td><td>${sumWords(one.chill_hours)}</td><td>${sumWords(one.utah, false)}</td></tr>`;
  const span = winters[0].chill_since.slice(5) === '11-01' ? '1 November to 31 March' : '1 May to 30 September';
  return html`${framed(html`<table class="figures"><caption>Chill, ${span}</caption><thead><tr><th scope="col">Winter</th><th scope="col">days</th><th scope="col">hours</th><th scope="col">Utah units</th></tr></thead><tbody>${winters.map(row)}</tbody></table>`)}
    <p class="hint">Days with a mean of 5 °C or less. Hours from 0 to 7 °C and Utah units as far as a smooth day between its lowest and highest can tell them.</p>
    ${gapList(winters.filter((one) => one.chill_days.words).map((one) => `${yearsOf(one)}: ${one.chill_days.words}`))}`;
}

/**
 * Show the part.
 * @param {Element} place
 * @param {{id: string, isClosed: () => boolean, daysHere: (from: string) => number}} screen daysHere: how many days since one are kept on this phone
 * @returns {{read: () => Promise<void>, drawLate: () => void, close: () => void}}
 */
export function showSeason(place, { id, isClosed, daysHere }) {
  let told = null;
  let at = null; // the day on which home told it, where it is out of reach now
  let trouble = null;
  let reading = false;
  let isStale = false;

  function drawLate() {
    const line = place.querySelector('[data-late]');
    if (!line || told === null) return;
    const late = daysHere(`${told.today.slice(0, 4)}-01-01`) - told.this_year;
    line.hidden = late <= 0;
    line.textContent = late > 0 ? `${count(late, 'day', 'days')} noted here ${late === 1 ? 'is' : 'are'} not in these figures yet: home has not reckoned with ${late === 1 ? 'it' : 'them'}.` : '';
  }

  function drawChart() {
    const frame = place.querySelector('[data-chart]');
    if (!frame || frame.clientWidth === 0) return;
    const unit = Number.parseFloat(globalThis.getComputedStyle(frame).fontSize);
    const said = told.seasons.map((one) => `${yearsOf(one)} ${sumWords(one.by_now)}`).join('; ');
    render(frame, seasonChart(told.seasons, yearsOf, { width: frame.clientWidth, unit, label: `How degree days add up through the year. By ${longDate(told.today)}: ${said}.` }));
  }

  function draw() {
    if (isClosed()) return;
    if (told === null) {
      render(place, html`<section class="sheet"><h2>The season</h2>${trouble ? html`<p class="muted">The season’s figures are reckoned at home, which is not in reach. Once told, they stay on this ${here()}.</p>` : html`<p class="muted" role="status">Asking home …</p>`}</section>`);
      return;
    }
    const { seasons, winters } = told;
    if (seasons.length + winters.length === 0) {
      render(place, html`<section class="sheet"><h2>The season</h2><p>With days noted here, or read from a station’s file, home shows how the year warms up beside earlier ones, its frosts and its chill.</p></section>`);
      return;
    }
    const beside = besideWords(seasons, told.today);
    render(place, html`<div class="cols wide-first"><div>${seasons.length > 0 && html`<section class="sheet"><h2>The season beside earlier ones</h2>
        ${at && html`<p class="state quiet">${icon('clock')}As home told it on ${showDate(at)}: it is not in reach now.</p>`}
        <p class="state ask" data-late hidden></p>
        ${beside && html`<p class="strong">${beside}</p>`}
        ${seasons.some(({ curve }) => curve.length > 0) ? html`<div data-chart></div><p class="hint">Warmth above 5 °C added up since ${told.south ? '1 July' : '1 January'}: the higher a line, the earlier the year. Its year stands at its end. A line ends where too many days are missing.</p>` : html`<p>Too many days are missing at the beginning of each season to draw it.</p>`}
        ${!told.lat_known && html`<p class="state ask">${icon('ask')}<span>Where this place lies is not known: seasons are counted as in the north.</span></p>`}</section><section class="sheet">${heatTable(told)}</section>`}</div>
      <div>${winters.length > 0 && html`<section class="sheet">${frostTable(told)}</section><section class="sheet">${chillTable(told)}</section>`}</div></div>`);
    drawChart();
    openFrames(place);
    drawLate();
  }

  async function read() {
    if (reading) return;
    reading = true;
    isStale = false;
    const kept = (await getMeta(KEPT)) ?? {};
    try {
      told = await askHomeJson(`/api/weather/${id}`, { waitMs: WAIT_MS });
      at = null;
      const rest = Object.entries(kept).filter(([name]) => name !== id).slice(1 - MOST_KEPT);
      await setMeta(KEPT, Object.fromEntries([...rest, [id, { at: told.today, told }]]));
    } catch (fault) {
      if (!(fault instanceof HomeError)) throw fault;
      trouble = fault;
      ({ told, at } = kept[id] ?? { told, at });
    } finally {
      reading = false;
    }
    draw();
  }

  draw();
  let width = 0;
  const observer = new ResizeObserver(() => {
    if (told === null || place.clientWidth === width) return;
    width = place.clientWidth;
    drawChart();
    openFrames(place);
  });
  observer.observe(place);
  place.addEventListener('toggle', () => openFrames(place), true); // a folded table has no width
  const report = (fault) => globalThis.reportError?.(fault);
  const stops = [
    onStoreChange((what) => { isStale = isStale || (what?.types ?? ['weather_day']).includes('weather_day'); }),
    // Once home has what was noted, it can reckon with it.
    onSyncState(({ phase, unsent_changes: unsent }) => { if (phase === 'idle' && unsent === 0 && isStale && !isClosed()) read().catch(report); }),
  ];
  return {
    read,
    drawLate,
    close: () => {
      observer.disconnect();
      for (const stop of stops) stop();
    },
  };
}
