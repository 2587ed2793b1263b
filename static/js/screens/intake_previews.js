/** Small pictures for rows in sight only: fetched when a row comes into view, a few at a time, and let go when many are held. */

import { getThumb } from '../store.js';
import { askHome, HomeError } from '../store/home.js';
import { html, render } from '../ui/html.js';

const WAIT_MS = 20_000;
const AT_ONCE = 3;
const MOST_HELD = 150; // small pictures of some 30 kB each
const AHEAD = '300px';

/** Home's small picture of a file that is no record yet. @returns {Promise<Blob|null>} null where none can be made */
async function fromHome(sha256) {
  try {
    const answer = await askHome(`/api/blob/${sha256}/preview`, { waitMs: WAIT_MS });
    return await answer.blob();
  } catch (fault) {
    if (fault instanceof HomeError) return null;
    throw fault;
  }
}

/** The small picture of a kept photo: on this phone already, or fetched and kept. */
async function fromStore(sha256) {
  const got = await getThumb(sha256);
  return got && new Blob([got.bytes], { type: got.type });
}

/**
 * Pictures for every `[data-preview="<sha256>"]` below a root.
 * @param {{kept?: boolean}} [options] kept: of photos that are records, so that this phone may have them
 * @returns {{watch: (root: Element) => void, close: () => void}} watch: call it after each drawing
 */
export function openPreviews({ kept = false } = {}) {
  const held = new Map(); // sha256 -> address, or null where there is no picture; the longest unused first
  const queue = [];
  let running = 0;
  let closed = false;

  const seer = new IntersectionObserver((entries) => {
    for (const { isIntersecting, target } of entries) {
      if (!isIntersecting) continue;
      seer.unobserve(target);
      queue.push(target);
    }
    run();
  }, { rootMargin: AHEAD });

  function put(spot, url) {
    if (url && spot.isConnected) render(spot, html`<img src="${url}" alt="">`);
  }

  function hold(sha256, url) {
    held.set(sha256, url);
    for (const [old, address] of held) {
      if (held.size <= MOST_HELD) break;
      if (document.querySelector(`[data-preview="${old}"] img`)) continue;
      held.delete(old);
      if (address) URL.revokeObjectURL(address);
    }
  }

  async function run() {
    while (!closed && running < AT_ONCE && queue.length > 0) {
      const spot = queue.pop(); // the latest in sight first: what was scrolled past can wait
      if (!spot.isConnected) continue;
      const { preview: sha256 } = spot.dataset;
      if (held.has(sha256)) {
        put(spot, held.get(sha256));
        continue;
      }
      running += 1;
      (kept ? fromStore : fromHome)(sha256).then((blob) => {
        if (closed) return;
        const url = blob ? URL.createObjectURL(blob) : null;
        hold(sha256, url);
        put(spot, url);
      }).catch((fault) => globalThis.reportError?.(fault)).finally(() => {
        running -= 1;
        run();
      });
    }
  }

  return {
    watch(root) {
      for (const spot of root.querySelectorAll('[data-preview]')) {
        if (spot.querySelector('img')) continue;
        const url = held.get(spot.dataset.preview);
        if (url) put(spot, url);
        else if (url === undefined) seer.observe(spot);
      }
    },
    close() {
      closed = true;
      seer.disconnect();
      queue.length = 0;
      for (const url of held.values()) if (url) URL.revokeObjectURL(url);
    },
  };
}
