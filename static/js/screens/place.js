/** Where it stands: a tree's position out of all its fixes, in every notation; taken anew, typed, and found again on foot. */

import { stageOf } from '../hill/ground_facts.js';
import { weighRecords } from '../hill/tree_place.js';
import { getMeta, getPack, getRecord, onStoreChange, recordsWhere, saveChanges, setMeta } from '../store.js';
import { html, on, render } from '../ui/html.js';
import { icon } from '../ui/icons.js';
import { copyFrom, notationRows } from '../ui/notation.js';
import { notice } from '../ui/notice.js';
import { count, sayHere, speciesName } from '../ui/words.js';
import { leadBack } from './place_back.js';
import { asideSentences, fixList, quarrelWords, showAccuracy, spreadWords } from './place_fixes.js';
import { holdStill } from './place_steady.js';
import { typePosition } from './place_typed.js';

const NOTATION = 'notation'; // the notation this person wants first, kept on this phone
const KEPT_ASIDE = 'fixes-kept-aside'; // fixes that disagree and that the person wants to keep all the same

/**
 * Open the screen.
 * @param {Element} root
 * @param {{id: string, back?: string}} params id of the tree; back: there at all, the way to it is shown first and at once
 * @returns {Promise<() => void>} close
 */
export async function open(root, params) {
  const { id } = params;
  const leads = params.back !== undefined;
  const tree = await getRecord(id);
  if (!tree || tree.deleted) {
    render(root, html`<div class="page"><div class="page-head"><h1>Where it stands</h1></div><div class="empty">${icon('trees')}<p>${sayHere('That tree is not kept on this phone.')}</p><a class="button hill" href="#/trees">See the trees</a></div></div>`);
    return () => {};
  }
  const [pack, lifts] = await Promise.all([getPack(), recordsWhere('lift', 'tree', id)]);
  let fixes = await recordsWhere('fix', 'tree', id);
  let preferred = await getMeta(NOTATION);
  let keptAside = new Set((await getMeta(KEPT_ASIDE)) ?? []);
  const part = (name) => root.querySelector(`[data-${name}]`);

  const stage = stageOf(tree, lifts, pack);
  const gone = lifts.length > 0 || stage === 'lost' || stage === 'parted';
  render(root, html`<div class="page place">
    <div class="page-head"><a class="back" href="#/tree/${id}">${icon('back')}${tree.fields.tag ?? 'The tree'}</a>
      <h1>Where it ${gone ? 'stood' : 'stands'}</h1>
      <p class="under"><span class="tag">${tree.fields.tag ?? 'no tag'}</span> ${speciesName(pack, tree.fields.species)}</p></div>
    <div class="cols wide-first"><div>${leads && html`<section class="sheet" data-back></section>`}<section class="sheet" data-where></section>
      ${!leads && html`<section class="sheet" data-back></section>`}<section class="sheet" data-steady></section><section class="sheet" data-type></section></div>
      <div><section class="sheet"><h2>Its fixes</h2><div data-fixes></div></section></div></div></div>`);

  /** Draw a part again; what was folded open stays so. */
  function redraw(name, markup) {
    const open = new Set([...part(name).querySelectorAll('details[open] > summary')].map((one) => one.textContent));
    render(part(name), markup);
    for (const summary of part(name).querySelectorAll('summary')) if (open.has(summary.textContent)) summary.parentElement.open = true;
  }

  function drawWhere() {
    const { weighed, usable } = weighRecords(fixes);
    const quarrel = weighed && quarrelWords(fixes);
    if (!weighed) {
      redraw('where', html`<h2>Position</h2><div class="empty">${icon('fix')}<p>No position is kept of this tree yet.</p></div>`);
      return;
    }
    redraw('where', html`<h2>Position</h2>
      <p><span class="big-number" data-accuracy>${showAccuracy(weighed.accuracy_m)}</span></p>
      <p data-spread>${spreadWords(weighed, usable.length)}</p>
      ${quarrel && html`<p class="state ask" data-quarrel>${icon('ask')}<span>${quarrel}</span></p>`}
      ${asideSentences(fixes).map(({ ids, text, is_far: isFar }) => !isFar ? html`<p class="muted">${text}</p>` : html`<div class="aside-fix" role="note"><p class="state ask">${icon('ask')}${text}</p>
        ${!ids.every((one) => keptAside.has(one)) && html`<div class="pick-row">
          <button type="button" class="button" data-delete-stay="${ids.join(' ')}">${icon('bin')}Take ${ids.length === 1 ? 'it' : 'them'} out</button>
          <button type="button" class="button" data-keep-aside="${ids.join(' ')}">Keep ${ids.length === 1 ? 'it' : 'them'}</button></div>`}</div>`)}
      ${notationRows(weighed, preferred)}`);
  }

  function drawFixes() {
    redraw('fixes', fixList(fixes));
  }

  async function takeOut(ids) {
    const all = (deleted) => ids.map((rec) => ({ rec, type: 'fix', set: { deleted } }));
    await saveChanges(all(true));
    notice(`${ids.length === 1 ? 'The fix is' : `${count(ids.length, 'fix', 'fixes')} are`} taken out.`, { undoWords: 'Undo the removal', undo: () => saveChanges(all(false)) });
  }

  async function again(what) {
    if (what?.types && !what.types.includes('fix')) return;
    fixes = await recordsWhere('fix', 'tree', id);
    drawWhere();
    drawFixes();
    back.redraw();
  }

  const trying = (work) => async (...args) => {
    try {
      await work(...args);
    } catch (fault) {
      notice(`Not saved: ${fault.message}`, { kind: 'trouble' });
    }
  };
  const click = (selector, work) => on(root, 'click', selector, trying(work));

  drawWhere();
  drawFixes();
  const stands = () => weighRecords(fixes).weighed;
  const back = await leadBack(part('back'), { stands, gone, atOnce: leads });
  const stops = [
    back.close,
    await holdStill(part('steady'), { tree, stands }),
    await typePosition(part('type'), { tree, stands }),
    onStoreChange(trying(again)),
    click('[data-copy]', (ev, button) => copyFrom(button)),
    click('[data-delete-fix]', (ev, button) => takeOut([button.dataset.deleteFix])),
    click('[data-delete-stay]', (ev, button) => takeOut(button.dataset.deleteStay.split(' '))),
    click('[data-keep-aside]', async (ev, button) => {
      keptAside = new Set([...keptAside, ...button.dataset.keepAside.split(' ')]);
      await setMeta(KEPT_ASIDE, [...keptAside]);
      drawWhere();
    }),
    on(root, 'change', '[name="notation_first"]', trying(async (ev, select) => {
      preferred = select.value;
      await setMeta(NOTATION, preferred);
      drawWhere();
    })),
  ];
  return () => stops.forEach((stop) => stop());
}
