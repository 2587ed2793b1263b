/** What to check for this ground: the country's questions, who answers them, and what was said. Works with no signal. */

import { checkRecordId } from '../core/ground_questions.js';
import { readChecks, standingOf } from '../hill/ground_checks.js';
import { todayAt } from '../hill/ground_leaves.js';
import { dropDraft, getDraft, getRecord, onStoreChange, saveChanges, saveDraft } from '../store.js';
import { GROUPS, checkRow, countryPart, keptPart, openWords, progressLine } from '../ui/check_rows.js';
import { readDraft, readForm, readOrShow } from '../ui/form.js';
import { html, on, render } from '../ui/html.js';
import { icon } from '../ui/icons.js';
import { notice } from '../ui/notice.js';
import { consentName, here } from '../ui/words.js';

const PRESSES = ['pointerdown', 'pointerup', 'pointercancel'];
const DETAILS = ['told_by', 'reference', 'settled_on', 'note'];

/** {'told_by.eu-season': 'x'} -> {told_by: 'x'}: names carry their question so that no two on the page are alike. */
function ownFields(values) {
  return Object.fromEntries(Object.entries(values).map(([name, value]) => [name.split('.')[0], value]));
}

/**
 * Open the screen.
 * @param {Element} root
 * @param {{id: string}} params id of a site
 * @returns {Promise<() => void>} close
 */
export async function open(root, params) {
  const { id } = params;
  const key = `checks-${id}`;
  let facts = null;
  let drafts = (await getDraft(key)) ?? {}; // question -> what was typed and not saved yet
  let drawn = false;
  let pressed = false; // something is held down just now
  let late = false; // the page is older than the facts
  let closed = false;

  async function read() {
    facts = await readChecks(id);
  }

  const questionOf = (name) => facts.list.questions.find((one) => one.id === name);

  const consentOf = ({ consent, consent_name: name }) => (consent === null ? null : facts.consents.find(({ fields }) => fields.kind === consent && (consent !== 'other' || fields.name === name)) ?? null);

  function row(question) {
    const standing = standingOf(question.id, facts.checks);
    const consent = consentOf(question);
    const heeded = standing.answer === question.heed;
    const more = facts.more.includes(question);
    const checked = question.consent === 'services' ? facts.site.fields.services_checked_on ?? null : null;
    const services = question.consent === 'services' && standing.answer !== null && !heeded && !checked;
    return checkRow(question, standing, { more, checked, consent, services, offer: more && question.consent !== null && consent === null, draft: drafts[question.id] ?? null });
  }

  function group({ before, title }) {
    const questions = facts.list.questions.filter((one) => one.before === before);
    const [open_, more] = [facts.open, facts.more].map((some) => questions.filter((one) => some.includes(one)).length);
    return questions.length > 0 && html`<section class="sheet" data-group="${before}"><div class="sheet-head"><h2>${title}</h2><span class="muted">${openWords(open_, more) ?? 'all settled'}</span></div>
      <ul class="checks">${questions.map((one) => html`<li class="check" data-check="${one.id}">${row(one)}</li>`)}</ul></section>`;
  }

  /** Answers that no question of this list asks for: those of another country, or of a list that is gone. */
  function kept() {
    const asked = new Set((facts.list?.questions ?? []).map((one) => one.id));
    const words = new Map((facts.ground?.lists ?? []).flatMap((one) => one.questions).map((one) => [one.id, one.question]));
    return facts.checks.filter(({ fields }) => fields.answer && !asked.has(fields.question))
      .map(({ fields }) => ({ fields, words: words.get(fields.question) ?? String(fields.question ?? '').replaceAll('-', ' ') }));
  }

  function draw() {
    const { site, ground, list, country } = facts;
    const back = html`<a class="back" href="#/site/${id}">${icon('back')}${site?.fields.name ?? 'Site'}</a>`;
    if (!site) {
      render(root, html`<div class="page"><div class="page-head"><h1>What to check</h1></div><div class="empty">${icon('site')}<p>This site is not on this ${here()}. It was removed, or has not come from home yet.</p><a class="button" href="#/ground">${icon('back')}To all sites</a></div></div>`);
      return;
    }
    const folds = [...root.querySelectorAll('details[open][data-fold]')].map((one) => one.dataset.fold);
    const unknown = list && list.code !== country ? country : null;
    const head = html`<div class="page-head">${back}<h1>What to check for this ground</h1>${list && progressLine(facts.open.length, facts.more.length, list.questions.length)}</div>`;
    const above = html`<p class="caution">${icon('warn')}<span>${ground?.above ?? 'Local law and the authority’s word stand above anything written here.'}</span></p>`;
    if (!ground) {
      render(root, html`<div class="page">${head}<div class="empty">${icon('sync')}<p>The questions have not come from home yet. Sync once within reach of home; from then on they are here with no signal too.</p><a class="button primary" href="#/sync">${icon('sync')}Here and at home</a></div>${keptPart(kept())}${above}</div>`);
    } else {
      const place = html`<section class="sheet" data-place>${countryPart(ground.lists, list && !unknown ? list.code : null, { unknown })}${list && html`<p class="muted">${list.note}</p>`}${above}</section>`;
      const [asking, ...later] = GROUPS;
      render(root, list
        ? html`<div class="page">${head}${place}<div class="cols"><div>${group(asking)}</div><div>${later.map(group)}${keptPart(kept())}</div></div></div>`
        : html`<div class="page">${head}<div class="empty">${icon('list')}<p>Each country asks other things of whoever digs up a tree. With the country chosen, its questions stand here: who can say yes, what is protected, what lies buried, what moves with the tree.</p></div>${place}${keptPart(kept())}</div>`);
    }
    for (const fold of root.querySelectorAll('details[data-fold]')) fold.open = folds.includes(fold.dataset.fold) || (!drawn && Object.hasOwn(drafts, fold.dataset.fold.replace('told-', '')));
    drawn = true;
  }

  /** The page is not put anew under a hand: what is pressed would be gone before it is let go, and what is typed lose its place. */
  function drawWhenFree() {
    late = pressed || root.querySelector('[data-details]:focus-within') !== null;
    if (!late && !closed) draw();
  }

  const drawLate = () => setTimeout(() => late && drawWhenFree());

  async function redraw() {
    await read();
    drawWhenFree();
  }

  function press(ev) {
    pressed = ev.type === 'pointerdown';
    if (!pressed) drawLate();
  }

  /** Save, and offer the way back; `onPage` where the page itself has it too. */
  async function save(changes, back, undoWords, { onPage = true } = {}) {
    try {
      const recs = await saveChanges(changes);
      notice('Saved on this phone.', { undoWords, backOnPage: onPage, undo: () => saveChanges(back(recs)) });
    } catch (trouble) {
      notice(`Not saved: ${trouble.message}`, { kind: 'trouble' });
      await redraw();
    }
  }

  /** Set fields on every record that a question has, on its own one where it has none, and know how to set them back. */
  async function write(question, set, undoWords) {
    const { records, said, differ } = standingOf(question.id, facts.checks);
    const before = (record) => Object.fromEntries(Object.keys(set).map((name) => [name, record.fields[name] ?? null]));
    if (records.length > 0) {
      const backs = records.map((record) => ({ rec: record.id, type: 'ground_check', set: before(record) }));
      // Both answers were in sight: the way back from a choice is the other one.
      if (differ && 'answer' in set) backs[0].set.answer = said.find(({ answer }) => answer !== set.answer)?.answer ?? null;
      return save(records.map((record) => ({ rec: record.id, type: 'ground_check', set, seen: record })), () => backs, undoWords);
    }
    const rec = checkRecordId(id, question.key);
    const gone = await getRecord(rec); // taken away once, here or elsewhere: the same record comes back
    const whole = { site: id, question: question.id, ...set, ...(gone?.deleted ? { deleted: false } : {}) };
    return save([{ rec, type: 'ground_check', set: whole }], () => [{ rec, type: 'ground_check', set: Object.fromEntries(Object.keys(set).map((name) => [name, null])) }], undoWords);
  }

  async function answer(form) {
    const [[name, value]] = Object.entries(readForm(form));
    const question = questionOf(name.slice('answer.'.length));
    await write(question, { answer: value, settled_on: value === null ? null : todayAt(facts.site) }, 'Undo the answer');
  }

  /** Only what differs from what is kept: the rest of the form must not stand before a later answer. */
  async function keepDraft(name, values) {
    if (values) drafts = { ...drafts, [name]: values };
    else drafts = Object.fromEntries(Object.entries(drafts).filter(([other]) => other !== name));
    await (Object.keys(drafts).length > 0 ? saveDraft(key, drafts) : dropDraft(key));
  }

  function typed(form) {
    const { fields } = standingOf(form.dataset.details, facts.checks);
    const values = Object.entries(ownFields(readDraft(form))).filter(([name, value]) => (value ?? null) !== (fields[name] ?? null));
    return keepDraft(form.dataset.details, values.length > 0 ? Object.fromEntries(values) : null);
  }

  async function details(form) {
    const question = questionOf(form.dataset.details);
    const mine = drafts[question.id];
    const values = readOrShow(form, (one) => ownFields(readForm(one)));
    if (values === null) return;
    const { fields } = standingOf(question.id, facts.checks);
    const changed = DETAILS.filter((name) => (values[name] ?? null) !== (fields[name] ?? null));
    if (changed.length > 0) await write(question, Object.fromEntries(changed.map((name) => [name, values[name]])), 'Undo the entry');
    if (drafts[question.id] === mine) await keepDraft(question.id, null); // else the next field is being typed in already
  }

  async function noteConsent(question, state) {
    const { fields } = standingOf(question.id, facts.checks);
    const name = question.consent_name ?? null;
    const set = { site: id, kind: question.consent, state, authority: question.ask, ...(name && { name }), ...(fields.reference && { reference: fields.reference }) };
    await save([{ type: 'consent', set }], ([rec]) => [{ rec, type: 'consent', set: { deleted: true } }], `Undo: ${consentName(set)}`, { onPage: false });
  }

  async function chooseCountry(form) {
    const { country } = readForm(form);
    const before = facts.site.fields.country ?? null;
    if (country === before) return;
    await save([{ rec: id, type: 'site', set: { country }, seen: facts.site }], () => [{ rec: id, type: 'site', set: { country: before } }], 'Undo the country');
    root.querySelector('h1')?.scrollIntoView({ block: 'end' }); // what is read next stands at the top
  }

  async function servicesChecked(question) {
    const { fields } = standingOf(question.id, facts.checks);
    const change = (on) => [{ rec: id, type: 'site', set: { services_checked_on: on } }];
    await save(change(fields.settled_on ?? todayAt(facts.site)), () => change(null), 'Undo the entry', { onPage: false });
  }

  await read();
  draw();
  for (const type of PRESSES) document.addEventListener(type, press, true);
  const stops = [
    () => PRESSES.forEach((type) => document.removeEventListener(type, press, true)),
    on(root, 'change', '[data-answer-form] input', (ev, input) => answer(input.form)),
    on(root, 'input', '[data-details]', (ev, form) => typed(form)),
    on(root, 'change', '[data-details]', (ev, form) => details(form)),
    on(root, 'change', '[data-country] input', (ev, input) => chooseCountry(input.form)),
    on(root, 'click', '[data-note-consent]', (ev, button) => noteConsent(questionOf(button.dataset.noteConsent), button.dataset.state)),
    on(root, 'click', '[data-services]', (ev, button) => servicesChecked(questionOf(button.dataset.services))),
    on(root, 'submit', 'form', (ev) => ev.preventDefault()),
    on(root, 'focusout', '[data-details]', drawLate),
    onStoreChange(redraw),
  ];
  return () => {
    closed = true;
    for (const stop of stops) stop();
  };
}
