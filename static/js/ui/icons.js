/**
 * The app's own drawings: 24 x 24, one pen, the colour of the text beside them.
 * They are never the only sign of anything: a word stands beside each, so screen readers pass over them.
 */

import { MAP_MARKS, STAGE_SHAPES } from '../core/shapes.js';
import { html } from './html.js';

const DRAWINGS = {
  // the places
  ground: html`<path d="M2.5 19.5c2.6-5.7 4.9-5.2 7-9.6 1.5-3.1 4-3.3 5.6-.3 1.8 3.5 4.7 4 6.4 9.9"/><path d="M6.5 19.5c1.6-3 3.2-3.2 4.5-5.7.9-1.7 2.2-1.7 3.1 0 1.2 2.2 2.5 2.7 3.4 5.7"/><path d="M10.3 19.5c.5-1.4 1.1-1.9 1.8-2 .9 0 1.5.6 1.9 2"/><path d="M3 5.2c2.4-1.3 4.2 1 6.8-.3"/>`,
  mark: html`<path d="M7 2.7v18.6"/><path d="M7 3.9c3.3-1.5 5.3 1.5 9.5.2l2.6 3.7-2.3 3.6c-4.1 1.2-6.3-1.6-9.8-.2"/><path d="M3.6 21.3c2-1 5-1 7 0"/><path d="M13.5 7.7h.01"/>`,
  may_i: html`<path d="M3.5 5v15.5M20.5 5v15.5"/><path d="M3.5 8h17M3.5 12.7h17M3.5 17.4h17"/><path d="M4 17 20 8.3"/>`,
  trees: html`<path d="M11.7 21.3c.7-2.9-1.9-4.5-.6-7.3.7-1.4 2.2-1.9 2.4-3.7"/><path d="M11 14.1c-1.5-.3-2.6-.8-3.5-2"/><path d="M4.3 11.5c-1.3-2.2.1-4.4 2.2-4.3.4-2.4 3-3.9 5.1-2.7 2-1.9 5.6-1 6 1.5 2.6.3 3.3 3.5 1.4 4.9-2 1.6-4 .6-5.4-.5-1.2 1.7-3.5 1.5-4.4.4-1.3 1.7-3.8 2-4.9.7Z"/><path d="M7.2 21.3h9.6"/>`,
  due: html`<path d="M5 4.3h14.2c.4 5.6.3 9.6-.2 13l-3.5 3.4H5.1C4.7 15 4.7 9.7 5 4.3Z"/><path d="M15.4 20.5c.1-1.5 0-2.5.3-3.1.7-.3 2-.2 3.2-.2"/><path d="m8 9.3 1.2 1.3 2-2.5M13.5 9.6h2.7M8 14.5l1.2 1.3 2-2.5M13.5 14.8h1.7"/><path d="M8.6 2.5v3M15.4 2.5v3"/>`,
  intake: html`<path d="M4 12.5 3 20.3h18l-1-7.8"/><path d="M4 12.5h4.6l1 2.6h4.8l1-2.6H20"/><path d="M12 2.8v8.5M8.7 8.2l3.3 3.3 3.3-3.3"/>`,
  papers: html`<path d="M6 3h9.3L19 6.8V21H6Z"/><path d="M15 3.2v4h3.8M9 11h7M9 14.2h7M9 17.4h4"/>`,
  study: html`<path d="M4 3.5V20h16.5"/><path d="M4.5 6h4v3.2h4.2v2.6h3.8v4h3.6"/>`,
  house: html`<path d="m2.8 11.7 9.3-7.9 9.2 7.9"/><path d="M5.3 9.9v10.6h13.5V9.9"/><path d="M16.3 7.2V4h2.2v5"/><path d="M10 20.3v-6h4v6"/>`,
  // answers and states, each its own outline so that it reads in grey
  yes: html`<circle cx="12" cy="12" r="9.3"/><path d="m7.5 12.4 3.1 3.3 6-7.2"/>`,
  ask: html`<path d="M12 2.3 21.9 12 12 21.7 2.1 12Z"/><path d="M9.7 9.8c.2-1.6 1.2-2.3 2.4-2.3 1.4 0 2.3.9 2.3 2.1 0 1.9-2.3 1.9-2.3 4"/><path d="M12.1 16.7h.01"/>`,
  no: html`<path d="M8.1 2.7h7.8l5.4 5.4v7.8l-5.4 5.4H8.1l-5.4-5.4V8.1Z"/><path d="M7 12h10"/>`,
  warn: html`<path d="M12 3.2 22 20.5H2Z"/><path d="M12 9.5v5M12 17.5h.01"/>`,
  done: html`<path d="m4 12.8 5.3 5.4L20 5.8"/>`,
  skipped: html`<path d="M4 6l7 6-7 6M12 6l7 6-7 6"/>`,
  info: html`<circle cx="12" cy="12" r="9.3"/><path d="M12 11v6M12 7.5h.01"/>`,
  // things and acts
  site: html`<path d="M4 7.5 11 3.8l8.5 4.4-1.3 9.9-8.7 2.3L3.5 15Z" stroke-dasharray="3.6 2.2"/><path d="M11.5 12h.01"/>`,
  leave: html`<path d="M5.5 3.2h13V21l-2.2-1.4-2.2 1.4-2.1-1.4L9.8 21l-2.1-1.4L5.5 21Z"/><path d="M8.5 7.5h7M8.5 10.7h4.5"/><path d="M8.6 15.6c1.5-2.6 2.4-2.3 2.2-.7-.1 1.3 1.2 1.2 1.9-.4.5 1.2 1.5 1 2.7.2"/>`,
  landholder: html`<circle cx="12" cy="7.2" r="3.7"/><path d="M4.5 20.5c.5-4.7 3.3-7 7.5-7s7 2.3 7.5 7"/>`,
  spade: html`<path d="M9.5 3h5M12 3v10.3"/><path d="M7.5 13.3h9c.3 3.7-1 6.2-4.5 8.2-3.5-2-4.8-4.5-4.5-8.2Z"/>`,
  box: html`<path d="M3.5 9.5h17l-1.6 10.3H5.1Z"/><path d="M2.5 9.5v-3h19v3M7.3 20v1.5M16.7 20v1.5"/>`,
  camera: html`<path d="M3 7.5h4.3l1.6-2.8h6.2l1.6 2.8H21v12H3Z"/><circle cx="12" cy="13.2" r="3.7"/>`,
  photo: html`<path d="M3.5 4.5h17v15h-17Z"/><path d="m4 17 4.7-5 3.5 3.5 3-2.7 5 4.5"/><circle cx="15.7" cy="8.7" r="1.5"/>`,
  fix: html`<circle cx="12" cy="12" r="6.5"/><path d="M12 2v5M12 17v5M2 12h5M17 12h5"/><circle cx="12" cy="12" r=".6"/>`,
  walk: html`<path d="M3.5 20.5c3.5-.6 2.5-4 5.7-4.6 3.6-.7 2.2-4.6 5.6-5.3 3-.6 2-4.3 5.7-6.1" stroke-dasharray="3.2 2.6"/>`,
  list: html`<path d="M8.5 6h12M8.5 12h12M8.5 18h12M4 6h.01M4 12h.01M4 18h.01"/>`,
  clock: html`<circle cx="12" cy="12" r="9"/><path d="M12 6.8V12l3.8 2.4"/>`,
  weather: html`<path d="M9.7 13.6V5.2a2.3 2.3 0 0 1 4.6 0v8.4a4.4 4.4 0 1 1-4.6 0Z"/><path d="M12 9.5v7.2M17.5 5.5h2.7M17.5 9.5h1.7"/>`,
  water: html`<path d="M12 3c3.7 4.6 6 7.7 6 11.3a6 6 0 0 1-12 0C6 10.7 8.3 7.6 12 3Z"/>`,
  cut: html`<path d="M3.2 20.8C7.5 17 9 13.6 9.6 8.8"/><path d="M9.2 13.4c3-.2 5.3-1.6 6.6-4"/><path d="m13.2 15.6 7.3-9.9M11.7 12.9l8.2 6.6" stroke-dasharray="2.4 1.9"/>`,
  frost: html`<path d="M12 2.5v19M3.8 7.3l16.4 9.4M20.2 7.3 3.8 16.7"/><path d="m9.5 4.5 2.5 2 2.5-2M9.5 19.5l2.5-2 2.5 2"/>`,
  wire: html`<path d="M4 19c4-1 6.5-4.5 9-8.5S17.5 4.7 20 4"/><path d="M5.5 14.5c2 .3 3.5 1.7 4 4M9 10.7c2 .4 3.6 1.8 4.2 4M12.8 6.5c2 .3 3.5 1.6 4.2 3.7"/>`,
  leafbud: html`<path d="M12 21.5c0-5 .4-8 0-12"/><path d="M12 10C7.8 9.7 5.8 7.3 5.5 3.5 9.8 3.7 12 6 12 10ZM12 13.5c.3-3.2 2.3-5.3 6.5-5.5-.2 3.5-2.5 5.5-6.5 5.5Z"/>`,
  phone: html`<path d="M7 2.5h10v19H7Z"/><path d="M10.5 18.5h3"/>`,
  sync: html`<path d="M4.5 10.5C5.4 6.8 8.3 4.5 12 4.5c2.7 0 5 1.3 6.5 3.4M19.5 13.5c-.9 3.7-3.8 6-7.5 6-2.7 0-5-1.3-6.5-3.4"/><path d="M19 3.5v4.7h-4.7M5 20.5v-4.7h4.7"/>`,
  held: html`<path d="M12 2.7v7"/><path d="M6.5 9.5h11V14H6.5ZM9 14l-1 7h8l-1-7"/>`,
  sign: html`<path d="M3.5 20h17"/><path d="M4.5 15.5c2.5-1 6-6 5.5-9.5-.3-2-2.3-1.5-2.7.8C6.7 10.5 8.5 16 11 15.5c1.7-.3 1.7-3.5 3.2-3.7 1.2-.1.5 3 1.8 3.2 1.2.1 1.5-1.5 2.5-1.5.8 0 .8 1.2 2 1.2"/>`,
  edit: html`<path d="m4 20 1-4.5L16.2 4.3l3.5 3.5L8.5 19Z"/><path d="m13.7 6.8 3.5 3.5"/>`,
  bin: html`<path d="M4 6.5h16M9 6.2V3.5h6v2.7M6 6.5l1 14h10l1-14M10 10.5v6M14 10.5v6"/>`,
  undo: html`<path d="M4 9.5h9.5c3.7 0 6 2.2 6 5.3s-2.3 5.2-6 5.2H8"/><path d="M8.5 4.5 3.8 9.5l4.7 5"/>`,
  close: html`<path d="m5.5 5.5 13 13M18.5 5.5l-13 13"/>`,
  back: html`<path d="M20 12H4.5M11 5l-7 7 7 7"/>`,
  up: html`<path d="M12 20V4.5M5 11l7-7 7 7"/>`,
  down: html`<path d="M12 4v15.5M5 13l7 7 7-7"/>`,
  forward: html`<path d="M9 5l7 7-7 7"/>`,
  key: html`<circle cx="7.8" cy="15.7" r="4.5"/><path d="m11 12.5 9-9M16.5 7l3.2 3.2"/>`,
  hand: html`<path d="M4 13.5c2.5-3 5-3.8 7.5-2.5l4 2c1.2.8.6 2.5-.8 2.3L11 14.5"/><path d="M4 19.5c4 1 7 .7 9.5-.5l7-4.5c.8-1.2-.4-2.6-1.7-2l-3.2 1.3"/>`,
};

for (const [stage, d] of Object.entries(STAGE_SHAPES)) {
  DRAWINGS[`stage_${stage}`] = html`<path d="${d}" ${stage === 'working' ? html`fill="currentColor"` : ''}/>`;
}
for (const mark of ['north', 'plus', 'minus']) DRAWINGS[mark] = html`<path d="${MAP_MARKS[mark]}"/>`;

/** The names that `icon` knows. */
export const ICON_NAMES = Object.keys(DRAWINGS);

/**
 * One drawing as inline SVG, hidden from screen readers.
 * @param {string} name one of ICON_NAMES; '-' and '_' are alike. An unknown name draws nothing and warns, since a missing
 *   drawing must not stop a save
 * @param {string} [kind] further class names
 */
export function icon(name, kind = '') {
  const drawing = DRAWINGS[name.replaceAll('-', '_')];
  if (!drawing) console.warn(`no drawing called ${name}`);
  return html`<svg class="icon ${kind}" viewBox="0 0 24 24" aria-hidden="true" focusable="false">${drawing}</svg>`;
}
