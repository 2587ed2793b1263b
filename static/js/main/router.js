/** From an address to a screen: which one is open, opened once, and closed before the next. */

import { html, render } from '../ui/html.js';
import { icon } from '../ui/icons.js';

/** Address word -> file of the screen. */
export const SCREENS = {
  ground: 'ground', site: 'site', leave: 'leave', landholder: 'landholder', consent: 'consent', checks: 'checks', sign: 'sign', signed: 'signed', mark: 'mark', 'may-i': 'may_dig', lift: 'lift', trees: 'trees', tree: 'tree', cut: 'before_cut', card: 'card', 'card-change': 'card_change', 'card-copy': 'card_copy', seen: 'seen', garden: 'garden', place: 'place', wire: 'wire', cold: 'cold', mix: 'mix', water: 'water',
  due: 'due', bench: 'bench', intake: 'intake', papers: 'papers', house: 'house', sync: 'sync_state', pair: 'pair', copy: 'copy', forget: 'forget', weather: 'weather', 'weather-file': 'weather_file',
};
const FIRST = 'ground';
const TITLE = 'Fellside';

/**
 * Read an address like '#/leave/new?site=...'.
 * @param {string} hash
 * @returns {{word: string, screen: string, params: object}} params: `id` the part after the word (for pair also `code`),
 *   `rest` the parts after it, and every name behind the question mark; an unknown address is the ground
 */
export function readRoute(hash) {
  const [path, query = ''] = hash.replace(/^#?\/?/, '').split('?');
  const [word, ...parts] = path.split('/').map(decodePart);
  const known = Object.hasOwn(SCREENS, word) ? word : FIRST;
  if (known !== word) return { word: FIRST, screen: SCREENS[FIRST], params: {} };
  const [id, ...rest] = parts.filter((part) => part !== '');
  const params = { ...Object.fromEntries(new URLSearchParams(query)), ...(id === undefined ? {} : { id }), rest };
  if (word === 'pair' && id !== undefined) params.code = id;
  return { word, screen: SCREENS[word], params };
}

function decodePart(part) {
  try {
    return decodeURIComponent(part);
  } catch {
    return part; // a stray % typed by hand: taken as it stands
  }
}

function showFault(root, fault) {
  render(root, html`<div class="page"><div class="page-head"><h1>This page could not be opened</h1></div>
    <div class="empty">${icon('warn')}<p>Everything recorded is still kept on this phone. What went wrong: ${fault.message}</p>
      <a class="button primary hill" href="#/${FIRST}">Back to the ground</a></div></div>`);
}

/**
 * The new page's title gets the focus, so that keyboard and screen reader go on from there; or the title of the part that
 * the address asked for, marked data-arrive.
 */
function arrive(root, moveFocus) {
  const head = root.querySelector('h1');
  document.title = head ? `${head.textContent.trim()} · ${TITLE}` : TITLE;
  globalThis.scrollTo(0, 0);
  const part = root.querySelector('[data-arrive]');
  part?.scrollIntoView({ block: part.offsetHeight < globalThis.innerHeight / 2 ? 'center' : 'start' });
  const title = part?.querySelector('h2, h3') ?? head;
  if (!title || !moveFocus) return;
  if (!title.hasAttribute('tabindex')) title.setAttribute('tabindex', '-1');
  title.focus({ preventScroll: true });
}

/**
 * Make the router.
 * @param {Element} place where screens are put
 * @param {{load: (screen: string) => Promise<{open: Function}>, allow: (word: string) => Promise<string|null>,
 *   onOpen: (screen: string) => any}} how allow: gives the word to go to instead, or null
 * @returns {{go: () => Promise<void>}} go: open what the address says
 */
export function makeRouter(place, { load, allow, onOpen }) {
  let close = null;
  let visit = 0;

  function closeOld() {
    const old = close;
    close = null;
    try {
      old?.();
    } catch (fault) {
      globalThis.reportError?.(fault); // a screen that cannot close must not keep the next from opening
    }
  }

  async function go() {
    visit += 1;
    const mine = visit;
    const route = readRoute(globalThis.location.hash);
    const root = document.createElement('div');
    let closing = null;
    try {
      const instead = await allow(route.word);
      if (mine !== visit) return;
      if (instead) {
        globalThis.location.replace(`#/${instead}`);
        return;
      }
      const { open } = await load(route.screen);
      if (mine !== visit) return;
      closeOld();
      // Every screen gets a place of its own: what an old one still draws late goes where nobody looks.
      place.replaceChildren(root);
      onOpen(route.screen);
      closing = await open(root, route.params);
    } catch (fault) {
      if (mine !== visit) return;
      closeOld();
      place.replaceChildren(root);
      onOpen(route.screen);
      showFault(root, fault);
    }
    if (mine !== visit) {
      closing?.(); // the person went on while it was still opening
      return;
    }
    close = closing;
    arrive(root, mine > 1);
  }

  return { go };
}
