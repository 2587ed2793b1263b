/**
 * When the sun rises and sets at a place, and how much daylight is left there. Twin of field/core/sun.py.
 *
 * Times are those of a level horizon: hills around make the evening shorter, never longer. They are for planning a day, not
 * for navigation or rescue. Instants are milliseconds since 1970, on whole seconds.
 */

import { instantText, plusDays, readDate, readInstant } from './dates.js';
import { BadInput } from './errors.js';
import { readPosition } from './geodesy.js';
import { readMeasure, roundHalfUp } from './units.js';

const RADIANS = Math.PI / 180;
const SUNSET_DEG = -0.8333; // centre of the sun: refraction 34', half the disc 16' (NOAA, and the almanacs)
const DUSK_DEG = -6; // civil, by definition: without regard to height
const DIP_DEG = 1.76 / 60; // for each square root of a metre (Bowditch, American Practical Navigator, table 12)
const FIRST_YEAR = 1000;
const LAST_YEAR = 3000; // what the short series is good for
const MOST_HEIGHT_M = 9000;
const DAY_S = 86400;
const HALF_DAY_S = 43200;
const J2000_S = 946728000; // 2000-01-01 12:00 UTC, in seconds since 1970
const STEPS = 24; // halvings of half a day: to 3 ms

/**
 * Sunrise, solar noon, sunset and civil dusk of a day at a place.
 * @param {string} on 'YYYY-MM-DD', the date in local mean solar time (longitude / 15 hours)
 * @param {number} lat degrees, WGS 84
 * @param {number} lon degrees
 * @param {number} heightM above what bounds the view: it lowers the horizon by 1.76' times the square root of the metres; in a
 *   valley leave it 0. Civil dusk does not change with it
 * @returns {{sunrise: number|null, solar_noon: number, sunset: number|null, civil_dusk: number|null}} milliseconds since
 *   1970; null where it does not happen that day. Within 60 s below 60 degrees, 120 s to 66 and 300 s above
 * @throws {BadInput} for what is no date, position or height, or a year before 1000 or after 3000
 */
export function sunTimes(on, lat, lon, heightM = 0) {
  readPosition(lat, lon);
  const height = readMeasure(heightM, 'The height', 'height_m');
  if (height === null || height > MOST_HEIGHT_M) {
    throw new BadInput('The height is no height on the ground.', 'Give metres, 0 to 9000.', 'height_m');
  }
  const year = Number(readDate(on, 'The day', 'on').slice(0, 4));
  if (!(year >= FIRST_YEAR && year <= LAST_YEAR)) {
    throw new BadInput(`The sun is not reckoned for the year ${year}.`, 'Give a year from 1000 to 3000.', 'on');
  }
  const noonS = noonOf(on, lon);
  const horizonDeg = SUNSET_DEG - DIP_DEG * Math.sqrt(height);
  return {
    sunrise: instant(crossingS(noonS, -HALF_DAY_S, lat, lon, horizonDeg)),
    solar_noon: instant(noonS),
    sunset: instant(crossingS(noonS, HALF_DAY_S, lat, lon, horizonDeg)),
    civil_dusk: instant(crossingS(noonS, HALF_DAY_S, lat, lon, DUSK_DEG)),
  };
}

/**
 * How much daylight is left at a place, for a level horizon; near hills much less is left.
 * @param {string|number} now an instant: text, or milliseconds since 1970
 * @param {number} lat degrees, WGS 84
 * @param {number} lon degrees
 * @returns {{state: string, sunset: number|null, civil_dusk: number|null, to_sunset_min: number|null,
 *   to_dusk_min: number|null}} state is 'day', 'dawn', 'dusk' (sun down, still light enough to see the ground) or 'night';
 *   whole minutes rounded down, null when that is past, it is night, or it does not happen
 */
export function daylightLeft(now, lat, lon) {
  readPosition(lat, lon);
  const nowMs = readInstant(now, 'The moment', 'now');
  const times = sunTimes(solarDate(nowMs, lon), lat, lon);
  const elevation = elevationDeg(nowMs / 1000 - J2000_S, lat, lon);
  let state = 'night';
  if (elevation >= SUNSET_DEG) state = 'day';
  else if (elevation >= DUSK_DEG) state = nowMs < times.solar_noon ? 'dawn' : 'dusk';
  return {
    state,
    sunset: times.sunset,
    civil_dusk: times.civil_dusk,
    to_sunset_min: state === 'dawn' || state === 'day' ? minutesTo(nowMs, times.sunset) : null,
    to_dusk_min: state === 'night' ? null : minutesTo(nowMs, times.civil_dusk),
  };
}

/**
 * The day between whose solar midnights an instant lies: the `on` of `sunTimes`.
 * @param {string|number} now an instant
 * @param {number} lon degrees
 * @returns {string} 'YYYY-MM-DD'
 */
export function solarDate(now, lon) {
  const nowMs = readInstant(now, 'The moment', 'now');
  const near = instantText(nowMs + (lon / 15) * 3600000).slice(0, 10);
  const days = [near, plusDays(near, -1), plusDays(near, 1)];
  return days.find((on) => Math.abs(nowMs / 1000 - J2000_S - noonOf(on, lon)) <= HALF_DAY_S) ?? near;
}

/**
 * How high the centre of the sun stands, without refraction.
 * @param {number} atS seconds since 2000-01-01 12:00 UTC
 * @returns {number} degrees, negative below the level horizon
 */
export function elevationDeg(atS, lat, lon) {
  const [declination, equationS] = sun(atS);
  const hourAngle = (((atS + equationS) / DAY_S) * 360 + lon) * RADIANS;
  const sine = Math.sin(lat * RADIANS) * Math.sin(declination)
    + Math.cos(lat * RADIANS) * Math.cos(declination) * Math.cos(hourAngle);
  return Math.asin(Math.max(-1, Math.min(1, sine))) / RADIANS;
}

/** The declination (radians) and the equation of time (seconds, sun before clock): NOAA, after Meeus, chapter 25. */
function sun(atS) {
  const t = atS / (DAY_S * 36525); // centuries
  const meanLon = (280.46646 + t * (36000.76983 + t * 0.0003032)) * RADIANS;
  const anomaly = (357.52911 + t * (35999.05029 - 0.0001537 * t)) * RADIANS;
  const e = 0.016708634 - t * (0.000042037 + 0.0000001267 * t);
  const centre = (Math.sin(anomaly) * (1.914602 - t * (0.004817 + 0.000014 * t))
    + Math.sin(2 * anomaly) * (0.019993 - 0.000101 * t) + Math.sin(3 * anomaly) * 0.000289) * RADIANS;
  const node = (125.04 - 1934.136 * t) * RADIANS;
  const apparentLon = meanLon + centre - (0.00569 + 0.00478 * Math.sin(node)) * RADIANS;
  const tilt = (23 + (26 + (21.448 - t * (46.815 + t * (0.00059 - t * 0.001813))) / 60) / 60
    + 0.00256 * Math.cos(node)) * RADIANS;
  const y = Math.tan(tilt / 2) ** 2;
  const equation = y * Math.sin(2 * meanLon) - 2 * e * Math.sin(anomaly)
    + 4 * e * y * Math.sin(anomaly) * Math.cos(2 * meanLon) - 0.5 * y * y * Math.sin(4 * meanLon)
    - 1.25 * e * e * Math.sin(2 * anomaly);
  return [Math.asin(Math.sin(tilt) * Math.sin(apparentLon)), (equation / (2 * Math.PI)) * DAY_S];
}

/** The instant of the sun's upper transit, in seconds since J2000. */
function noonOf(on, lon) {
  const meanNoonS = readInstant(`${on}T12:00Z`, 'The day', 'on') / 1000 - J2000_S - (lon / 360) * DAY_S;
  let noonS = meanNoonS;
  for (let i = 0; i < 3; i += 1) noonS = meanNoonS - sun(noonS)[1]; // the equation moves by 30 s a day at most
  return noonS;
}

/** When the sun passes an elevation between noon and a midnight, or null if it does not. */
function crossingS(noonS, spanS, lat, lon, elevation) {
  let [high, low] = [noonS, noonS + spanS];
  if (elevationDeg(high, lat, lon) < elevation || elevationDeg(low, lat, lon) >= elevation) return null;
  for (let i = 0; i < STEPS; i += 1) {
    const middle = (high + low) / 2;
    if (elevationDeg(middle, lat, lon) >= elevation) high = middle;
    else low = middle;
  }
  return (high + low) / 2;
}

function instant(atS) {
  return atS === null ? null : (roundHalfUp(atS) + J2000_S) * 1000;
}

function minutesTo(nowMs, thenMs) {
  return thenMs === null || thenMs < nowMs ? null : Math.floor((thenMs - nowMs) / 60000);
}
