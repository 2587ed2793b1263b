/** Telling the screens, also those of another window, that something kept on this phone has changed. */

const NAME = 'fellside-store';
const listeners = new Set();
const channel = globalThis.BroadcastChannel ? new BroadcastChannel(NAME) : null;

function tell(what) {
  for (const listener of [...listeners]) {
    // One screen's fault must not keep the news from the others, nor make a save look failed: it is reported on its own.
    try {
      listener(what);
    } catch (fault) {
      globalThis.reportError?.(fault);
    }
  }
}

channel?.addEventListener('message', (ev) => tell(ev.data));

/**
 * Be called after every committed change, of this window or another.
 * @param {(what: {types?: string[], unsent?: boolean, photos_refused?: object[]}) => any} listener
 *   types: the types of the records that changed; unsent: a change was made here that home does not have yet
 * @returns {() => void} stops it
 */
export function onStoreChange(listener) {
  listeners.add(listener);
  return () => listeners.delete(listener);
}

/** Tell everyone; called after `complete`, never inside a transaction. */
export function announce(what = {}) {
  channel?.postMessage(what);
  tell(what);
}
