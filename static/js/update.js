/** The page's side of the worker: is there a newer version, and when may it take over; and how to install the app. */

import { syncRuns } from './sync.js';

const WORKER = '/sw.js';
const INSTALL_HINT =
  'On this phone tap Share, then Add to Home Screen, and open Fellside from its icon. A browser page is emptied by the phone after seven days unused.';

const typedIn = new Set(); // forms in which something was typed and that are still open
let registration = null;
let onReady = () => {};
let reloaded = false;
let offered = null; // the waiting worker that was told of
let installPrompt = null;

globalThis.addEventListener?.('beforeinstallprompt', (ev) => {
  ev.preventDefault();
  installPrompt = ev;
});

globalThis.document?.addEventListener('input', (ev) => {
  const form = ev.target instanceof Element ? ev.target.closest('form') : null;
  // A search or a filter holds nothing that could be lost.
  if (form && form.getAttribute('role') !== 'search') typedIn.add(form);
});

/** Whether an open form holds something typed. @returns {boolean} */
export function formIsOpen() {
  for (const form of typedIn) if (!form.isConnected) typedIn.delete(form);
  return typedIn.size > 0;
}

function look() {
  // Only a worker that waits beside a running one is a new version; the very first just begins.
  const waiting = registration?.waiting ?? null;
  if (!waiting || waiting === offered || !navigator.serviceWorker.controller) return;
  offered = waiting;
  onReady();
}

function follow(worker) {
  worker?.addEventListener('statechange', look);
}

/**
 * Ask home for a newer version. `update` resolves also when a file of it failed; only a waiting worker is success.
 * @returns {Promise<boolean>} whether one waits
 */
export async function checkForUpdate() {
  if (!registration) return false;
  try {
    await registration.update();
  } catch {
    return Boolean(registration.waiting); // home is out of reach: the version that is here goes on
  }
  look();
  return Boolean(registration.waiting);
}

/**
 * Register the worker and look for newer versions at the start and whenever the app comes into sight.
 * @param {() => any} ready called when a new version waits to be let in
 * @returns {Promise<string|null>} null when all is well; else one sentence why the app will not open without a network
 */
export async function startUpdates(ready) {
  onReady = ready;
  if (!navigator.serviceWorker) {
    return 'This address is not a trusted one, so Fellside cannot be kept for the hill. Open the https address that home shows.';
  }
  let controlled = Boolean(navigator.serviceWorker.controller);
  navigator.serviceWorker.addEventListener('controllerchange', () => {
    const first = !controlled;
    controlled = true;
    // Another window may have let the new version in while something is being typed here: that is not thrown away.
    if (first || reloaded || formIsOpen()) return;
    reloaded = true;
    globalThis.location.reload();
  });
  try {
    registration = await navigator.serviceWorker.register(WORKER, { updateViaCache: 'none' });
  } catch (cause) {
    registration = (await navigator.serviceWorker.getRegistration()) ?? null;
    if (registration) return null; // it is here already, only home is not
    return `Fellside could not be kept for the hill: ${cause.message}`;
  }
  registration.addEventListener('updatefound', () => follow(registration.installing));
  follow(registration.installing);
  look();
  document.addEventListener('visibilitychange', () => {
    if (document.visibilityState === 'visible') checkForUpdate();
  });
  return null;
}

/**
 * Let the waiting version in and reload the page once, unless that would cost something.
 * @returns {string|null} null: it goes on; else one sentence why not now
 */
export function applyUpdate() {
  if (!registration?.waiting) return 'There is no new version waiting.';
  if (formIsOpen()) return 'Something is still being typed here. Save it first, then take the new version.';
  if (syncRuns()) return 'Home and this phone are just exchanging. Try again when they are done.';
  registration.waiting.postMessage('SKIP');
  return null;
}

/** Whether the app runs from its own icon. @returns {boolean} */
export function isInstalled() {
  return navigator.standalone === true || globalThis.matchMedia('(display-mode: standalone)').matches;
}

/**
 * How the app can be put on this phone's home screen.
 * @returns {{installed: boolean, ask: (() => Promise<boolean>)|null, hint: string|null}} ask: to be called from a tap, true
 *   when it was accepted; hint: where the phone wants it done by hand
 */
export function installWays() {
  const installed = isInstalled();
  const prompt = installPrompt;
  const ask = prompt && !installed ? async () => {
    installPrompt = null; // a browser lets it be used once
    await prompt.prompt();
    return (await prompt.userChoice).outcome === 'accepted';
  } : null;
  const isApple = /iPhone|iPad|iPod/.test(navigator.userAgent) || (navigator.platform === 'MacIntel' && navigator.maxTouchPoints > 1);
  return { installed, ask, hint: !installed && isApple ? INSTALL_HINT : null };
}
