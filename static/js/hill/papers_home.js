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
  return pageOf(await askPaper(wish, 'html'));
}

/**
 * A paper as a file.
 * @param {'pdf'|'html'} form
 * @returns {Promise<{blob: Blob, name: string}>}
 * @throws {HomeError}
 */
export async function fetchPaper(wish, form) {
  return fileOf(await askPaper(wish, form), form);
}

/** The round sheet for the bench. @param {{place: string|null, days: number, size: string}} wish place: null: all of them */
function askSheet({ place, days, size }, form) {
  const asked = new URLSearchParams({ days: String(days), size, on: todayOn(), ...(place ? { place } : {}) });
  return askHome(`/api/rounds.${form}?${asked}`, { waitMs: WAIT_MS });
}

/** A round sheet to look at, as `readPaper`. */
export const readSheet = async (wish) => pageOf(await askSheet(wish, 'html'));

/** A round sheet as a file, as `fetchPaper`. */
export const fetchSheet = async (wish, form) => fileOf(await askSheet(wish, form), form);

/** What home answered, as an element to show; what it could not show beside it. */
async function pageOf(answer) {
  // Its own look is for a saved file; here the same sheet is loaded, and the content policy would refuse this one.
  const text = (await answer.text()).replace(/<style>[^<]*<\/style>/, '');
  const page = new DOMParser().parseFromString(text, 'text/html');
  const article = page.querySelector('article');
  if (!article) throw new Error('What came is no paper. Try once more.');
  return { article: document.importNode(article, true), trouble: troubleOf(answer) };
}

/** What home answered, as a file with the name it gave. */
async function fileOf(answer, form) {
  const name = /filename="([\w.-]+)"/.exec(answer.headers.get('Content-Disposition') ?? '')?.[1] ?? `paper.${form}`;
  return { blob: await answer.blob(), name };
}
