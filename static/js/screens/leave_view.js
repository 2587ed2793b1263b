/** The page of a leave: what was agreed, the terms, papers and signatures that prove it, withdrawal, renewal, and what came before. */

import { putBack, readGround, todayAt } from '../hill/ground_leaves.js';
import { withoutSignature } from '../hill/leave_lock.js';
import { openPapersPart } from '../hill/papers_part.js';
import { readSignings } from '../hill/signings.js';
import { getPack, listRecords, onStoreChange, recordsWhere, saveChange } from '../store.js';
import { ask } from '../ui/dialog.js';
import { dateField, noteField } from '../ui/form.js';
import { html, on, render } from '../ui/html.js';
import { icon } from '../ui/icons.js';
import { notice } from '../ui/notice.js';
import { count, here, showDate } from '../ui/words.js';
import { openGround } from './leave_ground.js';
import { actsPart, agreedPart, chainPart, headPart, liftsPart, signedPart, termsPart } from './leave_parts.js';

const NO_PAPER = {
  signed: 'None yet. A picture of the signed letter, or its PDF, is kept here and can be shown with no signal.',
  spoken: 'No paper is kept with it. A spoken leave is worth little once memories differ: have it signed, and photograph it at the gate.',
  glass: 'None beside what was signed on the glass. A letter that came later, or its PDF, can be kept here.',
  asked: 'None yet. When they say yes, keep their letter or message here.',
};

/**
 * Open the page.
 * @param {Element} root @param {string} id of the leave
 * @param {{change: () => any, reopen: () => any}} work change: called to open its form; reopen: to open the page afresh
 * @returns {Promise<() => void>} close
 */
export async function openView(root, id, { change, reopen }) {
  const pack = await getPack();
  let known; // {ground, one, leave, lifts, trees, signings}
  let closed = false;

  async function read() {
    const [ground, lifts, trees, signings] = await Promise.all([readGround(), recordsWhere('lift', 'leave', id), listRecords('tree'), readSignings(id)]);
    const one = ground.sites.find(({ leaves }) => leaves.some(({ record }) => record.id === id));
    const leave = one?.leaves.find(({ record }) => record.id === id) ?? null;
    lifts.sort((a, b) => String(b.fields.lifted_on ?? '').localeCompare(String(a.fields.lifted_on ?? '')));
    known = { ground, one, leave, lifts, signings, pack, trees: new Map(trees.map((tree) => [tree.id, tree])) };
  }

  function drawGone() {
    render(root, html`<div class="page"><div class="page-head"><h1>Leave</h1></div><div class="empty">${icon('leave')}<p>This leave is not on this ${here()}. It was removed, or has not come from home yet.</p><a class="button primary" href="#/ground">${icon('back')}To all sites</a></div></div>`);
    return onStoreChange(async () => {
      await read();
      if (!closed && known.leave) reopen();
    });
  }

  await read();
  if (!known.leave) {
    const stop = drawGone();
    return () => { closed = true; stop(); };
  }

  render(root, html`<div class="page leave"><div class="page-head" data-head></div>
    <div class="cols"><div><div data-agreed></div><div data-terms></div><div data-signed></div><div data-acts></div></div>
      <div><div data-papers></div><div data-ground></div><div data-lifts></div><div data-chain></div>
        <p class="caution">${icon('warn')}<span>The landholder’s word today stands above what is written here.</span></p></div></div></div>`);
  const part = (name) => root.querySelector(`[data-${name}]`);
  const fields = () => known.leave.record.fields;
  const today = () => todayAt(known.one.site);

  function draw() {
    for (const [name, markup] of Object.entries({ head: headPart, agreed: agreedPart, terms: termsPart, signed: signedPart, acts: actsPart, lifts: liftsPart, chain: chainPart })) {
      render(part(name), markup(known));
    }
  }

  /** Set some fields at once, with the way back. @returns {Promise<boolean>} whether it was saved */
  async function setAtOnce(set, words, undoWords, seen = known.leave.record) {
    const back = Object.fromEntries(Object.keys(set).map((name) => [name, name === 'deleted' ? false : (seen.fields[name] ?? null)]));
    try {
      await saveChange({ rec: id, type: 'leave', set, seen });
      notice(words, { undoWords, undo: () => saveChange({ rec: id, type: 'leave', set: back }) });
      return true;
    } catch (trouble) {
      notice(`Not saved: ${trouble.message}`, { kind: 'trouble' });
      return false;
    }
  }

  async function saveArea(area, seen) {
    const set = await withoutSignature(known.signings.map(({ record }) => record), seen.fields, { area }, known.one.site.fields);
    if (set === null) return false;
    const saved = await setAtOnce(set, area ? 'The area is saved on this phone.' : 'Saved: it covers the whole site.', 'Undo the area', seen);
    if (saved) await reread();
    return saved;
  }

  /** A day that lies before what was done under the leave is perhaps a slip of the finger. */
  async function isSure(day) {
    const after = known.lifts.filter(({ fields: lift }) => (lift.lifted_on ?? '') >= day).length;
    const signed = known.signings.map(({ record }) => record.fields.signed_on).filter((on) => on && on > day).sort().at(-1);
    const found = [after > 0 && `${count(after, 'tree was', 'trees were')} lifted under it on that day or after it`,
      signed && `it was signed after that day, on ${showDate(signed)}`].filter(Boolean);
    if (found.length === 0) return true;
    const said = found.join(', and ');
    const answer = await ask({
      title: `Withdrawn on ${showDate(day)}?`,
      text: `${said.charAt(0).toUpperCase()}${said.slice(1)}. Save this day only if it is the right one.`,
      choices: [{ value: true, label: 'Yes, that day', kind: 'rust' }],
      no: 'Not that day',
    });
    return answer === true;
  }

  async function comeBack(holder) {
    const name = known.ground.gone.get(holder)?.fields.name ?? 'The landholder';
    try {
      await putBack(holder);
      notice(`${name} is back.`);
    } catch (trouble) {
      notice(`Not saved: ${trouble.message}`, { kind: 'trouble' });
    }
  }

  async function withdraw() {
    const was = fields();
    const values = await ask({
      title: was.withdrawn_on ? 'When it was withdrawn' : 'The leave is withdrawn',
      text: 'From that very day on there is no leave. It may lie before the first day, or still ahead.',
      fields: html`${dateField({ name: 'withdrawn_on', label: 'Withdrawn on', value: was.withdrawn_on ?? today(), required: true, today: true, yearsAhead: 10 })}
        ${noteField({ name: 'told', label: 'How you were told', value: was.withdrawn_how, rows: 2, hint: 'As: rang at noon; letter' })}`,
      yes: 'Save the withdrawal',
    });
    if (values === null || !(await isSure(values.withdrawn_on))) return;
    const words = values.withdrawn_on === today() ? 'Withdrawn from today on. Saved.' : `Withdrawn from ${showDate(values.withdrawn_on)} on. Saved.`;
    await setAtOnce({ withdrawn_on: values.withdrawn_on, withdrawn_how: values.told }, words, 'Undo the withdrawal');
  }

  async function remove() {
    const hangs = [known.lifts.length && count(known.lifts.length, 'lift was made under it', 'lifts were made under it'),
      known.signings.length && count(known.signings.length, 'signed version belongs to it', 'signed versions belong to it')].filter(Boolean);
    if (hangs.length) {
      const answer = await ask({
        title: 'Remove this leave?',
        text: `${hangs.join(', and ')}. They stay, but what allowed them is then no longer shown. If the leave ended or was withdrawn, note that instead.`,
        choices: [{ value: 'yes', label: 'Remove it all the same', kind: 'rust' }],
        no: 'Keep it',
      });
      if (answer === null) return;
    }
    const site = known.one.site.id;
    if (await setAtOnce({ deleted: true }, 'Leave removed.', 'Undo the removal')) globalThis.location.hash = `#/site/${site}`;
  }

  async function reread() {
    await read();
    if (closed) return;
    if (!known.leave) {
      reopen(); // taken back here, or removed on another phone
      return;
    }
    draw();
    groundPart.redraw();
    await papers.redraw();
  }

  draw();
  const papers = await openPapersPart(part('papers'), { of: { leave: id }, old: () => fields().paper ?? null, signings: () => known.signings, today, empty: () => NO_PAPER[known.signings.length > 0 ? 'glass' : fields().form] ?? NO_PAPER.spoken });
  const groundPart = await openGround(part('ground'), { leave: id, save: saveArea, read: () => ({ site: known.one.site, record: known.leave.record, kind: known.leave.state.kind }) });
  const stops = [
    on(root, 'click', '[data-change]', change),
    on(root, 'click', '[data-withdraw]', withdraw),
    on(root, 'click', '[data-restore]', () => setAtOnce({ withdrawn_on: null, withdrawn_how: null }, 'Saved: it was not withdrawn.', 'Undo that')),
    on(root, 'click', '[data-said-yes]', () => setAtOnce({ form: 'spoken', given_on: today() }, 'Saved: they said yes today, by word.', 'Undo that')),
    on(root, 'click', '[data-put-back]', (ev, button) => comeBack(button.dataset.putBack)),
    on(root, 'click', '[data-remove]', remove),
    onStoreChange(reread),
  ];
  return () => {
    closed = true;
    for (const stop of stops) stop();
    papers.close();
    groundPart.close();
  };
}
