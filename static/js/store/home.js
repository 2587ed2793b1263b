/** Asking home: one place for the token, the wait, and for telling home from whatever else may answer in its place. */

import { readRow } from './db.js';

const SENTENCES = {
  away: 'Home is not in reach. Everything is kept on this phone.',
  'not-home': 'Something else answers in place of home, perhaps the sign-in page of this network. Nothing was sent.',
  unpaired: 'Home does not know this phone any more. Pair it again; nothing on it is lost.',
  'server-fault': 'Home could not do it just now. It is tried again; everything is kept on this phone.',
};

const SHUT_OUT = 'shut-out'; // told with the day, and only to whoever shows the token of the phone that was

/** What home answered instead of doing what was asked, or that it did not answer. */
export class HomeError extends Error {
  /** @param {string} code away, not-home, unpaired, shut-out, or home's own code @param {{text?: string, status?: number}} [more] */
  constructor(code, { text = SENTENCES[code], status = 0, cause = undefined } = {}) {
    super(text ?? SENTENCES['server-fault'], { cause });
    this.name = 'HomeError';
    this.code = code;
    this.status = status;
  }
}

function isJson(answer) {
  return /^application\/json\b/i.test(answer.headers.get('Content-Type') ?? '');
}

async function refusal(answer) {
  const error = isJson(answer) ? (await answer.json().catch(() => null))?.error : null;
  if (answer.status === 401 && error?.code !== SHUT_OUT) return new HomeError('unpaired', { status: 401 });
  if (error) {
    if (typeof error.code === 'string' && typeof error.message === 'string') {
      return new HomeError(error.code, { text: [error.message, error.cure].filter(Boolean).join(' '), status: answer.status });
    }
  }
  // HEAD answers have no body to tell by; their status is all there is.
  return new HomeError(answer.status >= 500 ? 'server-fault' : 'refused', { status: answer.status });
}

/** The token this phone got at pairing, or null. */
async function token() {
  return (await readRow('meta', 'identity'))?.value?.token ?? null;
}

/** Whether this phone is paired. @returns {Promise<boolean>} */
export async function hasToken() {
  return (await token()) !== null;
}

/**
 * Ask home. Takes its time until the headers are there; the body is read by the caller.
 * @param {string} path on this same origin
 * @param {{method?: string, headers?: object, body?: any, waitMs: number, open?: boolean, signal?: AbortSignal|null}} options
 *   open: without the token
 * @returns {Promise<Response>} only an answer of 200 to 299
 * @throws {HomeError} away when nothing answered in time; else by what was answered
 */
export async function askHome(path, { method = 'GET', headers = {}, body = undefined, waitMs, open = false, signal = null }) {
  const held = open ? null : await token();
  if (!open && held === null) throw new HomeError('unpaired', { status: 401 });
  const stop = new AbortController();
  const timer = setTimeout(() => stop.abort(), waitMs);
  const stopToo = () => stop.abort();
  signal?.addEventListener('abort', stopToo);
  try {
    const answer = await fetch(path, {
      method,
      body,
      headers: held === null ? headers : { ...headers, Authorization: `Bearer ${held}` },
      signal: stop.signal,
      cache: 'no-store',
      credentials: 'same-origin', // the owner's sign-in, which no script can read
      redirect: 'error', // home never sends one elsewhere; a sign-in page does
    });
    if (!answer.ok) throw await refusal(answer);
    return answer;
  } catch (fault) {
    if (fault instanceof HomeError) throw fault;
    throw new HomeError('away', { cause: fault });
  } finally {
    clearTimeout(timer);
    signal?.removeEventListener('abort', stopToo);
  }
}

/**
 * Ask home for bytes; the wait covers all of them, and an answer that breaks off is none.
 * @returns {Promise<{bytes: ArrayBuffer, type: string}>} type: as home tells it, '' where it does not
 * @throws {HomeError}
 */
export async function askHomeBytes(path, { waitMs, ...options }) {
  const stop = new AbortController();
  const timer = setTimeout(() => stop.abort(), waitMs);
  try {
    const answer = await askHome(path, { ...options, waitMs, signal: stop.signal });
    return { bytes: await answer.arrayBuffer(), type: answer.headers.get('Content-Type') ?? '' };
  } catch (fault) {
    if (fault instanceof HomeError) throw fault;
    throw new HomeError('away', { cause: fault });
  } finally {
    clearTimeout(timer);
  }
}

/**
 * Ask home for JSON; the wait covers the body too.
 * @returns {Promise<object>}
 * @throws {HomeError} not-home when what answers is no JSON
 */
export async function askHomeJson(path, { json = undefined, headers = {}, waitMs, ...options }) {
  const stop = new AbortController();
  const timer = setTimeout(() => stop.abort(), waitMs);
  const sent = json === undefined ? {} : { method: 'POST', body: JSON.stringify(json), headers: { ...headers, 'Content-Type': 'application/json' } };
  try {
    const answer = await askHome(path, { headers, ...sent, ...options, waitMs, signal: stop.signal });
    if (!isJson(answer)) throw new HomeError('not-home');
    const text = await answer.text();
    try {
      return JSON.parse(text);
    } catch (cause) {
      throw new HomeError('not-home', { cause });
    }
  } catch (fault) {
    if (fault instanceof HomeError) throw fault;
    throw new HomeError('away', { cause: fault });
  } finally {
    clearTimeout(timer);
  }
}
