/** The seasons of a place as lines: how degree days add up, this year heavy, earlier ones lighter and each broken otherwise. */

import { html } from './html.js';

const MONTHS = ['J', 'F', 'M', 'A', 'M', 'J', 'J', 'A', 'S', 'O', 'N', 'D'];
const DAY_MS = 86_400_000;
const STEPS = [50, 100, 200, 250, 500, 1000, 2000];
const MOST_LINES = 5; // rules across; more are not read
const LEAST_LETTERS = 14; // of width for names beside the lines; narrower, the dashes alone tell them apart
const STYLES = ['now', 'last', 'before']; // of the seasons, the running one first; all others are drawn alike

/** How the line of a season is drawn: the name of its class. @param {number} number 0 for the running one */
export const lineStyle = (number) => STYLES[number] ?? 'older';

/** A short piece of a season's line, for beside its name. */
export const lineKey = (number) => html`<svg class="line-key" viewBox="0 0 28 8" aria-hidden="true" focusable="false"><path class="season-line ${lineStyle(number)}" d="M1 4H27"/></svg>`;

const rulesUpTo = (top) => {
  const step = STEPS.find((one) => top / one <= MOST_LINES) ?? Math.ceil(top / MOST_LINES / 1000) * 1000;
  return Array.from({ length: Math.max(1, Math.ceil(top / step)) }, (_, n) => (n + 1) * step);
};

/** Where the names stand beside the ends of their lines: none on another, each as near as may be. @param {number[]} wanted from the top down */
function apart(wanted, step) {
  const placed = [];
  for (const y of wanted) placed.push(Math.max(y, (placed.at(-1) ?? -Infinity) + step));
  return placed;
}

/** The day of the season, from 0, on which each of its months begins. @param {string} since its first day */
function monthStarts(since) {
  const [year, month] = since.split('-').map(Number);
  const first = Date.UTC(year, month - 1, 1);
  return Array.from({ length: 13 }, (_, n) => (Date.UTC(year, month - 1 + n, 1) - first) / DAY_MS);
}

/**
 * @param {{since: string, curve: [number, number][]}[]} seasons the running one first
 * @param {(season: object) => string} nameOf what stands beside a season's line
 * @param {{width: number, unit: number, label: string}} drawn width in px; unit: px of one letter's height; label: what it shows, for
 *   those who do not see it
 */
export function seasonChart(seasons, nameOf, { width, unit, label }) {
  const hasNames = width >= unit * LEAST_LETTERS;
  const named = seasons.map((season, number) => ({ name: nameOf(season), number, end: season.curve.at(-1) })).filter(({ number, end }) => hasNames && number < STYLES.length && end);
  const [left, right, foot, head] = [unit * 3.1, unit * (hasNames ? 0.8 + 0.6 * Math.max(...seasons.map((one) => nameOf(one).length)) : 0.6), unit * 1.6, unit * 2.1];
  const high = Math.max(unit * 13, Math.min(width * 0.5, unit * 24));
  const starts = monthStarts(seasons[0].since);
  const rules = rulesUpTo(Math.max(1, ...seasons.flatMap(({ curve }) => curve.map(([, sum]) => sum))));
  const top = rules.at(-1);
  const x = (day) => left + (day / starts[12]) * (width - left - right);
  const y = (sum) => high - foot - (sum / top) * (high - foot - head);
  const two = (number) => number.toFixed(1);
  const every = (width - left - right) / 12 < unit * 0.9 ? 3 : 1; // months named, where the letters of all would lie on each other
  const line = ({ curve }) => `M${two(x(0))} ${two(y(0))}${curve.map(([day, sum]) => `L${two(x(day))} ${two(y(sum))}`).join('')}`;
  const end = seasons[0].curve.at(-1);
  const labels = named.map((one) => ({ ...one, at: y(one.end[1]) })).sort((a, b) => a.at - b.at);
  const places = apart(labels.map(({ at }) => at), unit * 1.15);
  const drawn = seasons.map((season, number) => ({ season, number })).filter(({ season }) => season.curve.length > 0).reverse();
  return html`<svg class="season-chart" viewBox="0 0 ${two(width)} ${two(high)}" role="img" aria-label="${label}">
    <text class="season-words" x="0" y="${two(unit * 0.95)}">degree days, °C d</text>
    ${[0, ...rules].map((sum) => html`<path class="season-rule" d="M${two(left)} ${two(y(sum))}H${two(width - right)}"/><text class="season-words end" x="${two(left - unit * 0.4)}" y="${two(y(sum) + unit * 0.32)}">${sum.toLocaleString('en-GB')}</text>`)}
    ${starts.slice(1, 12).map((day) => html`<path class="season-rule month" d="M${two(x(day))} ${two(y(0))}v${two(unit * 0.35)}"/>`)}
    ${starts.slice(0, 12).map((day, n) => n % every === 0 && html`<text class="season-words middle" x="${two(x((day + starts[n + 1]) / 2))}" y="${two(high - unit * 0.25)}">${MONTHS[(n + Number(seasons[0].since.slice(5, 7)) - 1) % 12]}</text>`)}
    ${drawn.map(({ season, number }) => html`<path class="season-line ${lineStyle(number)}" d="${line(season)}"/>`)}
    ${labels.map(({ name, number, end: [day] }, n) => html`<text class="season-words season-name ${lineStyle(number)}" x="${two(x(day) + unit * 0.5)}" y="${two(places[n] + unit * 0.32)}">${name}</text>`)}
    ${end && html`<circle class="season-end" cx="${two(x(end[0]))}" cy="${two(y(end[1]))}" r="${two(unit * 0.3)}"/>`}</svg>`;
}
