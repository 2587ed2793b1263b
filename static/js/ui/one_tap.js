/** One tap, one save: what a cold hand taps twice, or taps again while it is being saved, is kept once. */

import { notice } from './notice.js';

const SECOND_TAP_MS = 600; // a second tap sooner than that is the shake of a hand; own rule
const SAME_SPOT_PX = 48; // a row may have moved under the finger: a tap there is still the second of the first

let lastInput = -1; // what was typed or chosen since a tap makes the next one a new matter
document.addEventListener('input', () => { lastInput = performance.now(); }, true);

const spotOf = ({ detail, pageX, pageY }) => (detail > 0 && typeof pageX === 'number' ? [pageX, pageY] : null);
const isNear = (a, b) => a !== null && b !== null && Math.hypot(a[0] - b[0], a[1] - b[1]) <= SAME_SPOT_PX;

/**
 * A gate for the saving buttons and forms of one screen: `const tap = oneTap();` then `on(root, 'click', '[data-x]', tap(work))`.
 * A fault of the work is told, by `words` and its own sentence. Submitting never leaves the page.
 * @returns {(work: (ev: Event, el: Element) => any, words?: string) => (ev: Event, el: Element) => Promise<void>} work: giving back false says
 *   that nothing was saved, so the next tap counts at once
 */
export function oneTap() {
  let running = null; // what is being saved
  let last = null; // {work, name, at, spot} of the last tap that counted
  return (work, words = 'Not saved') => async (ev, el) => {
    if (ev.type === 'submit') ev.preventDefault();
    const [at, spot, name] = [performance.now(), spotOf(ev), JSON.stringify(el.dataset)]; // of many rows each has its own name
    const isSoon = last !== null && (running !== null || (at - last.at < SECOND_TAP_MS && lastInput < last.at));
    if (isSoon && ((last.work === work && last.name === name) || isNear(last.spot, spot))) return;
    last = { work, name, at, spot };
    const before = running; // another row is not lost because the one above is still being saved
    const mine = (async () => {
      await before;
      try {
        if ((await work(ev, el)) === false) last = null;
      } catch (fault) {
        last = null;
        notice(`${words}: ${fault.message}`, { kind: 'trouble' });
      }
    })();
    running = mine;
    await mine;
    if (running === mine) running = null;
  };
}
