/** Forget a landholder: what would go, what is asked about one by one, and doing it. At home only, by the owner. */

import { asOwner } from '../hill/as_owner.js';
import { askHomeJson, HomeError } from '../store/home.js';
import { syncNow } from '../sync.js';
import { ask } from '../ui/dialog.js';
import { chips, readOrShow, toggle } from '../ui/form.js';
import { fieldWord, typeWord } from '../ui/field_words.js';
import { html, on, render } from '../ui/html.js';
import { icon } from '../ui/icons.js';
import { notice } from '../ui/notice.js';
import { shelfWords } from '../ui/shelf_words.js';
import { count, showDate } from '../ui/words.js';

const WAIT_MS = 60_000; // home writes its books anew after it
const KEEP = { value: 'keep', label: 'Keep it' };
const GO = { value: 'go', label: 'It goes' };

/** One question for each letter and paper; one for all answers before lifts, which say the same. */
function questions(asked) {
  const lifts = asked.filter((one) => one.type === 'lift');
  const rest = asked.filter((one) => one.type !== 'lift').map((one) => ({
    ids: [one.id],
    label: `${{ signing: 'The letter signed on the glass', paper: 'A paper of a leave', leave: 'The paper of a leave' }[one.type]}${one.on ? `, ${showDate(one.on)}` : ''}`,
  }));
  return lifts.length === 0 ? rest : [...rest, { ids: lifts.map((one) => one.id), label: `What May I? answered before ${count(lifts.length, 'a lift', 'lifts')}: it names them` }];
}

/**
 * Open the screen.
 * @param {Element} root
 * @param {{id?: string}} params id: the landholder's
 * @returns {Promise<() => void>} close
 */
export async function open(root, params) {
  const id = params.id ?? '';
  const back = html`<a class="back" href="#/landholder/${id}">${icon('back')}The landholder</a>`;
  let plan = null;
  let busy = false;
  let closed = false;

  function drawWhy(text) {
    render(root, html`<div class="page forget"><div class="page-head">${back}<h1>Forget a landholder</h1></div>
      <p class="caution">${icon('info')}<span>${text}</span></p><a class="button" href="#/landholder/${id}">${icon('back')}Back</a></div>`);
  }

  /** What the owner has to know of it: where it still stands, and until when. */
  function drawHeld(backups, title) {
    return html`<section class="sheet" data-held><h2>${title}</h2><ul class="plain-list">${shelfWords(backups ?? null).map((line) => html`<li>${line}</li>`)}</ul></section>`;
  }

  function drawDone(did) {
    render(root, html`<div class="page forget"><div class="page-head">${back}<h1 tabindex="-1" data-done>Forgotten</h1>
        <p class="under">Here and at home. Other phones follow at their next sync.</p></div>
      <section class="sheet"><p><span class="state good">${icon('yes')}Done</span></p><p>Home cleared ${count(did.records, 'entry', 'entries')}${did.files > 0 && html` and ${count(did.files, 'file', 'files')}`}. That it was done is written down, without the name.</p></section>
      ${drawHeld(did.backups, 'What still holds it')}
      <div class="actions"><a class="button primary" href="#/landholder/${id}">${icon('back')}The landholder</a></div></div>`);
    root.querySelector('[data-done]').focus();
    globalThis.scrollTo(0, 0);
  }

  function draw() {
    const open = questions(plan.asked);
    const certain = plan.certain.filter((one) => one.fields.length > 0);
    render(root, html`<div class="page forget"><div class="page-head">${back}<h1>Forget ${plan.name ?? 'this landholder'}</h1>
        <p class="under">For good: at home now, and on every phone at its next sync.</p></div>
      <form novalidate data-form>
        <section class="sheet"><h2>What goes in any case</h2>${certain.length > 0 ? html`<ul class="plain-list">${certain.map((one) => html`<li><b>${typeWord(one.type)}</b>: ${one.fields.map(fieldWord).join(', ')}</li>`)}</ul>` : html`<p>Nothing here says who they are. It can still be done: what a phone that was away brings of them then stays out.</p>`}
          <p class="muted">Sites, leaves with their terms, lifts and trees stay; they speak of a landholder who was forgotten.</p></section>
        ${open.length > 0 && html`<section class="sheet"><h2>What may have to stay</h2>
          <p>A signed letter proves that you had leave. The law where you are may want such proof kept for some years, or gone when it is asked for: find out before you choose.</p>
          ${open.map(({ label }, i) => chips({ name: `asked_${i}`, label, options: [KEEP, GO], required: true }))}</section>`}
        ${plan.found.length > 0 && html`<section class="sheet"><h2>Where the name stands as well</h2><p class="muted">Tick what is to go with it.</p>
          ${plan.found.map((one, i) => toggle({ name: `found_${i}`, label: `${typeWord(one.type)}, ${fieldWord(one.field)}: “${one.text}”` }))}</section>`}
        ${drawHeld(plan.backups, 'What holds it afterwards')}
        <p class="caution">${icon('warn')}<span>This cannot be undone.</span></p>
        <div class="actions"><button class="button rust hill">${icon('bin')}Forget them</button><a class="button quiet" href="#/landholder/${id}">Not now</a></div>
        <p role="status" data-busy></p></form></div>`);
  }

  async function submit(ev, form) {
    ev.preventDefault();
    if (busy) return;
    const values = readOrShow(form);
    if (values === null) return;
    const keep = questions(plan.asked).filter((_one, i) => values[`asked_${i}`] === KEEP.value).flatMap(({ ids }) => ids);
    const also = plan.found.filter((_one, i) => values[`found_${i}`] === true).map((one) => [one.id, one.field]);
    const sure = await ask({
      title: `Forget ${plan.name ?? 'this landholder'}?`, text: 'It is gone for good, here and on every phone.',
      choices: [{ value: true, label: 'Forget them', kind: 'rust' }],
    });
    if (!sure || closed) return;
    busy = true;
    root.querySelector('[data-busy]').textContent = 'Home is clearing its books …';
    try {
      const did = await asOwner(() => askHomeJson(`/api/forget/${id}`, { json: { keep, also }, waitMs: WAIT_MS }));
      if (did === null) return;
      await syncNow(); // this one forgets too
      if (!closed) drawDone(did.done);
    } catch (trouble) {
      if (!(trouble instanceof HomeError)) throw trouble;
      notice(trouble.message, { kind: 'trouble' });
    } finally {
      busy = false;
      const say = root.querySelector('[data-busy]');
      if (say) say.textContent = '';
    }
  }

  drawWhy('Asking home …');
  const stops = [on(root, 'submit', '[data-form]', submit)];
  try {
    await syncNow(); // what is here only must be known at home before it is looked for there
    const got = await asOwner(() => askHomeJson(`/api/forget/${id}`, { waitMs: WAIT_MS }));
    plan = got?.done ?? null;
    if (!closed) {
      if (plan === null) drawWhy('Only the owner can do that.');
      else draw();
    }
  } catch (trouble) {
    if (!(trouble instanceof HomeError)) throw trouble;
    if (!closed) drawWhy(trouble.code === 'away' ? 'Home is not in reach. A person is forgotten at home, so that every phone follows.' : trouble.message);
  }
  return () => {
    closed = true;
    stops.forEach((stop) => stop());
  };
}
