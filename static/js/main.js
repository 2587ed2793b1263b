/** The start: the store, the places, the quiet line, the screens, then sync and updates. */

import { keepLine } from './main/line.js';
import { makeRouter } from './main/router.js';
import { getIdentity, onStoreChange, openStore } from './store.js';
import { onSyncState, startSync } from './sync.js';
import { drawNav, FULL_ONLY } from './ui/nav.js';
import { notice } from './ui/notice.js';
import { setOwnName } from './ui/words.js';
import { applyUpdate, startUpdates } from './update.js';

const BEFORE_PAIRING = new Set(['pair', 'house', 'sync', 'copy']);

let mayAll = true; // what home last said of this phone, at pairing and at each sync
let openScreen = null;
let toSettle = 0;

function drawPlaces() {
  if (openScreen !== null) drawNav(document.getElementById('nav'), openScreen, { mayAll, toSettle });
}

/** Without an identity there is nothing to see yet but how to pair; with one, all that is kept here stays open. */
async function allow(word) {
  const identity = await getIdentity();
  if (identity === null) return BEFORE_PAIRING.has(word) ? null : 'pair';
  mayAll = identity.role !== 'record';
  document.documentElement.dataset.may = mayAll ? 'all' : 'record';
  return !mayAll && FULL_ONLY.has(word) ? 'ground' : null;
}

function offerUpdate() {
  const away = notice('A new version is ready.', {
    kind: 'plain',
    stays: true, // until it is taken or closed
    act: {
      label: 'Use it',
      run: () => {
        const reason = applyUpdate();
        if (reason) notice(reason, { kind: 'plain' });
        else away();
      },
    },
  });
}

async function start() {
  const router = makeRouter(document.getElementById('app'), {
    load: (screen) => import(`./screens/${screen}.js`),
    allow,
    onOpen: (screen) => {
      openScreen = screen;
      drawPlaces();
    },
  });
  globalThis.addEventListener('hashchange', router.go);
  // The addresses of screens stand behind the same sign as places of a page: this link must not be taken for one.
  document.querySelector('[data-skip-link]').addEventListener('click', (ev) => {
    ev.preventDefault();
    const page = document.getElementById('app');
    page.focus();
    page.scrollIntoView();
  });
  keepLine(document.getElementById('line'), onSyncState);
  onSyncState(({ conflicts }) => {
    if (conflicts === toSettle) return;
    toSettle = conflicts;
    drawPlaces();
  });
  // Said here for every screen: a photo that found no room must never go unnoticed.
  onStoreChange((what) => {
    const texts = new Set((what?.photos_refused ?? []).map((photo) => photo.text));
    for (const text of texts) notice(text, { kind: 'trouble', stays: true });
  });
  const readOwnName = async () => setOwnName((await getIdentity())?.name);
  try {
    await openStore();
    await readOwnName();
    onStoreChange(() => readOwnName().catch((fault) => globalThis.reportError?.(fault)));
  } catch (fault) {
    notice(fault.message, { kind: 'trouble', stays: true });
  }
  await router.go();
  startSync();
  const trouble = await startUpdates(offerUpdate);
  if (trouble) notice(trouble, { kind: 'trouble' });
}

start();
