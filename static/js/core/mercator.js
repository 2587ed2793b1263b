/**
 * From degrees to metres on a flat grid and back: the transverse Mercator projection, and the step between two datums.
 * Twin of field/core/mercator.py, where the sources and the accuracy are told.
 */

import { wrapLon } from './geodesy.js';

const RADIANS = Math.PI / 180;
const ARC_SECOND = RADIANS / 3600;

function ellipsoid(a, b) {
  return { a, b, e2: 1 - (b / a) ** 2 };
}

export const WGS84 = ellipsoid(6378137.0, 6378137.0 * (1 - 1 / 298.257223563));
export const AIRY = ellipsoid(6377563.396, 6356256.909);
export const AIRY_MODIFIED = ellipsoid(6377340.189, 6377340.189 * (1 - 1 / 299.3249646));

/** A transverse Mercator grid. Karney 2011, doi:10.1007/s00190-011-0445-3; Krüger's series to the fourth power. */
export class Projection {
  /**
   * @param {{a: number, b: number, e2: number}} figure ellipsoid
   * @param {number} lat0 true origin, degrees
   * @param {number} lon0 degrees
   * @param {number} scale on the middle meridian
   * @param {number} east0 what the true origin is called, metres
   * @param {number} north0 metres
   */
  constructor(figure, lat0, lon0, scale, east0, north0) {
    Object.assign(this, { figure, lon0, scale, east0, north0 });
    const n = (figure.a - figure.b) / (figure.a + figure.b);
    const [n2, n3, n4] = [n * n, n ** 3, n ** 4];
    this.radius = (figure.a / (1 + n)) * (1 + n2 / 4 + n4 / 64);
    this.there = [
      n / 2 - (2 * n2) / 3 + (5 * n3) / 16 + (41 * n4) / 180,
      (13 * n2) / 48 - (3 * n3) / 5 + (557 * n4) / 1440,
      (61 * n3) / 240 - (103 * n4) / 140,
      (49561 * n4) / 161280,
    ];
    this.back = [
      n / 2 - (2 * n2) / 3 + (37 * n3) / 96 - n4 / 360,
      n2 / 48 + n3 / 15 - (437 * n4) / 1440,
      (17 * n3) / 480 - (37 * n4) / 840,
      (4397 * n4) / 161280,
    ];
    this.origin = 0;
    this.origin = this.toGrid(lat0, lon0)[1] - north0;
  }

  /** [easting, northing] in metres of a position in degrees on the grid's own datum. */
  toGrid(lat, lon) {
    const tau = this.conformal(Math.tan(lat * RADIANS));
    const angle = wrapLon(lon - this.lon0) * RADIANS;
    const xi1 = Math.atan2(tau, Math.cos(angle));
    const eta1 = Math.asinh(Math.sin(angle) / Math.hypot(tau, Math.cos(angle)));
    let [xi, eta] = [xi1, eta1];
    this.there.forEach((factor, i) => {
      xi += factor * Math.sin(2 * (i + 1) * xi1) * Math.cosh(2 * (i + 1) * eta1);
      eta += factor * Math.cos(2 * (i + 1) * xi1) * Math.sinh(2 * (i + 1) * eta1);
    });
    const unit = this.scale * this.radius;
    return [this.east0 + unit * eta, this.north0 + unit * xi - this.origin];
  }

  /** [lat, lon] in degrees on the grid's own datum. */
  fromGrid(east, north) {
    const unit = this.scale * this.radius;
    const xi = (north - this.north0 + this.origin) / unit;
    const eta = (east - this.east0) / unit;
    let [xi1, eta1] = [xi, eta];
    this.back.forEach((factor, i) => {
      xi1 -= factor * Math.sin(2 * (i + 1) * xi) * Math.cosh(2 * (i + 1) * eta);
      eta1 -= factor * Math.cos(2 * (i + 1) * xi) * Math.sinh(2 * (i + 1) * eta);
    });
    const wanted = Math.sin(xi1) / Math.hypot(Math.sinh(eta1), Math.cos(xi1));
    const lon = Math.atan2(Math.sinh(eta1), Math.cos(xi1)) / RADIANS;
    return [Math.atan(this.tanLat(wanted)) / RADIANS, wrapLon(this.lon0 + lon)];
  }

  conformal(tau) {
    const e = Math.sqrt(this.figure.e2);
    const sigma = Math.sinh(e * Math.atanh((e * tau) / Math.hypot(1, tau)));
    return tau * Math.hypot(1, sigma) - sigma * Math.hypot(1, tau);
  }

  tanLat(wanted) {
    const rest = 1 - this.figure.e2;
    let tau = wanted;
    for (let i = 0; i < 4; i += 1) { // Newton: two steps reach the last digit, two more cost nothing
      const got = this.conformal(tau);
      tau += ((wanted - got) / Math.hypot(1, got)) * (1 + rest * tau * tau) / (rest * Math.hypot(1, tau));
    }
    return tau;
  }
}

/** Seven numbers that carry positions from one datum to another (rotation of the position vector); heights count as 0. */
export class Helmert {
  /** Metres three times, parts per million, arc seconds three times. */
  constructor(tx, ty, tz, scalePpm, rx, ry, rz) {
    this.t = [tx, ty, tz];
    this.m = 1 + scalePpm * 1e-6;
    this.r = [rx * ARC_SECOND, ry * ARC_SECOND, rz * ARC_SECOND];
  }

  /** [lat, lon] on the target's datum of a position on the source's. */
  apply(lat, lon, source, target) {
    const p = toSpace(lat, lon, source);
    const turn = cross(this.r, p);
    return fromSpace(p.map((value, i) => this.t[i] + this.m * (value + turn[i])), target);
  }

  /** [lat, lon] on the target's datum, by the exact inverse of `apply`. */
  undo(lat, lon, source, target) {
    const v = toSpace(lat, lon, source).map((value, i) => (value - this.t[i]) / this.m);
    // v = p + r × p has the solution p = (v + r (r·v) - r × v) / (1 + r·r).
    const turn = cross(this.r, v);
    const along = dot(this.r, v);
    const d = 1 + dot(this.r, this.r);
    return fromSpace(v.map((value, i) => (value + this.r[i] * along - turn[i]) / d), target);
  }
}

function dot(a, b) {
  return a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
}

function cross(a, b) {
  return [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]];
}

function toSpace(lat, lon, { a, e2 }) {
  const [sinLat, cosLat] = [Math.sin(lat * RADIANS), Math.cos(lat * RADIANS)];
  const nu = a / Math.sqrt(1 - e2 * sinLat * sinLat);
  return [nu * cosLat * Math.cos(lon * RADIANS), nu * cosLat * Math.sin(lon * RADIANS), nu * (1 - e2) * sinLat];
}

function fromSpace([x, y, z], { a, e2 }) {
  const across = Math.hypot(x, y);
  let lat = Math.atan2(z, across * (1 - e2));
  for (let i = 0; i < 6; i += 1) { // each step wins three digits near the ground
    const sinLat = Math.sin(lat);
    lat = Math.atan2(z + e2 * (a / Math.sqrt(1 - e2 * sinLat * sinLat)) * sinLat, across);
  }
  return [lat / RADIANS, Math.atan2(y, x) / RADIANS];
}
