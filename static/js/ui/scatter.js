/** Where the fixes of a tree lie around their middle: a drawing beside the words, which say the same. */

import { metresPerDegree, wrapLon } from '../core/geodesy.js';
import { html } from './html.js';

const CENTRE = 100;
const EDGE_R = 92;
const STEPS_M = [2, 5, 10, 20, 50, 100, 200, 500, 1000]; // the outer ring; what lies beyond is drawn on it

/** The smallest round distance that holds all but the few furthest. */
function outerM(offs) {
  const sorted = [...offs].sort((a, b) => a - b);
  const wanted = (sorted[Math.ceil(sorted.length * 0.9) - 1] ?? 0) * 1.1;
  return STEPS_M.find((step) => step >= wanted) ?? STEPS_M.at(-1);
}

/**
 * Draw fixes around their middle, north up, two rings with their distance.
 * @param {{lat: number, lon: number, is_used: boolean}[]} fixes
 * @param {{lat: number, lon: number}} middle
 */
export function scatter(fixes, middle) {
  const [northM, eastM] = metresPerDegree(middle.lat);
  const spots = fixes.map((fix) => {
    const [x, y] = [wrapLon(fix.lon - middle.lon) * eastM, (fix.lat - middle.lat) * northM];
    return { x, y, off: Math.hypot(x, y), isUsed: fix.is_used };
  });
  const outer = outerM(spots.map((spot) => spot.off));
  const at = (spot) => {
    const scale = (EDGE_R / outer) * (spot.off > outer ? outer / spot.off : 1);
    return [CENTRE + spot.x * scale, CENTRE - spot.y * scale].map((n) => n.toFixed(1));
  };
  return html`<svg class="scatter" viewBox="0 0 200 200" aria-hidden="true" focusable="false">
    <circle class="ring" cx="100" cy="100" r="${EDGE_R}"/><circle class="ring" cx="100" cy="100" r="${EDGE_R / 2}"/>
    <path class="cross" d="M100 90v20M90 100h20"/>
    ${spots.map((spot) => {
      const [x, y] = at(spot);
      return spot.isUsed ? html`<circle class="used" cx="${x}" cy="${y}" r="5"/>` : html`<path class="aside" d="M${x} ${y}m-6 -6l12 12m0 -12l-12 12"/>`;
    })}
    <text class="ring-label" x="100" y="${CENTRE - EDGE_R + 18}" text-anchor="middle">${outer} m</text>
    <text class="ring-label" x="100" y="${CENTRE - EDGE_R / 2 + 18}" text-anchor="middle">${outer / 2} m</text></svg>`;
}
