/** Papers as home makes them: asked for with what this phone has sent before, read as a page or as a file. */

import { askHome } from '../store/home.js';
import { todayOn } from './ground_facts.js';

const WAIT_MS = 20_000;

/** The address of a paper. @param {{leave: string, kind: string, size: string, from?: string|null, to?: string|null}} wish */
export function paperPath({ leave, kind, size, from = null, to = null }, form) {
  const asked = new URLSearchParams({ size, on: todayOn() });
  if (kind === 'report' && from) asked.set('from', from);
  if (kind === 'report' && to) asked.set('to', to);
  return `/api/paper/${encodeURIComponent(kind)}/${encodeURIComponent(leave)}.${form}?${asked}`;
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
  const answer = await askHome(paperPath(wish, 'html'), { waitMs: WAIT_MS });
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
  const answer = await askHome(paperPath(wish, form), { waitMs: WAIT_MS });
  const name = /filename="([\w.-]+)"/.exec(answer.headers.get('Content-Disposition') ?? '')?.[1] ?? `paper.${form}`;
  return { blob: await answer.blob(), name };
}
