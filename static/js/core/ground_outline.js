/** The outline of a piece of ground for a small sketch, with its middle: north up, in true proportion. */

import { metresPerDegree } from './geodesy.js';

const WIDTH = 1000;
const MARGIN = 40;
const MOST_HEIGHT = 800;
const MAY_TAKE = 0.4; // of the width, by the scale bar

function ringsOf(geometry) {
  const parts = geometry?.type === 'MultiPolygon' ? geometry.coordinates : geometry?.type === 'Polygon' ? [geometry.coordinates] : [];
  return parts.flat().filter((ring) => Array.isArray(ring) && ring.length > 2);
}

/** The longest of 1, 2 or 5 times a power of ten that is not over a length. */
function roundLength(most) {
  const power = 10 ** Math.floor(Math.log10(most));
  return [5, 2, 1].map((times) => times * power).find((length) => length <= most);
}

/**
 * @param {object|null} ground GeoJSON, the ground meant; @param {object|null} [around] GeoJSON, what it is a part of
 * @returns {{middle: {lat: number, lon: number}, width: number, height: number, ground: string, around: string,
 *   bar: {length_m: number, width: number}}|null} paths for a drawing of that size; null where no ground is drawn
 */
export function groundOutline(ground, around = null) {
  const rings = ringsOf(ground);
  if (rings.length === 0) return null;
  const first = rings[0][0][0];
  const near = ([lon, lat]) => [lon + 360 * Math.round((first - lon) / 360), lat]; // the 180th meridian is no edge of the sketch
  const [inner, outer] = [rings, ringsOf(around)].map((some) => some.map((ring) => ring.map(near)));
  const extent = (points, i) => points.reduce(([low, high], point) => [Math.min(low, point[i]), Math.max(high, point[i])], [Infinity, -Infinity]);
  const [west, east] = extent([...inner, ...outer].flat(), 0);
  const [south, north] = extent([...inner, ...outer].flat(), 1);
  const middleOf = (i) => extent(inner.flat(), i).reduce((a, b) => a + b) / 2;
  const [lon, lat] = [middleOf(0), middleOf(1)];
  const [northM, eastM] = metresPerDegree((south + north) / 2);
  const size = [(east - west) * eastM, (north - south) * northM];
  if (!(size[0] > 0) || !(size[1] > 0)) return null;
  const perMetre = Math.min((WIDTH - 2 * MARGIN) / size[0], (MOST_HEIGHT - 2 * MARGIN) / size[1]);
  const left = (WIDTH - size[0] * perMetre) / 2;
  const place = ([x, y]) => `${(left + (x - west) * eastM * perMetre).toFixed(1)} ${(MARGIN + (north - y) * northM * perMetre).toFixed(1)}`;
  const path = (some) => some.map((ring) => `M${ring.map(place).join('L')}Z`).join('');
  const bar = roundLength((WIDTH * MAY_TAKE) / perMetre);
  return {
    middle: { lat, lon: lon - 360 * Math.round(lon / 360) },
    width: WIDTH,
    height: Math.round(size[1] * perMetre + 2 * MARGIN),
    ground: path(inner),
    around: path(outer),
    bar: { length_m: bar, width: bar * perMetre },
  };
}
