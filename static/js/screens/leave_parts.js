/** What stands on the page of a leave, part by part: markup only, from records that were read before. */

import { leaveChain } from '../core/leave_terms.js';
import { overWords } from '../core/leave_state.js';
import { showCm } from '../core/lengths.js';
import { flagLines, flagsOf } from '../ui/flag_line.js';
import { html } from '../ui/html.js';
import { icon } from '../ui/icons.js';
import { giverName, goneLine } from '../ui/leave_entry.js';
import { reachButtons } from '../ui/reach.js';
import { signedList } from '../ui/signed_list.js';
import { stateMark } from '../ui/state.js';
import { NOT_KNOWN, count, methodWord, showDate, showRange, speciesName } from '../ui/words.js';

const FORM_WORDS = { signed: 'signed paper', spoken: 'spoken only' };
const ENTITLED_WORDS = { true: 'yes', false: 'no' };

const fact = (name, value) => html`<dt>${name}</dt><dd>${value ?? NOT_KNOWN}</dd>`;
const range = (fields) => showRange(fields.starts_on, fields.ends_on, { noEnd: 'no end agreed' });

function holderOf({ ground, one, leave }) {
  const { fields } = leave.record;
  const row = one.holders.find(({ holder }) => holder.id === fields.landholder);
  return { holder: ground.landholders.get(fields.landholder) ?? null, role: fields.by_role ?? row?.role ?? null, right: fields.by_right ?? row?.by_right ?? null };
}

/** The head of the page. */
export function headPart(known) {
  const { ground, one, leave } = known;
  return html`<a class="back" href="#/site/${one.site.id}">${icon('back')}${one.site.fields.name ?? 'Site'}</a>
    <h1>Leave of ${giverName(leave.record.fields, ground, 'a landholder not told')}</h1><p>${stateMark(leave.state)}</p>`;
}

/** The signed version that counts, as it was signed: the newest that was not altered since. */
function signedLast(signings) {
  const found = signings.find(({ intact }) => intact !== false);
  return found ? (found.signed ?? found.record.fields) : null;
}

/** What has to be known before anything below is read: a change that nobody signed, an answer still awaited, a giver who is gone. */
function headLines({ ground, leave, signings }) {
  const { fields } = leave.record;
  const signed = signedLast(signings);
  const removed = ground.gone.get(fields.landholder);
  const trees = signed?.letter?.terms?.allowance;
  const version = signed && [`version ${signed.version ?? NOT_KNOWN}`, Number.isInteger(trees) && count(trees, 'tree', 'trees')].filter(Boolean).join(': ');
  return html`${signed && leave.changed && html`<p class="caution">${icon('warn')}<span>Changed since it was signed on ${showDate(signed.signed_on)} (${version}). The change is not signed.</span></p>`}
    ${fields.form === 'asked' && html`<div class="caution">${icon('ask')}<div class="stack"><p>You asked, and nobody has said yes yet. May I? does not count it.</p>
      <button type="button" class="button" data-said-yes>${icon('yes')}They said yes today</button></div></div>`}
    ${removed && goneLine(removed)}`;
}

/** How it was given: by word, on paper, on the glass; what was said first keeps its day. */
function givenFacts(fields, signings) {
  const signed = signedLast(signings);
  const on = fields.given_on && `on ${showDate(fields.given_on)}`;
  if (fields.form === 'asked') return fact('Asked', [on, 'no answer yet'].filter(Boolean).join(', '));
  if (!signed) return fact('Given', [FORM_WORDS[fields.form], on].filter(Boolean).join(' ') || null);
  return html`${fields.given_on && fields.given_on !== signed.signed_on && fact('Given', on)}
    ${fact('Signed', `on the glass, version ${signed.version ?? NOT_KNOWN}, on ${showDate(signed.signed_on)}${signed.name ? ` by ${signed.name}` : ''}`)}`;
}

function numberWords(fields, lifted) {
  if (!Number.isInteger(fields.allowance)) return `none agreed; ${lifted} lifted`;
  const over = lifted - fields.allowance;
  return `${fields.allowance}, of which ${lifted} lifted${over > 0 ? `: ${overWords(over)}` : ''}`;
}

/** Who gave it, as what, and what was agreed. */
export function agreedPart(known) {
  const { leave, pack, signings } = known;
  const { fields } = leave.record;
  const { holder, role, right } = holderOf(known);
  return html`<section class="sheet"><h2>${fields.form === 'asked' ? 'What is asked for' : 'What is agreed'}</h2>${headLines(known)}
    ${holder && html`<p class="spread"><a class="strong to-holder" href="#/landholder/${holder.id}">${holder.fields.name ?? 'No name'}</a>${reachButtons(holder.fields)}</p>`}
    <dl class="facts">
      ${fact('As what', [role, right].filter(Boolean).join(': ') || null)}
      ${fact('May give leave', ENTITLED_WORDS[fields.entitled] ?? 'not recorded')}
      ${givenFacts(fields, signings)}
      ${signings.length === 0 && fields.form === 'signed' && fields.signed_by && fact('Signed by', fields.signed_by)}
      ${fact('First day', showDate(fields.starts_on))}${fact('Last day', fields.ends_on ? showDate(fields.ends_on) : 'no end agreed')}
      ${fields.withdrawn_on && fact('Withdrawn on', [showDate(fields.withdrawn_on), fields.withdrawn_how].filter(Boolean).join(': '))}
      ${fact('Kinds', fields.species?.length ? fields.species.map((kind) => speciesName(pack, kind)).join(', ') : 'any')}
      ${fact('Number', numberWords(fields, leave.lifted))}
      ${fact('Girth', Number.isInteger(fields.max_girth_mm) ? `up to ${showCm(fields.max_girth_mm)}` : 'no limit agreed')}
      ${fact('How it is dug', fields.methods?.length ? fields.methods.map(methodWord).join(', ') : 'not agreed')}</dl>
    ${fields.note && html`<p class="note">${fields.note}</p>`}</section>`;
}

/** The terms to keep. */
export function termsPart({ leave }) {
  const { conditions } = leave.record.fields;
  return html`<section class="sheet"><h2>Terms to keep</h2>${conditions?.length ? html`<ol class="numbered">${conditions.map((term) => html`<li>${term}</li>`)}</ol>` : html`<p class="muted">No terms are written down. If any were agreed, add them: they come up before you dig.</p>`}</section>`;
}

/** The signature and the letters: what was signed on the glass, and what to hand over or send. */
export function signedPart({ leave, signings, lifts }) {
  const { id, fields } = leave.record;
  const over = leave.state.word === 'ended' || leave.state.word === 'withdrawn';
  const wants = !over && (fields.form !== 'signed' || (signings.length > 0 && signings[0].differs.length > 0));
  const to = (kind, words) => html`<a class="button" href="#/papers?leave=${id}&amp;kind=${kind}">${icon('papers')}${words}</a>`;
  return html`<section class="sheet"><h2>Signature and letters</h2>
    ${signings.length === 0 && fields.form === 'signed' ? html`<p class="muted">Signed on paper. Keep a picture of it below.</p>` : signedList(signings)}
    <div class="pick-row"><a class="button hill ${wants ? 'primary' : ''}" href="#/sign/${id}">${icon('sign')}${signings.length ? 'Sign anew at the gate' : 'Sign at the gate'}</a>
      ${to('leave', 'Letter to send')}${lifts.length > 0 && to('report', 'Report after a visit')}${to('renewal', 'Renewal letter')}</div></section>`;
}

/** What can be done with it: change, renew, withdraw, remove. */
export function actsPart({ one, leave }) {
  const { id, fields } = leave.record;
  return html`<div class="stack"><div class="actions"><button type="button" class="button primary" data-change>${icon('edit')}Change</button>
      <a class="button" href="#/leave/new?site=${one.site.id}&amp;renews=${id}">${icon('leave')}Renew</a></div>
    <div class="actions">${fields.withdrawn_on
      ? html`<button type="button" class="button" data-restore>${icon('undo')}It was not withdrawn</button><button type="button" class="button" data-withdraw>${icon('edit')}Change the day</button>`
      : html`<button type="button" class="button rust" data-withdraw>${icon('no')}It was withdrawn</button>`}
      <button type="button" class="button quiet" data-remove>${icon('bin')}Remove, written by mistake</button></div></div>`;
}

function liftEntry({ id, fields }, { trees, pack }) {
  const tree = trees.get(fields.tree);
  const name = tree ? `${speciesName(pack, tree.fields.species)}${tree.fields.tag ? ` ${tree.fields.tag}` : ''}` : 'A tree that is no longer kept';
  return html`<li><a class="entry" href="#/tree/${fields.tree}"><span class="entry-main"><span class="entry-title">${name}</span>
    <span class="entry-under">lifted on ${showDate(fields.lifted_on)}</span>
    </span>${icon('forward')}</a>${flagLines(flagsOf(pack, id))}</li>`;
}

/** The lifts made under it, with what home noticed about them. */
export function liftsPart(known) {
  const { lifts } = known;
  if (lifts.length === 0) return html``;
  return html`<section class="sheet"><details class="fold" ${lifts.some(({ id }) => flagsOf(known.pack, id).length > 0) ? html`open` : ''}><summary>${count(lifts.length, 'tree lifted under it', 'trees lifted under it')}</summary>
    <ul class="entries">${lifts.map((lift) => liftEntry(lift, known))}</ul></details></section>`;
}

/** The leaves before and after it. */
export function chainPart({ one, leave }) {
  const records = one.leaves.map(({ record }) => record);
  const { before, after } = leaveChain(records, leave.record.id);
  if (before.length + after.length === 0) return html``;
  const stateOf = (id) => one.leaves.find(({ record }) => record.id === id).state;
  const entry = (words) => ({ id, fields }) => html`<li><a class="entry" href="#/leave/${id}"><span class="entry-main"><span class="entry-title">${words}</span>
    ${stateMark(stateOf(id))}<span class="entry-under">${range(fields)}</span></span>${icon('forward')}</a></li>`;
  return html`<section class="sheet"><h2>Before and after</h2><ul class="entries">${after.map(entry('Renewed by'))}${before.map(entry('Renews'))}</ul></section>`;
}
