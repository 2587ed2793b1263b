/** Which version of the app runs on this phone. */

const SHELL = 'fellside-shell-'; // by it the app's own files are kept under their version

/** @returns {Promise<string|null>} null where the app is not kept here, and so always comes from home */
export async function appVersion() {
  const names = (await globalThis.caches?.keys?.()) ?? [];
  return names.find((name) => name.startsWith(SHELL))?.slice(SHELL.length) ?? null; // the oldest: a newer one still waits
}
