/** Corners of a boundary out of what people have at hand: a position to a line in any notation, or a walked track (GPX). */

import { AreaFault } from '../core/area_text.js';
import { BadInput } from '../core/errors.js';
import { readPosition } from '../core/gridref.js';
import { showDistance } from './words.js';

const ENOUGH = 150; // corners of a walked edge; more are wobble, and slow every check on the hill
const COARSEST_SQUARE_M = 100; // own rule: the middle of a larger square is no corner of anybody's ground
const FIRST_TOLERANCE_DEG = 0.00001; // about a metre

function corner(lat, lon, where) {
  if (!Number.isFinite(lat) || !Number.isFinite(lon)) throw new AreaFault(`${where} is not a pair of degrees. Write latitude, then longitude, as 55.4012, -3.3920.`);
  if (Math.abs(lat) > 90 || Math.abs(lon) > 180) throw new AreaFault(`${where} lies off the earth: latitude ${lat}, longitude ${lon}. Latitude comes first, both in degrees.`);
  return { lat, lon };
}

function ofLine(line, number) {
  // With a decimal comma the two are parted by a semicolon or a blank; else by a comma, semicolon or blank.
  const parts = /[;\t]|\d,\d+\s+-?\d+,\d/.test(line) ? line.replaceAll(',', '.').split(/[;\s]+/) : line.split(/[,\s]+/);
  const numbers = parts.filter((part) => part !== '').map((part) => (/^[+-]?\d+(\.\d+)?°?$/.test(part) ? Number.parseFloat(part) : Number.NaN));
  if (numbers.length === 2 && numbers.every(Number.isFinite)) return corner(numbers[0], numbers[1], `Line ${number}`);
  try {
    const { lat, lon, square_m: side } = readPosition(line);
    if (side > COARSEST_SQUARE_M) throw new AreaFault(`Line ${number} names a whole square of ${showDistance(side)}: “${line.slice(0, 40)}”. Write more figures, down to 10 m or better.`);
    return { lat, lon };
  } catch (fault) {
    if (!(fault instanceof BadInput)) throw fault;
    throw new AreaFault([`Line ${number} is no position in any notation read here: “${line.slice(0, 40)}”.`, fault.message, fault.cure].filter(Boolean).join(' '));
  }
}

/** How far c lies off the line a-b, in degrees of latitude, near enough for thinning. */
function off(a, b, c) {
  const narrow = Math.cos((a.lat * Math.PI) / 180);
  const [bx, by, cx, cy] = [(b.lon - a.lon) * narrow, b.lat - a.lat, (c.lon - a.lon) * narrow, c.lat - a.lat];
  const long = Math.hypot(bx, by);
  return long === 0 ? Math.hypot(cx, cy) : Math.abs(bx * cy - by * cx) / long;
}

/** The points that matter (Douglas and Peucker): whatever lies nearer than the tolerance to the rest is left out. */
function thin(points, tolerance) {
  const kept = new Set([0, points.length - 1]);
  const open = [[0, points.length - 1]];
  while (open.length > 0) {
    const [from, to] = open.pop();
    let [far, at] = [tolerance, -1];
    for (let i = from + 1; i < to; i += 1) {
      const distance = off(points[from], points[to], points[i]);
      if (distance > far) [far, at] = [distance, i];
    }
    if (at < 0) continue;
    kept.add(at);
    open.push([from, at], [at, to]);
  }
  return points.filter((_, i) => kept.has(i));
}

function ofTrack(text) {
  const file = new DOMParser().parseFromString(text, 'application/xml');
  if (file.querySelector('parsererror')) throw new AreaFault('This track cannot be read to its end. Copy the whole text of the GPX file, or choose the file again.');
  const points = ['trkpt', 'rtept', 'wpt'].map((name) => [...file.getElementsByTagNameNS('*', name)]).find((list) => list.length > 0) ?? [];
  if (points.length === 0) throw new AreaFault('There is no walked line in this track.');
  const all = points.map((one, i) => corner(Number(one.getAttribute('lat') || Number.NaN), Number(one.getAttribute('lon') || Number.NaN), `Point ${i + 1} of the track`));
  let line = all;
  for (let tolerance = FIRST_TOLERANCE_DEG; line.length > ENOUGH; tolerance *= 2) line = thin(all, tolerance);
  return line;
}

/**
 * Read corners.
 * @param {string} text one corner to a line in any notation of core/gridref.js; or the text of a GPX file
 * @returns {{lat: number, lon: number}[]} in order, the first not repeated
 * @throws {AreaFault}
 */
export function readCorners(text) {
  const plain = text.trim();
  const list = plain.startsWith('<')
    ? ofTrack(plain)
    : plain.split('\n').map((line, i) => [line.trim(), i + 1]).filter(([line]) => line !== '').map(([line, number]) => ofLine(line, number));
  const [first, last] = [list[0], list.at(-1)];
  return list.length > 1 && first.lat === last.lat && first.lon === last.lon ? list.slice(0, -1) : list;
}
