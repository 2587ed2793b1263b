/** The seasons of a place as lines: how degree days add up, this year heavy, earlier ones lighter and each broken otherwise. */

import { html } from './html.js';

const MONTHS = ['J', 'F', 'M', 'A', 'M', 'J', 'J', 'A', 'S', 'O', 'N', 'D'];
const DAY_MS = 86_400_000;
const STEPS = [50, 100, 200, 250, 500, 1000, 2000];
const MOST_LINES = 5; // rules across; more are not read
const STYLES = ['now', 'last', 'before']; // of the seasons, the running one first; all others are drawn alike

/** How the line of a season is drawn: the name of its class. @param {number} number 0 for the running one */
export const lineStyle = (number) => STYLES[number] ?? 'older';

/** A short piece of a season's line, for beside its name. */
export const lineKey = (number) => html`<svg class="line-key" viewBox="0 0 28 8" aria-hidden="true" focusable="false"><path class="season-line ${lineStyle(number)}" d="M1 4H27"/></svg>`;

const rulesUpTo = (top) => {
  const step = STEPS.find((one) => top / one <= MOST_LINES) ?? Math.ceil(top / MOST_LINES / 1000) * 1000;
  return Array.from({ length: Math.max(1, Math.ceil(top / step)) }, (_, n) => (n + 1) * step);
};

/** The day of the season, from 0, on which each of its months begins. @param {string} since its first day */
function monthStarts(since) {
  const [year, month] = since.split('-').map(Number);
  const first = Date.UTC(year, month - 1, 1);
  return Array.from({ length: 13 }, (_, n) => (Date.UTC(year, month - 1 + n, 1) - first) / DAY_MS);
}

/**
 * @param {{since: string, curve: [number, number][]}[]} seasons the running one first
 * @param {{width: number, unit: number, label: string}} drawn width in px; unit: px of one letter's height; label: what it shows, for
 *   those who do not see it
 */
export function seasonChart(seasons, { width, unit, label }) {
  const [left, right, foot, head] = [unit * 3.1, unit * 0.6, unit * 1.6, unit * 0.6];
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
  const drawn = seasons.map((season, number) => ({ season, number })).filter(({ season }) => season.curve.length > 0).reverse();
  return html`<svg class="season-chart" viewBox="0 0 ${two(width)} ${two(high)}" role="img" aria-label="${label}">
    ${[0, ...rules].map((sum) => html`<path class="season-rule" d="M${two(left)} ${two(y(sum))}H${two(width - right)}"/><text class="season-words end" x="${two(left - unit * 0.4)}" y="${two(y(sum) + unit * 0.32)}">${sum.toLocaleString('en-GB')}</text>`)}
    ${starts.slice(1, 12).map((day) => html`<path class="season-rule month" d="M${two(x(day))} ${two(y(0))}v${two(unit * 0.35)}"/>`)}
    ${starts.slice(0, 12).map((day, n) => n % every === 0 && html`<text class="season-words middle" x="${two(x((day + starts[n + 1]) / 2))}" y="${two(high - unit * 0.25)}">${MONTHS[(n + Number(seasons[0].since.slice(5, 7)) - 1) % 12]}</text>`)}
    ${drawn.map(({ season, number }) => html`<path class="season-line ${lineStyle(number)}" d="${line(season)}"/>`)}
    ${end && html`<circle class="season-end" cx="${two(x(end[0]))}" cy="${two(y(end[1]))}" r="${two(unit * 0.3)}"/>`}</svg>`;
}
