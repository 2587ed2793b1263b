/**
 * One position out of several fixes of the same tree. Twin of field/core/fix.py.
 *
 * Receivers state a 68 % radius and err together for minutes: the sky they see is the same. So averaging helps less than the
 * square root of the number promises, and the stated accuracy stops at half the best single fix.
 */

import { BadInput } from './errors.js';
import { metresPerDegree, readPosition, wrapLon } from './geodesy.js';
import { isMissing, readMeasure } from './units.js';

// 95 % radius over 68 % radius of a circular normal error: sqrt(ln 0.05 / ln 0.32) = 1.6214.
export const R95 = 1.62;
const SCALED_MAD = 1.4826; // normal law: 1 / Φ⁻¹(3/4)
const OUTLIER_MADS = 3;
// Fixes that agree to the last digit have a MAD of zero; closer than this none is called an outlier. Common practice.
const LEAST_SPREAD_M = 1;
const ROUNDING_M = 1e-6; // degrees hold no less
const LEAST_ACCURACY_M = 0.01; // no receiver in a hand knows better; keeps the weights finite
const BEST_SHARE = 0.5; // of the best single fix: errors of one receiver are not independent

/**
 * The weighted mean of several fixes of one tree.
 * @param {Array<{lat: number, lon: number, accuracy_m?: number|null, height_m?: number|null}>} fixes at least one; an
 *   accuracy of 0 says nothing and counts as not known
 * @returns {{lat: number, lon: number, accuracy_m: number|null, height_m: number|null, used: number[], set_aside: number[]}}
 *   the mean by 1 / accuracy², of the fixes within 3 scaled MAD of the median, northwards and eastwards; used and set_aside
 *   are places in the list. When no fix has an accuracy: the plain mean, accuracy null
 * @throws {BadInput} if there is no fix, or one is no position
 */
export function averageFixes(fixes) {
  if (!fixes.length) throw new BadInput('There is no position to average.', 'Take a position first.', 'fixes');
  const [lat0, lon0] = readPosition(fixes[0].lat, fixes[0].lon, 'fixes[0]');
  const [northScale, eastScale] = metresPerDegree(lat0);
  const read = fixes.map((fix, place) => readFix(fix, place, lat0, lon0, northScale, eastScale));
  const known = read.filter((fix) => fix.accuracyM !== null);
  const kept = withoutOutliers(known.length ? known : read);
  const weights = kept.map((fix) => (fix.accuracyM === null ? 1 : 1 / Math.max(fix.accuracyM, LEAST_ACCURACY_M) ** 2));
  const total = sum(weights);
  const north = sum(kept.map((fix, i) => weights[i] * fix.northM)) / total;
  const east = sum(kept.map((fix, i) => weights[i] * fix.eastM)) / total;
  const used = kept.map((fix) => fix.place);
  const accuracies = kept.flatMap((fix) => (fix.accuracyM === null ? [] : [fix.accuracyM]));
  return {
    lat: lat0 + north / northScale,
    lon: wrapLon(lon0 + east / eastScale),
    accuracy_m: accuracies.length ? Math.max(1 / Math.sqrt(total), BEST_SHARE * Math.min(...accuracies)) : null,
    height_m: meanHeight(kept, weights),
    used,
    set_aside: read.map((fix) => fix.place).filter((place) => !used.includes(place)),
  };
}

function readFix(fix, place, lat0, lon0, northScale, eastScale) {
  const where = `fixes[${place}]`;
  const [lat, lon] = readPosition(fix.lat, fix.lon, where);
  const accuracy = readMeasure(fix.accuracy_m, 'The accuracy of a position', `${where}.accuracy_m`);
  const height = isMissing(fix.height_m) ? null : fix.height_m;
  if (height !== null && typeof height !== 'number') {
    throw new BadInput('The height of a position is not a number.', 'Give metres.', `${where}.height_m`);
  }
  if (height !== null && !Number.isFinite(height)) {
    throw new BadInput('The height of a position is not a usable number.', 'Give metres.', `${where}.height_m`);
  }
  return {
    place,
    northM: (lat - lat0) * northScale,
    eastM: wrapLon(lon - lon0) * eastScale,
    accuracyM: accuracy === 0 ? null : accuracy,
    heightM: height,
  };
}

function withoutOutliers(fixes) {
  const northOff = offMedian(fixes.map((fix) => fix.northM));
  const eastOff = offMedian(fixes.map((fix) => fix.eastM));
  const northLimit = Math.max(LEAST_SPREAD_M, OUTLIER_MADS * SCALED_MAD * median(northOff));
  const eastLimit = Math.max(LEAST_SPREAD_M, OUTLIER_MADS * SCALED_MAD * median(eastOff));
  return fixes.filter((_, i) => northOff[i] <= northLimit + ROUNDING_M && eastOff[i] <= eastLimit + ROUNDING_M);
}

function offMedian(numbers) {
  const middle = median(numbers);
  return numbers.map((number) => Math.abs(number - middle));
}

function median(numbers) {
  const sorted = [...numbers].sort((a, b) => a - b);
  const half = Math.floor(sorted.length / 2);
  return sorted.length % 2 ? sorted[half] : (sorted[half - 1] + sorted[half]) / 2;
}

function meanHeight(fixes, weights) {
  const told = fixes.flatMap((fix, i) => (fix.heightM === null ? [] : [[weights[i], fix.heightM]]));
  return told.length ? sum(told.map(([w, height]) => w * height)) / sum(told.map(([w]) => w)) : null;
}

function sum(numbers) {
  return numbers.reduce((total, number) => total + number, 0);
}
