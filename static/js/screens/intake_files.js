/** The files of one intake: taken from pickers and drops, named by their bytes, and sent home a few at a time. */

import { HomeError } from '../store/home.js';
import { uploadBlob } from '../upload.js';

const MAX_BYTES = 200 * 1024 * 1024; // a photo or track larger than this is none; own rule
const AT_ONCE = 2; // home flushes each piece to its disk: a second file is read meanwhile. No more bytes than theirs are held
const FIRST_WAIT_MS = 3000;
const LONGEST_WAIT_MS = 60_000;
const COPY_NAME = /^fellside-copy-.*\.zip$/;
const BY_ITSELF = new Set(['away', 'not-home', 'server-fault', 'busy', 'standstill']); // passes without anybody doing anything
const BY_A_PERSON = new Set(['unpaired', 'shut-out', 'no-room']);

/** Every file of a drop, folders walked through; names with a dot first are no photos. */
export async function filesOfDrop(transfer) {
  const entries = [...transfer.items].map((item) => item.webkitGetAsEntry?.()).filter(Boolean); // at once: gone after the first await
  if (entries.length === 0) return [...transfer.files];
  const files = [];
  for (const entry of entries) await walk(entry, files);
  return files;
}

async function walk(entry, files) {
  if (entry.name.startsWith('.')) return;
  if (entry.isFile) {
    files.push(await new Promise((resolve, reject) => { entry.file(resolve, reject); }));
    return;
  }
  const reader = entry.createReader();
  for (;;) {
    const some = await new Promise((resolve, reject) => { reader.readEntries(resolve, reject); });
    if (some.length === 0) return;
    for (const one of some) await walk(one, files);
  }
}

/** SHA-256 of a file as lower-case hex. */
async function sha256OfFile(file) {
  const bytes = await file.arrayBuffer();
  const digest = await crypto.subtle.digest('SHA-256', bytes);
  bytes.transfer?.(0); // given back at once: a browser lets hundreds of megabytes gather before it tidies up by itself
  return [...new Uint8Array(digest)].map((byte) => byte.toString(16).padStart(2, '0')).join('');
}

/** By which a file that was sent before is known again without reading it: where it lies, how long it is, when it was written. */
export function fileMark(file) {
  return [file.webkitRelativePath || file.name, file.size, file.lastModified].join('/');
}

/** Waiting for home: for some seconds, longer each time, or until the network is back or a person says go on. */
export class HomeWait {
  #waitMs = FIRST_WAIT_MS;
  #held = null; // one wait for all who wait
  #go = null;

  /** @param {(fault: HomeError|null) => any} tell called with why it waits, and with null when it goes on */
  constructor(tell) {
    this.tell = tell;
  }

  /** Home answered: the next wait is a short one again. */
  reset() {
    this.#waitMs = FIRST_WAIT_MS;
  }

  /** Go on now. */
  goOn() {
    this.#go?.();
  }

  /** Whether a fault is one that is waited for. */
  isWaitedFor(fault) {
    return fault instanceof HomeError && (BY_ITSELF.has(fault.code) || BY_A_PERSON.has(fault.code));
  }

  /** Whether it passes without anybody doing anything. */
  isByItself(fault) {
    return BY_ITSELF.has(fault.code);
  }

  /** @param {HomeError} fault @param {AbortSignal} signal */
  wait(fault, signal) {
    this.#held ??= new Promise((resolve) => {
      const timer = BY_ITSELF.has(fault.code) ? setTimeout(() => this.#go(), this.#waitMs) : null;
      this.#waitMs = Math.min(LONGEST_WAIT_MS, this.#waitMs * 2);
      this.#go = () => {
        clearTimeout(timer);
        globalThis.removeEventListener('online', this.#go);
        signal.removeEventListener('abort', this.#go);
        this.#held = null;
        this.#go = null;
        this.tell(null);
        resolve();
      };
      globalThis.addEventListener('online', this.#go);
      signal.addEventListener('abort', this.#go);
      this.tell(fault);
      if (signal.aborted) this.#go();
    });
    return this.#held;
  }
}

/**
 * Send files home, two at a time, none twice. Where home is not in reach it waits and goes on.
 * @param {File[]} queue taken from its front; what is left in it when this returns was not sent
 * @param {{hasMark: (mark: string) => boolean, hasBytes: (sha256: string) => boolean, onSent: (one: {sha256: string,
 *   name: string, mark: string, size: number}) => any, onTrouble: (name: string, text: string) => any,
 *   onProgress: (state: {done: number, sent: number, name: string}) => any, wait: HomeWait, signal: AbortSignal}} how
 *   hasMark: whether such a file is home already; signal: stops it between two pieces
 */
export async function sendFiles(queue, { hasMark, hasBytes, onSent, onTrouble, onProgress, wait, signal }) {
  const inHand = new Map(); // hash -> the file that is being sent under it
  const within = new Map();
  let done = 0;
  let before = 0;
  const tell = (name) => onProgress({ done, sent: before + [...within.values()].reduce((sum, n) => sum + n, 0), name });

  async function sendOne(file) {
    const mark = fileMark(file);
    if (hasMark(mark)) return;
    if (file.size === 0) throw new Error('The file is empty.');
    if (COPY_NAME.test(file.name)) throw new Error('This is a copy that a phone kept. Bring it home under House, Keep a copy.');
    if (file.size > MAX_BYTES) throw new Error('The file is too large to be a photo or a track.');
    const sha256 = await sha256OfFile(file);
    if (hasBytes(sha256) || inHand.has(sha256)) {
      // The same file chosen again is nothing to speak of; the same bytes under another name are.
      if (!onSent({ sha256, name: file.name, mark, size: file.size, twice: true })) throw new Error('The same bytes as another file here: taken once.');
      return;
    }
    inHand.set(sha256, file);
    try {
      for (;;) {
        try {
          await uploadBlob(sha256, file, { signal, onProgress: (at) => { within.set(file, at); tell(file.name); } });
          wait.reset();
          onSent({ sha256, name: file.name, mark, size: file.size });
          return;
        } catch (fault) {
          if (signal.aborted || !wait.isWaitedFor(fault)) throw fault;
          await file.slice(0, 1).arrayBuffer(); // a card that was pulled out looks like a line that broke; this tells
          await wait.wait(fault, signal);
          if (signal.aborted) throw fault;
        }
      }
    } finally {
      inHand.delete(sha256);
    }
  }

  async function runner() {
    while (queue.length > 0 && !signal.aborted) {
      const file = queue.shift();
      tell(file.name);
      try {
        await sendOne(file);
      } catch (fault) {
        if (signal.aborted) {
          queue.unshift(file); // it goes on from where it was
          return;
        }
        onTrouble(file.name, fault.name === 'NotReadableError' || fault.name === 'NotFoundError' ? 'The file could not be read from its disk.' : fault.message);
      } finally {
        within.delete(file);
      }
      done += 1;
      before += file.size;
      tell(file.name);
    }
  }

  await Promise.all(Array.from({ length: AT_ONCE }, runner));
}
