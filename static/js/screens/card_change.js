/** A person's own changes of a species card: what can be changed, and the form for one window, event or value. Saved here, judged by home. */

import { changesIn, eventChange, traitChange, windowChange } from '../core/card_edit.js';
import { cardPath, judgeChange, keepChange, keptChange, ownOfKind, putAway, readTold } from '../hill/card_facts.js';
import { dropDraft, getDraft, saveDraft } from '../store.js';
import { eventFields, eventValues, fieldFor, showChosen, traitFields, traitValues, windowFields, windowValues } from '../ui/card_form.js';
import { capital, monthDayWords, partWords, ruleWords, valueWord, WORKS } from '../ui/card_words.js';
import { clearFaults, FormFault, readDraft, readForm, showFault } from '../ui/form.js';
import { html, on, render } from '../ui/html.js';
import { icon } from '../ui/icons.js';
import { notice } from '../ui/notice.js';
import { bandWords, yearBand } from '../ui/year_band.js';
import { todayOn } from '../hill/ground_facts.js';

const LATER = 'It counts after the next sync, when home has looked it over.';
const LEAF = 'leaf_type'; // another leaf is another kind

/** Everything of a card that can be changed, by its part. */
function partsOf(told) {
  return [
    ...told.works.flatMap(({ rules = [] }) => rules.map((rule) => ({ ...rule, words: ruleWords(rule.now) }))),
    ...told.events.map((event) => ({ ...event, words: monthDayWords(event.usual) })),
    ...told.traits.filter(({ name }) => name !== LEAF).map((trait) => ({ ...trait, words: valueWord(trait.value) })),
  ];
}

/** How a part is shown in a form and read out of it, by its kind. */
const WAYS = {
  windows: {
    was: ({ now, was }) => was ?? now, values: ({ now }, change, was) => windowValues(change ? { ...was, ...change } : now, change),
    fields: (part, values, was) => windowFields(values, was), change: windowChange,
  },
  events: {
    was: ({ usual, source, was }) => was ?? { usual, source }, values: eventValues,
    fields: (part, values, was) => eventFields(values, was), change: eventChange,
  },
  traits: { was: ({ value, source, note, was }) => was ?? { value, source, note }, values: traitValues, fields: traitFields, change: traitChange },
};

function partList(told, kind, site) {
  const more = site ? `&site=${site}` : '';
  const row = ({ part, words, mine }) => html`<li><a class="entry" href="#/card-change/${kind}?part=${part}${more}"><span class="entry-main"><span class="entry-title">${partWords(part)}</span><span class="entry-under">${mine.length > 0 && html`<span class="state">${icon('edit')}yours</span> `}${capital(words)}</span></span>${icon('forward')}</a></li>`;
  const parts = partsOf(told);
  const group = (title, layer) => html`<section class="sheet"><h2>${title}</h2><ul class="entries">${parts.filter(({ part }) => part.startsWith(layer)).map(row)}</ul></section>`;
  const never = told.works.filter(({ rules = [] }) => rules.length === 0).map(({ work }) => (WORKS[work] ?? work).toLowerCase());
  return html`<div class="cols"><div>${group('When to do what', 'windows.')}${never.length > 0 && html`<p class="muted">At no time by this card: ${never.join(', ')}.</p>`}</div><div>${group('When it wakes and rests', 'events.')}${group('What it is like', 'traits.')}</div></div>`;
}

function tried(judged, part) {
  const work = judged.told.works.find((one) => part.startsWith(`windows.${one.work}.`));
  if (!work) return html`<p class="state good">${icon('yes')}This can be.</p>`;
  const { year, climate } = judged.told;
  return html`<h2>So it would be</h2>${work.windows.length > 0 ? html`${yearBand(work.windows, year, todayOn(), bandWords(work.windows))}<p>${bandWords(work.windows)}: ${climate}.</p>` : html`<p>${work.none}</p>`}`;
}

async function openList(root, kind, site) {
  const { told, trouble } = await readTold(cardPath(kind, site));
  render(root, html`<div class="page"><div class="page-head"><a class="back" href="#/card/${kind}">${icon('back')}${capital(told?.name ?? kind)}</a><h1>Change the card</h1><p class="under">Choose what you know better. Only that is yours; ${told?.made ? 'the rest stays as it was copied' : 'the rest goes on as it ships'}.</p></div>
    ${told ? partList(told, kind, site) : html`<div class="empty" role="alert">${icon('warn')}<p>${trouble.message}</p><p class="muted">A card can be changed here once it was opened within reach of home.</p></div>`}</div>`);
  return () => {};
}

/**
 * Open the screen.
 * @param {Element} root
 * @param {{id: string, part?: string, site?: string}} params id: a kind; part: 'windows.lift.1' and the like, none: the list of them
 */
export async function open(root, { id: kind = 'default', part: name = null, site = '' }) {
  if (!name) return openList(root, kind, site);
  const key = `card-change-${kind}-${name}`;
  const page = `#/card/${kind}${site ? `?site=${site}` : ''}`;
  const { told } = await readTold(cardPath(kind, site));
  const part = told && partsOf(told).find((one) => one.part === name);
  if (!part) {
    render(root, html`<div class="page"><div class="page-head"><a class="back" href="${page}">${icon('back')}Back</a><h1>${partWords(name)}</h1></div><div class="empty" role="alert">${icon('warn')}<p>${told ? 'The card has nothing of that name to change.' : 'This card was not opened on this phone yet. Open it once within reach of home.'}</p></div></div>`);
    return () => {};
  }
  const way = WAYS[name.split('.')[0]];
  const was = way.was(part);
  const { change: kept, seen } = await keptChange(kind, name);
  const faulty = (told.trouble ?? []).filter((one) => one.part === name).map(({ rec }) => rec);
  const { waiting } = await ownOfKind(kind, told);
  const mine = [...new Set([...part.mine, ...faulty, ...waiting.filter((one) => one.part === name && one.change).map(({ rec }) => rec)])];
  const change = kept ?? changesIn(told.edits?.[part.mine[0]]).find(([one]) => one === name)?.[1] ?? null;
  let values;
  try { // what was kept may be of a form that no field can show: the card's own stands in the form then
    values = (await getDraft(key)) ?? way.values(part, change, was);
    draw();
  } catch {
    values = way.values(part, null, was);
    draw();
  }

  function draw() {
    render(root, html`<div class="page"><div class="page-head"><a class="back" href="${page}">${icon('back')}${capital(told.name)}</a><h1>${partWords(name)}</h1><p class="under">Your own, over the card of ${told.name}.</p></div>
      <form novalidate data-form>${way.fields(part, values, was)}
      <section class="sheet" data-tried hidden role="status"></section>
      <div class="actions"><button class="button primary hill">Save</button>${!name.startsWith('traits.') && html`<button type="button" class="button" data-try>${icon('leafbud')}See it first</button>`}
        ${mine.length > 0 && html`<button type="button" class="button" data-back>${icon('undo')}Back to the card’s own</button>`}<button type="button" class="button quiet" data-cancel>Not now</button></div></form></div>`);
    showChosen(root.querySelector('form'));
  }

  /** The change that the form says; a fault stands at its field, and is thrown. */
  function readChange(form) {
    const { change, fault } = way.change(readForm(form), was);
    if (!fault) return change;
    showFault(form, fault.field, fault.text);
    throw new FormFault(fault.field, fault.text);
  }

  /** Home's word on it: true where it can be, or where home cannot say so now. */
  async function judge(form, change) {
    const judged = await judgeChange(kind, name, change, site);
    const fault = judged?.fault;
    if (!fault) return { judged, good: true };
    clearFaults(form);
    const sentence = [fault.part && fault.part !== name && `${partWords(fault.part)}:`, fault.message, fault.cure].filter(Boolean).join(' ');
    showFault(form, fieldFor(form, fault.part === name ? fault.field : null).name, sentence);
    return { judged, good: false };
  }

  async function leave(words, undo) {
    await dropDraft(key);
    notice(words, { undo });
    globalThis.location.hash = page;
  }

  async function takeBack() {
    await putAway(mine);
    await leave(`Back to the card’s own. ${LATER.replace(', when home has looked it over', '')}`, () => putAway(mine, false));
  }

  async function submit(ev, form) {
    ev.preventDefault();
    const button = form.querySelector('.primary');
    button.disabled = true;
    try {
      const change = readChange(form);
      if (change === null) {
        if (mine.length > 0) return await takeBack();
        return notice('That is what the card says already: there is nothing to save.', { kind: 'plain' });
      }
      const { good, judged } = await judge(form, change);
      if (!good) return null;
      const undo = await keepChange(kind, name, change, mine, seen);
      return await leave(judged ? 'Saved on this phone. The dates follow at the next sync.' : `Saved on this phone. ${LATER}`, undo);
    } catch (fault) {
      if (!(fault instanceof FormFault)) notice(`Not saved: ${fault.message}`, { kind: 'trouble' });
      return null;
    } finally {
      button.disabled = false;
    }
  }

  async function tryIt(form) {
    const place = form.querySelector('[data-tried]');
    try {
      const change = readChange(form);
      const { good, judged } = change === null ? { good: true, judged: { told } } : await judge(form, change);
      place.hidden = !good;
      if (!good) return;
      render(place, judged ? tried(judged, name) : html`<p class="state quiet">${icon('clock')}Home is not in reach to work it out. Saved, it counts after the next sync.</p>`);
      place.scrollIntoView({ block: 'nearest' });
    } catch (fault) {
      if (!(fault instanceof FormFault)) notice(fault.message, { kind: 'trouble' });
    }
  }

  const stops = [
    on(root, 'input', '[data-form]', (ev, form) => {
      showChosen(form);
      form.querySelector('[data-tried]').hidden = true;
      return saveDraft(key, { ...values, ...readDraft(form) });
    }),
    on(root, 'click', '[data-try]', (ev, button) => tryIt(button.form)),
    on(root, 'click', '[data-back]', takeBack),
    on(root, 'click', '[data-cancel]', async () => {
      await dropDraft(key);
      globalThis.location.hash = page;
    }),
    on(root, 'submit', '[data-form]', submit),
  ];
  return () => stops.forEach((stop) => stop());
}
