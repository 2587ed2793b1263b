/** The answer of May I dig here? on the page: the word, whose leave it is by, every reason with its cure, the terms, the season. */

import { splitAnswer } from '../core/answer_parts.js';
import { BadInput } from '../core/errors.js';
import { showCm } from '../core/lengths.js';
import { kindWords, listed } from '../core/reasons.js';
import { askAuthorities, askWhom, openChecks } from './answer_beside.js';
import { html } from './html.js';
import { icon } from './icons.js';
import { consentName, consentStateWord, count, methodWord, sayHere, showAgo, showDate, showDistance, showRange } from './words.js';

export const ANSWER_WORDS = { yes: 'Yes', ask: 'Ask first', no: 'No' };

const ANSWER_LINES = {
  yes: 'On what is recorded here, you may dig.',
  ask: 'Something is open. Settle it before the spade goes in.',
  no: 'Do not dig.',
};

/**
 * The answer, large.
 * @param {{answer: 'yes'|'ask'|'no'}} verdict what may_dig gives
 * @param {string|null} [line] a sentence in place of the usual one
 */
export function answerHead(verdict, line = null) {
  return html`<div class="verdict ${verdict.answer}" data-answer="${verdict.answer}">
    ${icon(verdict.answer)}
    <p class="verdict-word">${ANSWER_WORDS[verdict.answer]}</p>
    <p>${line ?? ANSWER_LINES[verdict.answer]}</p>
  </div>`;
}

/**
 * The answer, short, for the bar that stays in sight: a button with data-to-answer.
 * @param {object|null} verdict null: there is no answer
 */
export function answerShort(verdict) {
  const kind = verdict?.answer ?? 'none';
  const word = verdict ? ANSWER_WORDS[verdict.answer] : 'No answer yet';
  return html`<button type="button" class="verdict-short ${kind}" data-to-answer data-short-answer="${kind}" aria-label="${word}: go to the answer">
    ${icon(verdict ? verdict.answer : 'fix')}<span>${word}</span></button>`;
}

/**
 * Keep the short answer out of the bar while the large one is in sight: the reasons need the room.
 * @param {Element} root of the screen; `look` is called whenever the answer was drawn anew
 * @returns {{look: () => void, stop: () => void}}
 */
export function followAnswer(root) {
  const watch = new IntersectionObserver((seen) => {
    root.querySelector('.actions.stuck')?.classList.toggle('answer-in-sight', seen.at(-1).isIntersecting);
  }, { rootMargin: '-56px 0px -180px 0px' }); // the quiet line above, and what is stuck below
  return {
    look() {
      watch.disconnect();
      const large = root.querySelector('.verdict, [data-refused], [data-no-answer]');
      if (large) watch.observe(large);
    },
    stop: () => watch.disconnect(),
  };
}

const FORMS = { signed: 'in writing, signed', spoken: 'only spoken' };

function inOrder(reasons) {
  return [...reasons].sort((a, b) => (a.weight === b.weight ? 0 : a.weight === 'no' ? -1 : 1));
}

function reasonList(reasons, label, say = (text) => text) {
  return reasons.length > 0 && html`<ul class="reasons" aria-label="${label}">
    ${inOrder(reasons).map(
      (reason) => html`<li class="${reason.weight}" data-code="${reason.code}">${icon(reason.weight)}
        <div><p>${say(reason.text)}</p>${reason.cure && html`<p class="cure">${reason.cure}</p>`}</div></li>`,
    )}
  </ul>`;
}

function leaveDates(slip) {
  const noEnd = 'no end agreed';
  const dates = slip.starts_on ? showRange(slip.starts_on, slip.ends_on, { noEnd }) : slip.ends_on ? `until ${showDate(slip.ends_on)}` : noEnd;
  return slip.withdrawn_on ? `${dates}, withdrawn from ${showDate(slip.withdrawn_on)} on` : dates;
}

/** What a leave says of this very tree: kinds, girth, number, form. */
function leaveFacts(slip, input) {
  const known = (value) => value !== null && value !== undefined;
  const kinds = slip.species?.length > 0 ? listed(slip.species.map(kindWords)) : 'any kind';
  const ownKind = input.species ? `; this tree: ${kindWords(input.species)}` : '; this tree: not told';
  const girth = known(slip.max_girth_mm) ? `up to ${showCm(slip.max_girth_mm)}` : 'no limit agreed';
  const left = known(slip.allowance) && known(slip.lifted) ? Math.max(0, slip.allowance - slip.lifted) : null;
  const number = known(slip.allowance) ? `${slip.allowance} agreed, ${slip.lifted} lifted: ${count(left, 'tree', 'trees')} left` : 'no number agreed';
  return html`<dl class="facts leave-facts">
    <dt>Kinds</dt><dd data-fact="kinds">${kinds}${ownKind}</dd>
    <dt>Girth</dt><dd data-fact="girth">${girth}; this tree: ${known(input.girth_mm) ? showCm(input.girth_mm) : 'not measured'}</dd>
    <dt>Number</dt><dd data-fact="number">${number}</dd>
    ${slip.methods && html`<dt>Methods</dt><dd data-fact="methods">${slip.methods.length > 0 ? listed(slip.methods.map(methodWord)) : 'none noted'}</dd>`}
    <dt>Form</dt><dd data-fact="form">${slip.changed ? 'signed, and changed since; the change is not signed' : (FORMS[slip.form] ?? 'not noted whether in writing')}</dd>
  </dl>`;
}

const STATES = ['needed', 'unknown', null, 'held', 'not_needed']; // what stands in the way first

/** Consents by their state: 'held: tree order, TO/12, until 3 Mar 2027; not needed: felling licence'. */
function consentsLine(consents) {
  if (consents.length === 0) return 'none recorded';
  const kept = [...consents].sort((a, b) => (String(a.kind) < String(b.kind) ? -1 : 1));
  const states = [...new Set(kept.map((one) => one.state))].sort((a, b) => STATES.indexOf(a) - STATES.indexOf(b));
  return states.map((state) => `${consentStateWord(state)}: ${kept.filter((one) => one.state === state)
    .map((one) => [consentName(one), one.reference, one.starts_on && `from ${showDate(one.starts_on)}`, one.until && `until ${showDate(one.until)}`].filter(Boolean).join(', ')).join(' and ')}`).join('; ');
}

/** How it is dug, as far as that was told: 'with a machine, 60 cm deep'. */
function diggingLine({ machine, depth_mm: depth }) {
  const deep = depth === null || depth === undefined ? null : `${showCm(depth)} deep`;
  if (machine !== true && deep === null) return null;
  return [machine === true ? 'with a machine' : machine === false && 'by hand', deep].filter(Boolean).join(', ');
}

/** Whether buried services were checked, and where What to check says otherwise. */
function servicesLine({ services_checked: checked }, ground) {
  const said = ground?.services_said ?? null;
  if (checked) {
    const day = ground?.services_checked_on ? `checked ${showDate(ground.services_checked_on)}` : 'checked';
    return said === 'no' ? `${day}, but What to check says their owners have not answered` : day;
  }
  return said === 'yes' ? 'their owners have answered, by What to check; no day of a check is noted with the site' : 'not checked';
}

/** What is recorded of the ground itself, whoever gave leave. */
function groundFacts({ input, ground }) {
  const { site } = input;
  const digging = diggingLine(input);
  return html`<section class="ground-said"><h3>The ground</h3><dl class="facts leave-facts">
    <dt>Protected</dt><dd data-fact="protected">${{ true: 'yes', false: 'no' }[site.protected] ?? 'not recorded'}</dd>
    <dt>Consents</dt><dd data-fact="consents">${consentsLine(ground?.consents ?? site.consents ?? [])}</dd>
    <dt>Buried services</dt><dd data-fact="services">${servicesLine(site, ground)}</dd>
    ${digging && html`<dt>Digging</dt><dd data-fact="digging">${digging}</dd>`}
  </dl></section>`;
}

function leaveGroup({ slip, reasons }, { verdict, input, contacts }) {
  const name = slip.landholder ?? 'a landholder not named';
  return html`<section class="leave-said" data-leave="${slip.leave}">
    <h3>Leave of ${name}</h3><p class="muted" data-fact="dates">${leaveDates(slip)}</p>
    ${reasons.length > 0 ? reasonList(reasons, `Reasons under the leave of ${name}`) : verdict.answer === 'no' && html`<p>Nothing in this leave itself stands against it.</p>`}
    ${verdict.answer !== 'no' && leaveFacts(slip, input)}
    ${verdict.answer !== 'yes' && contacts && askWhom(contacts.get(slip.leave) ?? null)}
  </section>`;
}

function oldWords(old) {
  const begun = old.filter(({ reasons }) => !reasons.some((reason) => reason.code === 'not-begun')).length;
  const words = [begun > 0 && count(begun, 'old leave', 'old leaves'), old.length > begun && `${count(old.length - begun, 'leave', 'leaves')} not begun yet`];
  return words.filter(Boolean).join(', ');
}

function groundOf(one, { verdict, contacts, named, say }) {
  const { common, leaves, old, rest } = splitAnswer({ ...one.verdict, answer: verdict.answer }, one.input);
  // Where none is in force, the one that came nearest is told, not only that there were some.
  const shown = leaves.length > 0 ? leaves : old.slice(0, 1);
  const folded = leaves.length > 0 ? old : old.slice(1);
  const group = (it) => leaveGroup(it, { verdict, input: one.input, contacts });
  return html`${named && one.site_name && html`<p class="strong">${one.site_name}</p>`}
    ${reasonList([...common, ...rest], say('Reasons of the ground, the position and this phone'), say)}
    ${contacts && askAuthorities(common, one.ground)}
    ${shown.map(group)}
    ${verdict.answer !== 'no' && groundFacts(one)}
    ${folded.length > 0 && html`<details class="fold old-leaves"><summary>${oldWords(folded)}</summary><div>${folded.map(group)}</div></details>`}`;
}

/**
 * What stands behind an answer: reasons of the ground once, then leave by leave with whose it is; of a yes, what it rests on.
 * @param {{answer: string, reasons: object[], leave: string|null}} verdict the answer that is shown
 * @param {{verdict: object, input: object, site_name?: string|null, ground?: object|null}[]} asked what was asked, one for
 *   each site that had a say; ground: when its services were checked, and its consents with their references
 * @param {Map<string, object>|null} [contacts] leave id -> how to reach who gave it, and the ground's others; null for an
 *   answer of some other day, perhaps of some other phone
 */
export function answerGrounds(verdict, asked, contacts = null) {
  const say = contacts ? sayHere : (text) => text;
  return html`<div class="grounds">${asked.map((one) => groundOf(one, { verdict, contacts, named: asked.length > 1, say }))}</div>`;
}

/**
 * That the answer is for a tree's mark while one stands somewhere else; null for someone beside it.
 * @param {number|null} metres from the mark, null: not known or near enough @param {string} tag
 */
export function awayLine(metres, tag) {
  return metres !== null && html`<p class="state ask" data-from-mark>${icon('ask')}<span>You are ${showDistance(metres)} from where ${tag} was marked: the answer is for its mark, not for where you stand.</span></p>`;
}

// Reasons that speak of “you” and “your position”.
const OF_POSITION = new Set(['edge', 'outside', 'coarse-fix']);

/** Whose position the reasons mean, where it is a tree's and some reason speaks of “yours”; else null. */
export function whoseLine(verdict, tag) {
  return verdict.reasons.some((reason) => OF_POSITION.has(reason.code))
    && html`<p data-whose>Where a reason says “you” or “your position”, it means the mark of ${tag}.</p>`;
}

/** In place of reasons where no site is near. @param {{site_name: string, away_m: number, undrawn: number}} far */
export function farLine(far) {
  return html`<ul class="reasons"><li class="no" data-code="no-leave" data-far>${icon('no')}
    <div><p>None of your sites${far.undrawn > 0 ? ' with ground drawn' : ''} is near: the nearest is ${far.site_name}, ${showDistance(far.away_m)} away.</p>
      <p class="cure">Here you have no leave. Ask the landholder of this ground before you dig.</p></div></li></ul>`;
}

/** The season beside the answer, with both edges folded below it. @param {object|null} season what hill/season.js gave */
export function seasonLine(season) {
  if (!season) return null;
  const [kind, mark] = { open: [season.elsewhere ? 'quiet' : 'good', 'leafbud'], closed: ['ask', 'leafbud'] }[season.state] ?? ['quiet', 'info'];
  return html`<div class="season" data-season="${season.state}"><p class="state ${kind}">${icon(mark)}<span>${season.text}</span></p>
    ${season.why && html`<details class="fold"><summary>Why then, and where that is from</summary><div class="stack"><p>${season.why}</p>${season.source && html`<p class="muted">Source: ${season.source}</p>`}</div></details>`}</div>`;
}

/** What stands beside an answer: the season, and what is still to be found out about the ground. @param {{season?: object, open?: object[]}} found */
export function besideLines(found) {
  return html`${seasonLine(found.season ?? null)}${openChecks(found.open)}`;
}

/**
 * An answer as it was kept inside a lift: reasons, leave, terms ticked and not ticked, season, what was open, by which rule.
 * @param {{verdict: object, input: object|null, season?: object|null, asked?: object[], ground?: object|null, from_tree_m?: number|null,
 *   open?: object[]}} answer asked: each site's own, where several had a say; from_tree_m: how far the phone was from the
 *   tree's mark; open: questions about the ground that nobody had answered
 * @param {string[]|null} kept the terms ticked
 */
export function keptAnswer(answer, kept) {
  const { verdict, input } = answer;
  let behind;
  try {
    behind = answerGrounds(verdict, answer.asked ?? [{ verdict, input, ground: answer.ground ?? null }]);
  } catch (fault) {
    if (!(fault instanceof BadInput)) throw fault;
    behind = reasonList(verdict.reasons, 'Reasons'); // an input this app cannot read: what was said still stands
  }
  const terms = verdict.keep ?? [];
  const off = answer.from_tree_m ?? null;
  return html`${off !== null && html`<p data-kept-off>Written ${showDistance(off)} from where the tree was marked.</p>`}${behind}${seasonLine(answer.season)}${openChecks(answer.open, true)}
    ${terms.length > 0 && html`<p class="strong">Terms</p><ul class="terms-kept">${terms.map((term) => {
      const ticked = (kept ?? []).includes(term);
      return html`<li data-ticked="${ticked ? 'yes' : 'no'}"><span class="state ${ticked ? 'good' : 'ask'}">${icon(ticked ? 'done' : 'ask')}${ticked ? 'ticked' : 'not ticked'}</span> ${term}</li>`;
    })}</ul>`}
    <p class="muted" data-rule>${verdict.rule ? `Answered by the rule of version ${verdict.rule}.` : 'Which version of the rule answered was not kept then.'}</p>`;
}

/**
 * The conditions of the leave as a list to tick.
 * @param {string[]} terms sentences
 * @param {string[]|null} kept those ticked
 */
export function termsToTick(terms, kept = null) {
  if (terms.length === 0) return null;
  const chosen = kept ?? [];
  return html`<fieldset class="field"><legend class="strong">Terms to keep</legend>
    <ul class="terms">
      ${terms.map(
        (term) => html`<li><label><input type="checkbox" name="kept_conditions" value="${JSON.stringify(term)}" data-kind="json" data-many
          data-label="Terms to keep" ${chosen.includes(term) ? html`checked` : ''}><span>${term}</span></label></li>`,
      )}
    </ul>
  </fieldset>`;
}

/** The caution that stands under every answer. */
export function cautionLine(text) {
  return html`<p class="caution">${icon('warn')}<span>${text}</span></p>`;
}

/**
 * How old the knowledge behind an answer is, in a line.
 * @param {{synced_at: string|null, from: 'home'|'phone'}} found
 */
export function knowledgeLine(found) {
  const sync = found.synced_at ? `This phone last had word from home ${showAgo(found.synced_at)}` : 'This phone has never had word from home';
  return sayHere(found.from === 'home' ? `${sync}; leaves and ground are as home last told them.` : `${sync}; leaves and ground are as they are kept on this phone.`);
}
