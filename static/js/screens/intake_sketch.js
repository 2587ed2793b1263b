/** A small drawing of an intake: the walk as a line, each photo as a numbered dot, the trees that are kept as rings. */

import { html } from '../ui/html.js';

const WIDE = 640;
const HIGH = 400;
const EDGE = 40;
const LEAST_M = 60; // less ground than this tells nothing about where it is
const NICE_M = [5, 10, 20, 50, 100, 200, 500, 1000, 2000, 5000, 10_000, 20_000];
const M_PER_DEG = 111_320; // on the equator; good enough for a drawing, never for a distance that is told

/** The points of a recorded walk, for the drawing only; the reading that counts is done at home. */
export async function walkPoints(file) {
  const xml = new DOMParser().parseFromString(await file.text(), 'application/xml');
  const points = [...xml.getElementsByTagNameNS('*', 'trkpt')].map((el) => ({ lat: Number(el.getAttribute('lat') ?? NaN), lon: Number(el.getAttribute('lon') ?? NaN) }));
  const good = points.filter(({ lat, lon }) => Math.abs(lat) <= 90 && Math.abs(lon) <= 180);
  const every = Math.max(1, Math.ceil(good.length / 800));
  return good.filter((_, i) => i % every === 0);
}

/**
 * @param {{photos: {n: number, lat: number, lon: number}[], lines: {lat: number, lon: number}[][], trees: {tag: string, lat: number, lon: number}[]}} what
 * @returns {import('../ui/html.js').Safe|null} null when nothing has a place
 */
export function sketch({ photos, lines, trees }) {
  const main = photos.length > 0 ? photos : lines.flat(); // the photos are what is looked over; the walk may run off the page
  if (main.length === 0) return null;
  const lats = main.map((p) => p.lat);
  const lons = main.map((p) => p.lon);
  const mid = { lat: (Math.min(...lats) + Math.max(...lats)) / 2, lon: (Math.min(...lons) + Math.max(...lons)) / 2 };
  const east = M_PER_DEG * Math.cos((mid.lat * Math.PI) / 180);
  const spanX = Math.max(LEAST_M, (Math.max(...lons) - Math.min(...lons)) * east);
  const spanY = Math.max(LEAST_M / 2, (Math.max(...lats) - Math.min(...lats)) * M_PER_DEG);
  const scale = Math.min((WIDE - 2 * EDGE) / spanX, (HIGH - 2 * EDGE) / spanY);
  const x = (p) => (WIDE / 2 + (p.lon - mid.lon) * east * scale).toFixed(1);
  const y = (p) => (HIGH / 2 - (p.lat - mid.lat) * M_PER_DEG * scale).toFixed(1);
  const shown = trees.filter((tree) => Number(x(tree)) > 0 && Number(x(tree)) < WIDE && Number(y(tree)) > 0 && Number(y(tree)) < HIGH);
  const bar = NICE_M.findLast((m) => m * scale <= WIDE / 4) ?? NICE_M[0];
  return html`<svg class="intake-sketch" viewBox="0 0 ${WIDE} ${HIGH}" role="img" aria-label="Sketch of ${photos.length} placed photos and ${lines.length} walks; the table below says the same in words">
    ${lines.map((line) => html`<polyline class="walk" points="${line.map((p) => `${x(p)},${y(p)}`).join(' ')}"/>`)}
    ${shown.map((tree) => html`<circle class="kept" cx="${x(tree)}" cy="${y(tree)}" r="9"/><text class="kept-tag" x="${x(tree)}" y="${(Number(y(tree)) - 13).toFixed(1)}" text-anchor="middle">${tree.tag}</text>`)}
    ${photos.map((p) => html`<g class="shot" data-dot="${p.n}"><circle cx="${x(p)}" cy="${y(p)}" r="11"/><text x="${x(p)}" y="${(Number(y(p)) + 5).toFixed(1)}" text-anchor="middle">${p.n}</text></g>`)}
    <path class="scale" d="M${EDGE} ${HIGH - 16}v6h${(bar * scale).toFixed(1)}v-6"/><text class="scale-word" x="${EDGE}" y="${HIGH - 20}">${bar < 1000 ? `${bar} m` : `${bar / 1000} km`}</text>
    <path class="north" d="M${WIDE - 20} 34V12l-6 9M${WIDE - 20} 12l6 9"/>
  </svg>`;
}
