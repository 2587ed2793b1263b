/** May I?: the answer before the spade goes in, for where one stands or for a chosen tree, with every reason. */

import { askLeave, awayFromMark, besideAnswer } from '../hill/ask_leave.js';
import { fixTroubleCode } from '../core/fix_trouble.js';
import { cmToMm, mmToCm, showCm } from '../core/lengths.js';
import { watchFix } from '../device.js';
import { kindsOfLeaves, metresBetween, readTrees, recentKinds, todayOn } from '../hill/ground_facts.js';
import { treePlace } from '../hill/tree_place.js';
import { getDraft, listRecords, onStoreChange, saveDraft } from '../store.js';
import { answerGrounds, answerHead, answerShort, awayLine, besideLines, cautionLine, farLine, followAnswer, knowledgeLine, termsToTick, whoseLine } from '../ui/answer.js';
import { chips, dateField, findFault, numberField, readDraft, toggle } from '../ui/form.js';
import { html, on, render } from '../ui/html.js';
import { icon } from '../ui/icons.js';
import { notice } from '../ui/notice.js';
import { livePosition } from '../ui/position.js';
import { showDistance, speciesName } from '../ui/words.js';

const TREES_NEAR_M = 60; // trees offered for the place one stands on
const TREES_OFFERED = 12;
const ASKED = ['girth_cm', 'depth_cm', 'on']; // fields that must be readable, or there is no answer
const TO_MARK = 'mark-from-may-i'; // the slot in which Mark finds what was asked here
const NO_TAG = 'a tree without a tag';
const DUG_OUT = ['lifted', 'settling', 'gaining', 'working', 'lost', 'parted', 'left_standing'];

/**
 * Open the screen.
 * @param {Element} root
 * @param {{tree?: string}} params tree: ask for this tree at once
 */
export async function open(root, params = {}) {
  let facts = await readTrees(null);
  let [fixes, leaves] = await Promise.all([listRecords('fix'), listRecords('leave')]);
  let kindsOf = null; // the site whose leaves the kinds were sorted by
  let fix = null;
  let trouble = null;
  let tree = params.tree ? facts.rows.find((row) => row.id === params.tree) ?? null : null;
  let values = startValues();
  let found = null;
  let refused = null; // what of the question cannot be read, in words: until it is put right there is no answer
  let kept = [];
  let asking = 0;
  let live = null;
  let closed = false;
  const sight = followAnswer(root);

  function startValues() {
    return { species: tree?.kind ?? null, girth_cm: mmToCm(tree?.girth_mm ?? null), depth_cm: null, machine: false, on: null };
  }

  /** The place asked about: the tree's own position if it has one, else where one stands. */
  function hereNow() {
    const own = tree ? treePlace(fixes.filter((one) => one.fields.tree === tree.id)) : null;
    if (own) return { ...own, of: 'tree' };
    return fix ? { lat: fix.lat, lon: fix.lon, accuracy_m: fix.accuracy_m ?? null, of: 'here' } : null;
  }

  const siteAsked = () => found?.site ?? tree?.site ?? null;

  async function ask() {
    asking += 1;
    const mine = asking;
    const here = hereNow();
    const fault = findFault(root.querySelector('#question'), ASKED);
    if (fault) {
      refuse(fault);
      return;
    }
    const answer = here && (await askLeave({
      here, site: tree?.site ?? null, on: values.on, species: values.species, girth_mm: asNumber(values.girth_cm), depth_mm: asNumber(values.depth_cm), machine: values.machine === true,
    }));
    if (closed || mine !== asking) return; // a later question is already on its way
    found = answer;
    refused = null;
    drawAnswer(here);
    if (siteAsked() !== kindsOf) drawQuestionIfIdle(); // the kinds that this ground's leaves name come first
    const beside = answer && (await besideAnswer(answer));
    const place = root.querySelector('[data-beside-place]');
    if (closed || found !== answer || !beside || !place) return;
    Object.assign(answer, beside);
    render(place, besideLines(answer));
  }

  /** An answer to an older question must not stand beside what cannot be read. */
  function refuse(sentence) {
    refused = sentence;
    found = null;
    drawAnswer(hereNow());
  }

  const asNumber = (cm) => (typeof cm === 'number' ? cmToMm(cm) : null);

  function placeLine(here) {
    if (!here) return null;
    const where = here.of === 'tree' ? `At the mark of ${tree.tag ?? NO_TAG}` : 'Where you stand';
    const sure = here.accuracy_m === null ? 'accuracy not known' : `± ${Math.max(1, Math.round(here.accuracy_m))} m`;
    if (!found) return `${where}, ${sure}`;
    const ground = found.site === null ? 'no ground of yours here' : found.away_m > 0 ? `${showDistance(found.away_m)} outside ${found.site_name}` : `on ${found.site_name}`;
    return `${where}, ${sure}, ${ground}`;
  }

  function drawAnswer(here) {
    const place = root.querySelector('[data-answer-place]');
    if (!place) return;
    if (refused) {
      render(place, html`<div class="empty" role="alert" data-refused>${icon('warn')}<p class="strong">${refused}</p><p>Put that right first: until then there is no answer.</p></div>`);
      drawActions();
      return;
    }
    if (!found) {
      const searching = fixTroubleCode(trouble) === 'searching';
      render(place, html`<div class="empty" data-no-answer>${icon(searching ? 'fix' : 'warn')}<p class="strong">${searching ? 'Still searching for your position. The answer comes as soon as there is one.' : 'Without your position there is no answer for where you stand.'}</p>
        <p class="muted">You can also ask for a tree that has been marked: its own position is used then.</p></div>`);
      drawActions();
      return;
    }
    const { verdict } = found;
    const beside = html`<div class="beside" data-beside-place>${besideLines(found)}</div>`; // below what asks for a deed or forbids one
    render(place, html`<div aria-live="polite" aria-atomic="true">${answerHead(verdict)}</div>
      <p class="strong" data-place-line>${placeLine(here)}</p>
      ${tree && tree.stage !== 'left_standing' && DUG_OUT.includes(tree.stage) && html`<p class="state ask" data-dug>${icon('ask')}<span>${tree.tag ?? 'This tree'} does not stand here any more: the answer is for the ground it stood on.</span></p>`}
      ${here.of === 'tree' && whoseLine(verdict, tree.tag ?? NO_TAG)}
      ${verdict.answer === 'yes' && beside}
      <h2>Reasons</h2>
      ${found.far ? farLine(found.far) : answerGrounds(verdict, found.asked, found.contacts)}
      ${verdict.answer !== 'yes' && beside}
      ${verdict.answer !== 'no' && termsToTick(verdict.keep, kept)}
      ${cautionLine(verdict.caution)}
      ${found.unread.map((text) => html`<p class="state ask">${icon('warn')}${text}</p>`)}
      <p class="muted">${knowledgeLine(found)}</p>`);
    drawActions();
  }

  function treesToOffer() {
    const standing = facts.rows.filter((row) => !DUG_OUT.includes(row.stage));
    const here = fix;
    const near = here ? standing.filter((row) => row.place && metresBetween(here, row.place) <= TREES_NEAR_M) : [];
    const sorted = (near.length > 0 ? near : standing).slice()
      .sort((a, b) => (here && a.place && b.place ? metresBetween(here, a.place) - metresBetween(here, b.place) : String(b.tree.fields.marked_on ?? '').localeCompare(String(a.tree.fields.marked_on ?? ''))));
    const list = sorted.slice(0, TREES_OFFERED);
    if (tree && !list.some((row) => row.id === tree.id)) list.unshift(tree);
    return list;
  }

  function drawActions() {
    const place = root.querySelector('[data-acts]');
    const dug = tree && DUG_OUT.includes(tree.stage);
    render(place, html`${answerShort(found?.verdict ?? null)}
      <button type="button" class="button hill" data-to-question>${icon('edit')}Change</button>
      ${tree && !dug && html`<a class="button primary hill" href="#/lift/${tree.id}">${icon('spade')}Log the lift of ${tree.tag ?? 'this tree'}</a>`}
      ${tree && dug && html`<a class="button primary hill" href="#/tree/${tree.id}">${icon('trees')}Open ${tree.tag ?? 'the tree'}</a>`}
      ${!tree && html`<button type="button" class="button primary hill" data-mark-here>${icon('mark')}Mark a tree here</button>`}`);
    sight.look();
  }

  function drawQuestion() {
    const place = root.querySelector('[data-question-place]');
    kindsOf = siteAsked();
    const kinds = recentKinds(facts.rows.map((row) => row.tree), kindsOf, facts.pack, kindsOfLeaves(leaves, kindsOf, todayOn()));
    if (values.species && !kinds.includes(values.species)) kinds.unshift(values.species);
    render(place, html`<form novalidate id="question" class="sheet" tabindex="-1"><h2>What is asked</h2>
      <div class="field"><label for="may-tree">Tree or place</label><select id="may-tree" name="tree">
        <option value="">where I stand now</option>
        ${treesToOffer().map((row) => html`<option value="${row.id}" ${tree?.id === row.id ? html`selected` : ''}>${row.tag ?? NO_TAG}, ${speciesName(facts.pack, row.kind)}${fix && row.place ? `, ${showDistance(metresBetween(fix, row.place))}` : ''}</option>`)}
      </select></div>
      ${chips({ name: 'species', label: 'Kind', value: values.species, options: [...kinds.slice(0, 8).map((kind) => ({ value: kind, label: speciesName(facts.pack, kind) })), { value: null, label: 'not told' }] })}
      ${kinds.length > 8 && html`<details class="fold"><summary>More kinds</summary>${chips({ name: 'species', label: 'All other kinds', value: values.species, options: kinds.slice(8).map((kind) => ({ value: kind, label: speciesName(facts.pack, kind) })) })}</details>`}
      ${numberField({ name: 'girth_cm', label: 'Girth', unit: 'cm', value: values.girth_cm, step: 1, start: 20, min: 0.1, max: 1000, whole: false })}
      ${numberField({ name: 'depth_cm', label: 'How deep you will dig', unit: 'cm', value: values.depth_cm, step: 5, start: 25, min: 1, max: 300, whole: false })}
      ${toggle({ name: 'machine', label: 'With a machine', value: values.machine })}
      ${dateField({ name: 'on', label: 'On which day', value: values.on ?? todayOn(), today: true })}
    </form>`);
  }

  function draw() {
    render(root, html`<div class="page may-dig">
      <div class="page-head"><h1>May I dig here?</h1>${tree && html`<p class="under">${tree.tag ? html`Tree <span class="tag">${tree.tag}</span> ` : 'A tree without a tag, '}${speciesName(facts.pack, tree.kind)}${tree.girth_mm === null ? '' : `, girth ${showCm(tree.girth_mm)}`}</p>`}</div>
      <div class="cols">
        <div><div data-position></div><div data-away></div><div data-answer-place class="stack"></div></div>
        <div data-question-place></div>
      </div>
      <div class="actions stuck" data-acts></div></div>`);
    live = livePosition(root.querySelector('[data-position]'));
    showPosition();
    drawQuestion();
    drawAnswer(hereNow());
  }

  function showPosition() {
    const place = root.querySelector('[data-position]');
    const needed = hereNow()?.of !== 'tree';
    place.hidden = !needed;
    if (needed) live.show(fix, trouble);
    const here = hereNow();
    render(root.querySelector('[data-away]'), html`${here?.of === 'tree' && awayLine(awayFromMark(fix, here), tree.tag ?? NO_TAG)}`);
  }

  const trying = (work) => async (...args) => {
    try {
      await work(...args);
    } catch (fault) {
      refuse(fault.message);
    }
  };

  /** What was asked goes along to Mark; were it not kept, the way there stays open. */
  async function markHere() {
    const { species, girth_cm } = values;
    const readable = findFault(root.querySelector('#question'), ['girth_cm']) === null;
    try {
      await saveDraft(TO_MARK, { species, girth_cm: readable ? girth_cm : null, at: new Date().toISOString() });
    } catch (fault) {
      notice(`The kind and girth could not be taken along: ${fault.message}`, { kind: 'trouble' });
    }
    location.hash = '#/mark';
  }

  async function changed(ev) {
    const read = readDraft(root.querySelector('#question'));
    if (ev.target.name === 'tree') {
      tree = facts.rows.find((row) => row.id === read.tree) ?? null;
      values = { ...startValues(), depth_cm: read.depth_cm, machine: read.machine, on: values.on };
      kept = tree ? ((await getDraft(`terms-${tree.id}`)) ?? []) : [];
      found = null;
      draw();
    } else {
      values = { ...values, ...read, on: read.on === todayOn() ? null : read.on };
    }
    await ask();
  }

  let asked = null; // the last fix asked for, so that a still receiver does not have the page drawn anew each second
  if (tree) kept = (await getDraft(`terms-${tree.id}`)) ?? [];
  draw();
  if (params.tree && !tree) notice('That tree is not kept on this phone.', { kind: 'trouble' });
  const stops = [
    watchFix(trying(async (got) => {
      const first = fix === null;
      fix = got;
      showPosition();
      if (first) drawQuestionIfIdle();
      const same = asked && asked.lat === got.lat && asked.lon === got.lon && asked.accuracy_m === got.accuracy_m;
      if (same || hereNow()?.of === 'tree') return;
      asked = got;
      await ask();
    }), (said) => {
      trouble = said;
      showPosition();
      if (!found) drawAnswer(hereNow());
    }),
    onStoreChange(trying(async () => {
      [facts, fixes, leaves] = [await readTrees(null), await listRecords('fix'), await listRecords('leave')];
      if (tree) tree = facts.rows.find((row) => row.id === tree.id) ?? null;
      await ask();
    })),
    on(root, 'input', '#question', trying(changed)),
    on(root, 'submit', '#question', (ev) => ev.preventDefault()),
    on(root, 'change', '[name="kept_conditions"]', trying(async () => {
      kept = [...root.querySelectorAll('[name="kept_conditions"]:checked')].map((box) => JSON.parse(box.value));
      if (tree) await saveDraft(`terms-${tree.id}`, kept);
    })),
    on(root, 'click', '[data-mark-here]', markHere),
    on(root, 'click', '[data-to-answer]', () => root.querySelector('[data-answer-place]').scrollIntoView({ block: 'start' })),
    on(root, 'click', '[data-to-question]', () => {
      const form = root.querySelector('#question');
      form.scrollIntoView({ block: 'start' });
      form.focus({ preventScroll: true });
    }),
  ];

  /** Trees near by are offered once a position is known, but never while someone is filling the question in. */
  function drawQuestionIfIdle() {
    if (!root.querySelector('#question')?.contains(document.activeElement)) drawQuestion();
  }

  trying(ask)();
  return () => {
    closed = true;
    sight.stop();
    stops.forEach((stop) => stop());
  };
}
