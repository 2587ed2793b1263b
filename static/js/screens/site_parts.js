/** What stands beside the map on the page of a site: markup only, from records that were read before. */

import { consentState } from '../core/leave_state.js';
import { splitHistory } from '../core/leave_terms.js';
import { CHOOSE_COUNTRY, NO_LISTS } from '../hill/ground_checks.js';
import { openWords } from '../ui/check_rows.js';
import { html } from '../ui/html.js';
import { icon } from '../ui/icons.js';
import { giverName, goneLine, leaveEntry } from '../ui/leave_entry.js';
import { reachButtons } from '../ui/reach.js';
import { stateMark } from '../ui/state.js';
import { consentName, count, showDate, showDistance, speciesName, stageWord } from '../ui/words.js';

const YES_NO = { true: 'yes', false: 'no' };

/** The leaves: those there are now, and folded what was before. */
export function leavePart(one, ground, pack) {
  const { now, history } = splitHistory(one.leaves);
  const entry = (leave) => leaveEntry(leave, giverName(leave.record.fields, ground), pack);
  const removed = new Set(now.map(({ record }) => ground.gone.get(record.fields.landholder)).filter(Boolean));
  return html`<section class="sheet"><div class="sheet-head"><h2>Leave</h2><a class="button" href="#/leave/new?site=${one.site.id}">${icon('plus')}Add a leave</a></div>
    ${now.length === 0 ? html`<p>Nobody’s leave is recorded for this ground. Until there is one, the answer to “May I?” is no.</p>` : html`<ul class="entries">${now.map(entry)}</ul>`}${[...removed].map(goneLine)}
    ${history.length > 0 && html`<details class="fold"><summary>${count(history.length, 'earlier leave', 'earlier leaves')}</summary><ul class="entries">${history.map(entry)}</ul></details>`}
    ${one.leaves.length > 0 && html`<a class="button wide" href="#/papers?site=${one.site.id}">${icon('papers')}Letters and papers</a>`}</section>`;
}

function holderEntry({ holder, holding, role, by_right: right }, site) {
  const { fields } = holder;
  const name = fields.name ?? 'No name';
  const under = [role ?? 'role not known', right, holding ? null : 'gave a leave here'].filter(Boolean).join(' · ');
  return html`<li class="holder"><div class="two-part"><a class="entry" href="#/landholder/${holder.id}"><span class="entry-main"><span class="entry-title">${name}</span>
      <span class="entry-under">${under}</span>${holding?.fields.note && html`<span class="entry-under">${holding.fields.note}</span>`}</span></a>
      <a class="button" href="#/landholder/${holder.id}?site=${site}" aria-label="Change what ${name} is to this site">${icon('edit')}</a></div>
    ${(fields.phone || fields.email) && reachButtons(fields)}</li>`;
}

/** Who has a say about this ground. */
export function holdersPart({ site, holders }) {
  return html`<section class="sheet"><div class="sheet-head"><h2>Landholders</h2><a class="button" href="#/landholder/new?site=${site.id}">${icon('plus')}Add one</a></div>
    ${holders.length === 0 ? html`<p class="muted">Nobody yet. Write down who owns it, who works it, and who acts for them: they are who you ask.</p>` : html`<ul class="entries">${holders.map((row) => holderEntry(row, site.id))}</ul>`}</section>`;
}

function consentEntry({ id, fields }, on) {
  const under = [fields.until && `until ${showDate(fields.until)}`, fields.reference, fields.authority, fields.note].filter(Boolean).join(' · ');
  return html`<li><a class="entry" href="#/consent/${id}"><span class="entry-main"><span class="entry-title">${consentName(fields)}</span>
    ${stateMark({ ...consentState(fields, on), on: null })}<span class="entry-under">${under}</span></span>${icon('forward')}</a></li>`;
}

/** What is open about this ground, in a few words. @param {{id: string, text: string}[]} open what openQuestions gave @param {object[]} more */
function checksWords(open, more) {
  if (open.length + more.length === 0) return 'What was checked for this ground';
  if (open[0]?.id === CHOOSE_COUNTRY) return 'What to check here: choose the country';
  if (open[0]?.id === NO_LISTS) return 'What to check for this ground';
  return `What to check for this ground: ${openWords(open.length, more.length)}`;
}

/** The country of a site in words, null where none is chosen. @param {{country: string|null, list: object|null}} known what readChecks gave */
function countryWords({ country, list }) {
  return list && list.code === country ? list.name : country;
}

/** What others have to say about the same ground, and how many questions about it are open. */
export function consentsPart({ site, consents }, on, open, more) {
  return html`<section class="sheet"><div class="sheet-head"><h2>Other consents</h2><a class="button" href="#/consent/new?site=${site.id}">${icon('plus')}Add</a></div>
    ${consents.length === 0 ? html`<p class="muted">None recorded. Protected area, tree order, felling licence, monument, plant health: note each that might apply, also when it is not needed.</p>` : html`<ul class="entries">${consents.map((consent) => consentEntry(consent, on))}</ul>`}
    <a class="button wide" href="#/checks/${site.id}">${icon('list')}${checksWords(open, more)}</a></section>`;
}

/** The facts of the site itself. */
export function factsPart({ site }, known) {
  const { fields } = site;
  return html`<section class="sheet"><div class="sheet-head"><h2>About this site</h2><button type="button" class="button" data-edit="facts">${icon('edit')}Change</button></div>
    <dl class="facts"><dt>Country</dt><dd><a href="#/checks/${site.id}">${countryWords(known) ?? 'not chosen'}</a></dd>
      <dt>Protected</dt><dd>${YES_NO[fields.protected] ?? 'not known'}</dd>
      <dt>Buried services</dt><dd>${fields.services_checked_on ? `checked on ${showDate(fields.services_checked_on)}` : 'not checked'}</dd>
      <dt>Height</dt><dd>${fields.height_m === null || fields.height_m === undefined ? 'not known' : `${Math.round(fields.height_m)} m`}</dd>
      <dt>Time zone</dt><dd>${fields.zone ?? 'not told'}</dd></dl>
    <a class="button" href="#/weather/${site.id}">${icon('weather')}Weather here</a>
    ${!fields.services_checked_on && html`<button type="button" class="button" data-services>${icon('done')}Services checked today</button>`}
    ${fields.note && html`<p class="note">${fields.note}</p>`}</section>`;
}

function treeEntry(one, pack) {
  return html`<li><a class="entry" href="#/tree/${one.id}"><span class="entry-icon">${icon(`stage_${one.stage}`)}</span>
    <span class="entry-main"><span class="entry-title">${speciesName(pack, one.kind)}</span><span class="entry-under">${[stageWord(one.stage), one.distance_m !== null && `${showDistance(one.distance_m)} away`].filter(Boolean).join(' · ')}</span></span>
    <span class="entry-side">${one.tag && html`<span class="tag">${one.tag}</span>`}</span></a></li>`;
}

const FIRST_TREES = 8;

/** The trees of the site: the first eight, the others folded. */
export function treesPart(trees, pack) {
  const more = trees.slice(FIRST_TREES);
  return html`<section class="sheet"><div class="sheet-head"><h2>Trees from here</h2><a class="button" href="#/mark">${icon('plus')}Mark one</a></div>
    ${trees.length === 0 ? html`<p class="muted">No tree of this site is kept yet. Mark the ones worth lifting as you walk.</p>` : html`<ul class="entries">${trees.slice(0, FIRST_TREES).map((row) => treeEntry(row, pack))}</ul>`}
    ${more.length > 0 && html`<details class="fold"><summary>${count(more.length, 'more tree', 'more trees')}</summary><ul class="entries">${more.map((row) => treeEntry(row, pack))}</ul></details>`}</section>`;
}
