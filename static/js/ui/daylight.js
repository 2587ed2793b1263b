/** How much daylight is left at a place, in words; and what is said where the sun does not set, or does not rise. */

import { daylightLeft, solarDate, sunTimes } from '../core/sun.js';
import { html } from './html.js';
import { icon } from './icons.js';
import { sayHere } from './words.js';

/** The time of day by this phone's clock: '16:02'. */
function clock(ms) {
  const at = new Date(ms);
  return `${String(at.getHours()).padStart(2, '0')}:${String(at.getMinutes()).padStart(2, '0')}`;
}

/** '2 h 13 min', '13 min'. */
export function showMinutes(minutes) {
  const hours = Math.floor(minutes / 60);
  return hours > 0 ? `${hours} h ${minutes % 60} min` : `${minutes} min`;
}

function endOfDusk(left) {
  if (left.civil_dusk === null) return 'It does not get dark: dusk lasts all night.';
  return `Dusk ends at ${clock(left.civil_dusk)}${left.to_dusk_min === null ? '' : `, in ${showMinutes(left.to_dusk_min)}`}.`;
}

/**
 * The daylight of this day at a place.
 * @param {number} now milliseconds since 1970
 * @param {number} lat degrees, WGS 84
 * @param {number} lon degrees
 * @returns {{left: string|null, words: string[]}} left: the daylight left until sunset, 'in h min', null where there is none
 *   to count; words: whole sentences
 */
export function daylightWords(now, lat, lon) {
  const left = daylightLeft(now, lat, lon);
  const { sunrise, sunset, solar_noon: noon } = sunTimes(solarDate(now, lon), lat, lon);
  const isBefore = now < noon;
  if (sunset === null && left.state === 'day') return { left: null, words: ['The sun does not set there today.'] };
  if (sunset === null) {
    const light = {
      night: left.civil_dusk === null ? 'It stays dark all day.' : isBefore ? `It is dark now; there is some light around noon, until ${clock(left.civil_dusk)}.` : `It is dark: the last light went at ${clock(left.civil_dusk)}.`,
      dawn: endOfDusk(left),
      dusk: endOfDusk(left),
    }[left.state];
    return { left: null, words: ['The sun does not rise there today.', light] };
  }
  if (left.state === 'day') {
    return { left: showMinutes(left.to_sunset_min), words: [`Sunset at ${clock(sunset)}.`, endOfDusk(left)] };
  }
  if (left.state === 'dusk') return { left: null, words: [`The sun set at ${clock(sunset)}.`, endOfDusk(left)] };
  const risen = isBefore && sunrise !== null ? [`${left.state === 'night' ? 'It is dark there. ' : ''}The sun rises at ${clock(sunrise)}.`] : [];
  if (isBefore) return { left: null, words: [...risen, `Sunset at ${clock(sunset)}.`, endOfDusk(left)] };
  return { left: null, words: [`It is dark there: the sun set at ${clock(sunset)}.`] };
}

/** The same as markup: what is left in large figures, then the sentences and what they are good for. */
export function daylightPanel(now, lat, lon) {
  const { left, words } = daylightWords(now, lat, lon);
  return html`<div class="daylight" data-daylight><p>${icon('clock')}${left === null ? html`<span class="strong">${words[0]}</span>` : html`<span><span class="strong">${left}</span> of daylight left.</span>`}</p>
    <p>${(left === null ? words.slice(1) : words).join(' ')}</p>
    <p class="muted">${sayHere('For a level horizon, by this phone’s clock: hills around make it shorter.')}</p></div>`;
}
