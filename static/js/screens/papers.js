/** Papers: letters and reports of a leave, made at home, looked at here, printed or kept as a file. */

import { COLLECTOR_ID, leaveLetter } from '../core/leave_letter.js';
import { changedOnly } from '../core/changed.js';
import { todayOn } from '../hill/ground_facts.js';
import { readGround } from '../hill/ground_leaves.js';
import { readLeaveFacts } from '../hill/leave_facts.js';
import { fetchPaper, hasOwnWords, readPaper } from '../hill/papers_home.js';
import { readSignings } from '../hill/signings.js';
import { counts, dropDraft, getDraft, getMeta, getRecord, onStoreChange, recordsWhere, saveChange, saveDraft, setMeta } from '../store.js';
import { HomeError } from '../store/home.js';
import { syncNow } from '../sync.js';
import { FormFault, readDraft, readForm, showFault } from '../ui/form.js';
import { handOver } from '../ui/hand_over.js';
import { html, on, render } from '../ui/html.js';
import { icon } from '../ui/icons.js';
import { letterMarkup } from '../ui/letter.js';
import { notice } from '../ui/notice.js';
import { PAPERS, collectorFields, ownWordsField, paperActions, paperFields, versionField } from '../ui/paper_forms.js';
import { stateMark } from '../ui/state.js';
import { NOT_KNOWN, here, sayHere, showDate, showRange } from '../ui/words.js';

const SIZE_KEY = 'paper-size';
const DRAFT = 'collector';
/** What was said of one visit is not said of the next: with another lift the field is empty again. */
const wordsKey = ({ leave, kind, visit }) => `paper-words:${leave}:${kind}${kind === 'report' ? `:${visit}` : ''}`;

/** Open the screen. @param {Element} root @param {{leave?: string, site?: string, kind?: string, signing?: string}} params */
export async function open(root, params) {
  return params.leave ? openLeave(root, params) : openList(root, params);
}

// --- which leave ---------------------------------------------------------------------------------------------------

async function openList(root, { site = null }) {
  const { sites, landholders } = await readGround();
  const shown = sites.filter((one) => (site === null || one.site.id === site) && one.leaves.length > 0);
  const entry = ({ record, state }) => html`<li><a class="entry" href="#/papers?leave=${record.id}"><span class="entry-icon">${icon('papers')}</span>
    <span class="entry-main"><span class="entry-title">${landholders.get(record.fields.landholder)?.fields.name ?? 'landholder not known'}</span>
      ${stateMark(state)}<span class="entry-under">${showRange(record.fields.starts_on, record.fields.ends_on, { noEnd: 'no end agreed' })}</span></span>${icon('forward')}</a></li>`;
  render(root, html`<div class="page papers"><div class="page-head"><h1>Papers</h1><p class="under">Letters to the landholders, and what you tell them after a visit.</p></div>
    ${shown.length === 0
      ? html`<div class="empty">${icon('papers')}<p>No leave is written down${site && ' for this site'} yet. A letter begins with one: who may say yes, for which ground, on which terms.</p>
          <a class="button primary" href="${site ? `#/site/${site}` : '#/ground'}">${icon('ground')}To the ground</a></div>`
      : html`<p>For which leave?</p><div class="papers-sites">${shown.map((one) => html`<section class="sheet"><h2>${one.site.fields.name ?? 'unnamed site'}</h2><ul class="entries">${one.leaves.map(entry)}</ul></section>`)}</div>`}</div>`);
  return () => {};
}

// --- the papers of one leave ---------------------------------------------------------------------------------------

async function openLeave(root, params) {
  let closed = false;
  let asked = 0; // the last question wins, whichever answer comes first
  let facts;
  let kinds;
  let versions; // the letters that were signed, the newest first
  let shown = Promise.resolve(); // until the paper that was asked for last is there
  let sender = null; // {seen, values} while the form of the sender is open
  const wish = { leave: params.leave, kind: params.kind ?? 'leave', size: (await getMeta(SIZE_KEY)) === 'letter' ? 'letter' : 'a4', from: null, to: null, signing: params.signing ?? null, words: null };

  async function readFacts() {
    const [read, signings, lifts] = await Promise.all([
      readLeaveFacts(params.leave, todayOn()), readSignings(params.leave), recordsWhere('lift', 'leave', params.leave),
    ]);
    facts = read;
    kinds = PAPERS.map(({ kind }) => kind).filter((kind) => (kind !== 'signed' || signings.length > 0) && (kind !== 'report' || lifts.length > 0));
    if (!kinds.includes(wish.kind)) wish.kind = 'leave';
    versions = signings.map(({ record, signed }) => {
      const { version, signed_on: on } = signed ?? record.fields;
      return { id: record.id, label: [`version ${version ?? NOT_KNOWN}`, showDate(on)].filter(Boolean).join(', ') };
    });
    if (!versions.some(({ id }) => id === wish.signing)) wish.signing = versions[0]?.id ?? null;
    return lifts.map((lift) => lift.fields.lifted_on).filter(Boolean).sort().at(-1) ?? null;
  }

  const lastDay = await readFacts();
  if (facts === null) {
    render(root, html`<div class="page papers"><div class="page-head"><h1>Papers</h1></div><div class="empty">${icon('papers')}<p>This leave is not here any more.</p><a class="button primary" href="#/papers">All leaves</a></div></div>`);
    return () => {};
  }
  [wish.from, wish.to, wish.visit] = [lastDay, lastDay, lastDay];
  wish.words = await getDraft(wordsKey(wish));
  const draft = await getDraft(DRAFT);
  if (draft) sender = draft;
  else if (!facts.facts.collector?.name) sender = { seen: facts.facts.collector ?? {}, values: facts.facts.collector ?? {} };
  const part = (name) => root.querySelector(`[data-part="${name}"]`);

  function draw() {
    const { site, leave, facts: known } = facts;
    const words = [known.landholder?.name ?? 'landholder not known', showRange(leave.fields.starts_on, leave.fields.ends_on, { noEnd: 'no end agreed' })].join(' · ');
    render(root, html`<div class="page papers"><div class="page-head"><a class="back" href="#/papers">${icon('back')}All leaves</a><h1>Papers: ${site.fields.name ?? 'unnamed site'}</h1>
        <p class="under"><a href="#/leave/${leave.id}">${words}</a></p></div>
      <div class="papers-cols"><div class="stack"><div data-part="sender"></div>
          <form class="sheet" novalidate data-wish>${paperFields(wish, kinds)}${paperActions()}</form></div>
        <div data-part="preview" aria-live="polite" aria-busy="true"></div></div></div>`);
    drawSender();
    drawMore();
  }

  /** What only one kind of paper asks for. */
  function drawMore() {
    root.querySelector('[data-days]').hidden = wish.kind !== 'report';
    render(root.querySelector('[data-more]'), html`${wish.kind === 'signed' && versions.length > 1 && versionField(versions, wish.signing)}${hasOwnWords(wish.kind) && ownWordsField(wish.words)}`);
  }

  function drawSender() {
    const known = facts.facts.collector;
    if (sender) {
      render(part('sender'), html`<form class="sheet" novalidate data-sender><h2>Who writes these letters?</h2>
        ${!known?.name && html`<p>Your name and address stand at the head of every letter, and in the leave itself. You are asked only once.</p>`}
        ${collectorFields(sender.values)}
        <div class="actions"><button class="button primary">Save</button>${known?.name && html`<button type="button" class="button quiet" data-cancel>Not now</button>`}</div></form>`);
    } else {
      render(part('sender'), html`<section class="sheet papers-sender"><div><p class="strong">${known.name}</p><p class="muted">${known.address ?? 'no address yet'}</p></div>
        <button type="button" class="button" data-change-sender>${icon('edit')}Change</button></section>`);
    }
  }

  /** What this phone has and home does not would be missing from the paper: it goes first. */
  async function bringHome() {
    if ((await counts()).changes_unsent > 0) await syncNow();
  }

  async function drawPreview() {
    asked += 1;
    const mine = asked;
    const place = part('preview');
    place.setAttribute('aria-busy', 'true');
    if (!place.firstElementChild) render(place, html`<p role="status">Home makes it …</p>`);
    try {
      await bringHome();
      const { article, trouble } = await readPaper(wish);
      if (closed || mine !== asked) return;
      render(place, html`${trouble.map((text) => html`<p class="caution">${icon('warn')}<span>${text}</span></p>`)}`);
      place.append(article);
      offer(true);
    } catch (fault) {
      if (closed || mine !== asked) return;
      drawWithout(place, fault);
    }
    place.removeAttribute('aria-busy');
  }

  async function redraw(otherKind) {
    if (otherKind) {
      wish.words = await getDraft(wordsKey(wish));
      if (closed) return;
      drawMore();
    }
    await setMeta(SIZE_KEY, wish.size);
    await drawPreview();
  }

  function drawWithout(place, fault) {
    offer(false);
    if (!(fault instanceof HomeError)) globalThis.reportError?.(fault);
    const why = fault.code === 'away' ? sayHere('Papers are made at home, and home is not in reach. Everything is kept on this phone.') : fault.message;
    render(place, html`<p class="caution">${icon('info')}<span>${why}</span></p><div class="actions"><button type="button" class="button" data-again>${icon('sync')}Try again</button>
        ${wish.kind === 'leave' && html`<a class="button" href="#/sign/${params.leave}">${icon('sign')}Sign at the gate</a>`}
        ${wish.kind === 'signed' && html`<a class="button" href="#/signed/${wish.signing}">${icon('sign')}Read it as it was signed</a>`}</div>
      ${wish.kind === 'leave' && html`<section class="letter sheet">${letterMarkup(leaveLetter(facts.facts))}</section>`}`);
  }

  function offer(possible) {
    for (const button of root.querySelectorAll('[data-paper-actions] button')) button.disabled = !possible;
  }

  function readWish(form) {
    const values = readForm(form);
    if (values.kind === 'report' && values.from && values.to && values.to < values.from) {
      showFault(form, 'to', 'The last day lies before the first. Set one of them again.');
      throw new FormFault('to', 'The last day lies before the first.');
    }
    Object.assign(wish, values);
  }

  async function save(form) {
    const fields = changedOnly(sender.seen, readForm(form));
    if (Object.keys(fields).length > 0) await saveChange({ type: 'collector', rec: COLLECTOR_ID, set: fields });
    await dropDraft(DRAFT);
    sender = null;
    await readFacts();
    if (closed) return;
    drawSender();
    notice(`Saved on this ${here()}.`);
    await drawPreview();
  }

  async function download(form) {
    try {
      const { blob, name } = await fetchPaper(wish, form);
      handOver(blob, name);
    } catch (fault) {
      notice(fault.message, { kind: 'trouble' });
    }
  }

  const tried = (run) => async (ev, found) => {
    try {
      await run(found, ev);
    } catch (fault) {
      if (!(fault instanceof FormFault)) notice(fault.message, { kind: 'trouble' });
    }
  };

  draw();
  offer(false);
  const off = [
    on(root, 'submit', 'form', (ev) => ev.preventDefault()),
    on(root, 'submit', '[data-sender]', tried((form) => save(form))),
    on(root, 'input', '[data-sender]', tried(async (form) => {
      sender.values = readDraft(form);
      await saveDraft(DRAFT, sender);
    })),
    on(root, 'change', '[data-wish]', tried(async (form) => {
      const before = wish.kind;
      readWish(form);
      shown = redraw(wish.kind !== before);
      await shown;
    })),
    on(root, 'input', '[data-wish] [name="words"]', tried((field) => saveDraft(wordsKey(wish), field.value))),
    on(root, 'click', '[data-cancel]', tried(async () => {
      sender = null;
      await dropDraft(DRAFT);
      drawSender();
    })),
    on(root, 'click', '[data-change-sender]', () => {
      sender = { seen: facts.facts.collector, values: facts.facts.collector };
      drawSender();
      part('sender').querySelector('input').focus();
    }),
    on(root, 'click', '[data-again]', tried(() => drawPreview())),
    on(root, 'click', '[data-print]', tried(async () => {
      await shown.catch(() => {}); // words typed just now are printed too; a fault was told by whoever asked
      globalThis.print();
    })),
    on(root, 'click', '[data-download]', tried((button) => download(button.dataset.download))),
    onStoreChange(async () => {
      const collector = await getRecord(COLLECTOR_ID);
      if (closed || sender || !collector || collector.deleted) return;
      facts.facts.collector = collector.fields;
      drawSender();
    }),
  ];
  drawPreview().catch((fault) => notice(fault.message, { kind: 'trouble' })); // not waited for: the page stands before it
  return () => {
    closed = true;
    for (const stop of off) stop();
  };
}
