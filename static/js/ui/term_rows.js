/** The terms to keep, each in a row of its own: added, put in order, taken out. Each comes up to be ticked on the day. */

import { html, render } from './html.js';
import { icon } from './icons.js';

const NAME = /^term_(\d+)$/;
const LONGEST = 500; // characters; a term is a sentence

/**
 * The terms out of a form or its draft, as they stand in it, empty rows as well.
 * @param {object} values what readForm or readDraft gave @returns {string[]|null} null: this form has no such rows
 */
export function rowsOf(values) {
  const names = Object.keys(values).filter((name) => NAME.test(name));
  if (names.length === 0) return null;
  const byNumber = (a, b) => Number(NAME.exec(a)[1]) - Number(NAME.exec(b)[1]);
  return names.sort(byNumber).map((name) => values[name] ?? '');
}

/** The terms as they are kept: trimmed, without empty ones; null for none. @param {object} values */
export function termsOf(values) {
  const terms = (rowsOf(values) ?? []).map((term) => term.trim()).filter(Boolean);
  return terms.length ? terms : null;
}

/** The values without the rows. */
export function withoutRows(values) {
  return Object.fromEntries(Object.entries(values).filter(([name]) => !NAME.test(name)));
}

function row(term, i, all) {
  const id = `term-row-${i}`;
  const last = all.length - 1;
  return html`<li class="term-row field"><label class="unseen" for="${id}">Term ${i + 1}</label>
    <span class="term-number" aria-hidden="true">${i + 1}</span>
    <input id="${id}" name="term_${i}" type="text" value="${term}" autocomplete="off" data-label="Term ${i + 1}" data-max-length="${LONGEST}" aria-describedby="${id}-fault">
    <span class="term-acts"><button type="button" class="button" data-term="up" data-at="${i}" aria-label="Term ${i + 1}: further up" ${i === 0 ? html`disabled` : ''}>${icon('up')}</button>
      <button type="button" class="button term-down" data-term="down" data-at="${i}" aria-label="Term ${i + 1}: further down" ${i === last ? html`disabled` : ''}>${icon('down')}</button>
      <button type="button" class="button" data-term="out" data-at="${i}" aria-label="Term ${i + 1}: take it out">${icon('bin')}</button></span>
    <p class="fault" id="${id}-fault" role="alert" hidden></p></li>`;
}

function rows(terms) {
  const shown = terms.length ? terms : [''];
  return html`<ol class="term-rows">${shown.map(row)}</ol>
    <button type="button" class="button" data-term="add">${icon('plus')}Another term</button>`;
}

/** The part of the form. @param {string[]} terms */
export function termRows(terms) {
  return html`<fieldset class="field"><legend>Terms to keep</legend>
    <p class="hint">One to a row, as: Close the gates. Each comes up to be ticked on the day.</p><div class="stack" data-terms>${rows(terms)}</div></fieldset>`;
}

/**
 * Let the buttons of the rows work.
 * @param {Element} root holds the form @param {() => any} onChange the form is not as it was
 * @returns {() => void} stop
 */
export function wireTermRows(root, onChange) {
  const place = () => root.querySelector('[data-terms]');
  const read = () => [...place().querySelectorAll('input')].map((input) => input.value);

  function show(terms, focus) {
    render(place(), rows(terms));
    place().querySelectorAll('input')[Math.max(0, Math.min(focus, terms.length - 1))]?.focus();
    onChange();
  }

  function swap(terms, a, b) {
    const next = [...terms];
    [next[a], next[b]] = [next[b], next[a]];
    return next;
  }

  function click(ev) {
    const button = ev.target.closest?.('[data-term]');
    if (!button || !place()?.contains(button)) return;
    const terms = read();
    const at = Number(button.dataset.at);
    if (button.dataset.term === 'add') show([...terms, ''], terms.length);
    if (button.dataset.term === 'out') show(terms.filter((_, i) => i !== at), at);
    if (button.dataset.term === 'up') show(swap(terms, at, at - 1), at - 1);
    if (button.dataset.term === 'down') show(swap(terms, at, at + 1), at + 1);
  }

  function rowAt(ev) {
    const inputs = place() ? [...place().querySelectorAll('input')] : [];
    return inputs.indexOf(ev.target);
  }

  /** Enter goes on to the next row, where a form would otherwise be sent half written. */
  function keydown(ev) {
    const at = rowAt(ev);
    if (at < 0 || ev.key !== 'Enter' || ev.isComposing) return;
    ev.preventDefault();
    const terms = read();
    show([...terms.slice(0, at + 1), '', ...terms.slice(at + 1)], at + 1);
  }

  /** Several lines pasted become as many rows. */
  function paste(ev) {
    const at = rowAt(ev);
    const lines = (ev.clipboardData?.getData('text') ?? '').split(/\r?\n/).map((line) => line.trim()).filter(Boolean);
    if (at < 0 || lines.length < 2) return;
    ev.preventDefault();
    const terms = read();
    const kept = terms[at].trim() ? [terms[at]] : [];
    show([...terms.slice(0, at), ...kept, ...lines, ...terms.slice(at + 1)], at + kept.length + lines.length - 1);
  }

  const listeners = { click, keydown, paste };
  for (const [type, listener] of Object.entries(listeners)) root.addEventListener(type, listener);
  return () => {
    for (const [type, listener] of Object.entries(listeners)) root.removeEventListener(type, listener);
  };
}
