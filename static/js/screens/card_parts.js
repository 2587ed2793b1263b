/** The parts of a card's page: one work with its band, its values, what the person changed, and what cannot be used. */

import { capital, changeReasons, changeWords, edgeWords, monthDayWords, partWords, traitWord, valueWord, WORKS } from '../ui/card_words.js';
import { html } from '../ui/html.js';
import { icon } from '../ui/icons.js';
import { plainSources, showDate } from '../ui/words.js';
import { bandWords, yearBand } from '../ui/year_band.js';

const yoursMark = html`<span class="state">${icon('edit')}yours</span>`;
const backButton = (recs) => html`<button type="button" class="button quiet only-all" data-put-away="${recs.join(' ')}">${icon('undo')}Back to the card’s own</button>`;
const otherLine = (other) => other && html`<span class="state ask">${icon('ask')}<span>Not all agree: ${plainSources(other)}</span></span>`;

/** What stood there before the person's change, with the tap that brings it back. */
function besideYours(was, words, mine) {
  return was && html`<div class="beside"><p><span class="strong">Yours.</span> The card’s own: ${plainSources(words)}</p><div class="pick-row">${backButton(mine)}</div></div>`;
}

const edgeLine = (word, day, why, isHard) => html`<p><span class="strong">${word} ${showDate(day)}</span>${isHard ? ', strictly' : ', with some give'}: ${plainSources(why)}.</p>`;

function windowBlock(one) {
  return html`<div class="stack">${edgeLine('Opens', one.opens, one.why_opens, one.hard_open)}${edgeLine('Closes', one.closes, one.why_closes, one.hard_close)}
    ${one.other && html`<p>${otherLine(one.other)}</p>`}<p class="muted">${plainSources(`Source: ${one.source}`)}</p></div>`;
}

/** The ends of a window that the person changed. */
const differing = (now, was) => [['opens', 'hard_open'], ['closes', 'hard_close']].filter(([end, hard]) => edgeWords(now[end]) !== edgeWords(was[end]) || now[hard] !== was[hard] || now[`why_${end}`] !== was[`why_${end}`]);

/** One rule of a work: its windows of the year, and what the person made of it. */
function ruleBlock(rule, windows, { kind, site }) {
  const { part, was, mine } = rule;
  const words = was && differing(rule.now, was).map(([end, hard]) => `${end} ${edgeWords(was[end])}, ${was[hard] ? 'strictly' : 'with some give'}: ${was[`why_${end}`]}.`).join(' ');
  return html`${windows.filter((one) => one.rule === rule.rule).map(windowBlock)}${besideYours(was, words, mine)}
    <a class="button only-all" href="#/card-change/${kind}?part=${part}${site ? `&site=${site}` : ''}">${icon('edit')}Change ${partWords(part).toLowerCase()}</a>`;
}

/**
 * One work of the year.
 * @param {object} told as home told it @param {number} year @param {string} today
 * @param {{kind: string, site: string, waiting: object[]}} known
 */
export function workBlock({ work, windows, none, rules = [] }, year, today, known) {
  const name = WORKS[work] ?? work;
  const isMine = rules.some(({ mine }) => mine.length > 0);
  const waits = known.waiting.some(({ part }) => part.startsWith(`windows.${work}.`));
  const inner = rules.length === 0 ? windows.map(windowBlock) : rules.map((rule) => ruleBlock(rule, windows, known));
  return html`<section class="band-row" data-work="${work}"><h3>${name}${isMine && html` ${yoursMark}`}${waits && html` <span class="state">${icon('clock')}change waits for home</span>`}</h3>
    ${windows.length > 0 && yearBand(windows, year, today, `${name} in ${year}: ${bandWords(windows)}`)}
    ${none && html`<p>${plainSources(none)}</p>`}
    ${!(none && rules.length === 0) && html`<details class="fold"><summary><span>${none ? 'As the card has it' : bandWords(windows)}</span></summary>${inner}</details>`}</section>`;
}

/** The same as a table, for whoever reads it line by line. */
export function yearTable(works, year) {
  const end = (day, isHard) => html`${showDate(day)}, ${isHard ? 'strictly' : 'some give'}`;
  const rows = works.flatMap(({ work, windows }) => (windows.length > 0 ? windows.map((one) => html`<tr><th scope="row">${WORKS[work] ?? work}</th><td>${end(one.opens, one.hard_open)}</td><td>${end(one.closes, one.hard_close)}</td></tr>`)
    : html`<tr><th scope="row">${WORKS[work] ?? work}</th><td colspan="2">at no time</td></tr>`));
  return html`<details class="fold" data-table><summary>The year as a table</summary><table class="year-table"><caption class="unseen">When to do what in ${year}</caption>
    <thead><tr><th scope="col">Work</th><th scope="col">Opens</th><th scope="col">Closes</th></tr></thead><tbody>${rows}</tbody></table></details>`;
}

/** When it wakes and rests. */
export function eventRows(events) {
  return events.map(({ event, on: day, was, mine = [] }) => html`<dt>${capital(event)}</dt><dd>about ${showDate(day)}${was && besideYours(was, `${monthDayWords(was.usual)} in the lowland at 52° N. ${was.source}`, mine)}</dd>`);
}

/** What it is like. */
export function traitRows(traits) {
  return traits.map((one) => html`<dt>${traitWord(one.name)}</dt><dd>${valueWord(one.value)}${one.note && html`<br>${plainSources(one.note)}`}${one.other && html`<br>${otherLine(one.other)}`}<br><span class="muted">${plainSources(one.source)}</span>
    ${one.was && besideYours(one.was, [valueWord(one.was.value), one.was.note, one.was.source].filter(Boolean).join('. '), one.mine)}</dd>`);
}

/**
 * Changes and cards of the person's own that cannot be used: which, why, and the taps to mend or remove them.
 * @param {object[]} trouble as home tells it
 */
export function troubleSheet(trouble, { withKind = false } = {}) {
  if (trouble.length === 0) return null;
  const title = (one) => [withKind && capital(one.name ?? one.kind), one.part ? partWords(one.part) : 'the whole card'].filter(Boolean).join(': ');
  return html`<section class="sheet" role="alert"><h2>This cannot be used</h2>
    <p>You wrote it, and it is kept, but the card goes on without it.</p>
    <ul class="stack">${trouble.map((one) => html`<li class="beside"><p><span class="strong">${title(one)}.</span> ${one.message} ${one.cure ?? ''}</p>
      <div class="pick-row only-all">${one.part && html`<a class="button" href="#/card-change/${one.kind}?part=${one.part}">${icon('edit')}Mend it</a>`}<button type="button" class="button rust" data-put-away="${one.rec}">${icon('bin')}Remove it</button></div></li>`)}</ul></section>`;
}

/** What was changed on this phone and waits for home, and what two people changed at once. */
export function ownSheets({ waiting, disputed }, kind) {
  return html`${waiting.length > 0 && html`<section class="sheet" data-waiting><h2>Counts after the next sync</h2>
      <p>Saved on this phone. Home looks it over before it counts.</p>
      <ul class="stack">${waiting.map(({ rec, part, change }) => html`<li class="beside"><p><span class="strong">${partWords(part)}:</span> ${change ? html`${changeWords(part, change)}. ${changeReasons(change).map((why) => `${capital(why)}. `)}` : 'back to the card’s own.'}</p>
        <div class="pick-row only-all"><a class="button" href="#/card-change/${kind}?part=${part}">${icon('edit')}Change it</a>${change && backButton([rec])}</div></li>`)}</ul></section>`}
    ${disputed.length > 0 && html`<section class="sheet"><h2>Two people changed this</h2>
      <p>${disputed.map(({ part }) => partWords(part)).join(', ')}: until one of the two is chosen, the later one counts.</p>
      <div class="actions"><a class="button" href="#/sync">Choose the right one</a></div></section>`}`;
}
