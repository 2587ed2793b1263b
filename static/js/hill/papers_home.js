/** Papers as home makes them: asked for with what this phone has sent before, read as a page or as a file. */

import { askHome } from '../store/home.js';
import { todayOn } from './ground_facts.js';

const WAIT_MS = 20_000;

/** Whether a person adds words of their own to a kind of paper. @param {string} kind */
export const hasOwnWords = (kind) => kind === 'report' || kind === 'renewal';

/**
 * The address of a paper.
 * @param {{leave: string, kind: string, size: string, from?: string|null, to?: string|null, signing?: string|null, words?: string|null}} wish
 */
export function paperPath({ leave, kind, size, from = null, to = null, signing = null }, form) {
  const asked = new URLSearchParams({ size, on: todayOn() });
  if (kind === 'report' && from) asked.set('from', from);
  if (kind === 'report' && to) asked.set('to', to);
  if (kind === 'signed' && signing) asked.set('signing', signing);
  return `/api/paper/${encodeURIComponent(kind)}/${encodeURIComponent(leave)}.${form}?${asked}`;
}

/** Asked with the person's own words where there are some: they go along, and home keeps them not. */
function askPaper(wish, form) {
  const sent = hasOwnWords(wish.kind) && wish.words
    ? { method: 'POST', body: JSON.stringify({ words: wish.words }), headers: { 'Content-Type': 'application/json' } }
    : {};
  return askHome(paperPath(wish, form), { ...sent, waitMs: WAIT_MS });
}

function troubleOf(answer) {
  try {
    const told = JSON.parse(answer.headers.get('Paper-Trouble') ?? '[]');
    return Array.isArray(told) ? told.filter((text) => typeof text === 'string') : [];
  } catch {
    return []; // a header that something on the way has spoiled
  }
}

/**
 * A paper to look at.
 * @returns {Promise<{article: Element, trouble: string[]}>} article: built by home of encoded texts only; no script of it runs
 * @throws {HomeError}
 */
export async function readPaper(wish) {
  const answer = await askPaper(wish, 'html');
  // Its own look is for a saved file; here the same sheet is loaded, and the content policy would refuse this one.
  const text = (await answer.text()).replace(/<style>[^<]*<\/style>/, '');
  const page = new DOMParser().parseFromString(text, 'text/html');
  const article = page.querySelector('article');
  if (!article) throw new Error('What came is no paper. Try once more.');
  return { article: document.importNode(article, true), trouble: troubleOf(answer) };
}

/**
 * A paper as a file.
 * @param {'pdf'|'html'} form
 * @returns {Promise<{blob: Blob, name: string}>}
 * @throws {HomeError}
 */
export async function fetchPaper(wish, form) {
  const answer = await askPaper(wish, form);
  const name = /filename="([\w.-]+)"/.exec(answer.headers.get('Content-Disposition') ?? '')?.[1] ?? `paper.${form}`;
  return { blob: await answer.blob(), name };
}
