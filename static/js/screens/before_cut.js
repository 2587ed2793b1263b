/** Ask before you cut: whether a work suits a tree on a day, with every reason and the next good date. Works with no signal. */

import { todayOn } from '../hill/ground_facts.js';
import { answerCut, readCutFacts } from '../hill/cut_question.js';
import { getDraft, onStoreChange, saveDraft } from '../store.js';
import { chips, dateField, findFault, numberField, readDraft, toggle } from '../ui/form.js';
import { html, on, render } from '../ui/html.js';
import { icon } from '../ui/icons.js';
import { treeTitle } from '../ui/tree_sheets.js';
import { plainSources, showDate, showRange, speciesName } from '../ui/words.js';

const WORKS = [
  { value: 'trim', label: 'Trim shoots' }, { value: 'hard-prune', label: 'Hard prune' }, { value: 'suckers', label: 'Take suckers' },
  { value: 'wire', label: 'Wire' }, { value: 'unwire', label: 'Take wire off' }, { value: 'defoliate', label: 'Defoliate' }, { value: 'repot', label: 'Repot' },
];
const CUT = ['trim', 'hard-prune', 'suckers'];
const SHARES = [{ value: 0.3, label: 'a third' }, { value: 0.5, label: 'half' }, { value: 1, label: 'all' }];
const WORDS = {
  now: { face: 'yes', word: 'Now', line: 'By the card and the calendar this is a good day for it. Your eye on the tree stands above both.' },
  must: { face: 'ask', word: 'Only if you must', line: 'Something speaks against it. Read it first; what can wait, may wait.' },
  'not-now': { face: 'no', word: 'Not now', line: 'Wait: the reasons are below, and when it can be done.' },
  no: { face: 'no', word: 'Not yours to cut', line: 'This tree is not in your keeping.' },
};
const FACES = { no: 'no', must: 'ask', yes: 'yes', say: 'info' };
const PRACTICE = 'common practice, no source';
const ASKED_NUMBERS = ['cut_mm', 'root_mm', 'on'];

/** Where a reason comes from, short where it is only what people do. */
const sourceWords = (source) => (source === PRACTICE ? 'Common practice.' : plainSources(`Source: ${source}.`));

/**
 * Open the screen.
 * @param {Element} root
 * @param {{id?: string, work?: string}} params id: of the tree; work: asked at once
 */
export async function open(root, params) {
  let facts = await readCutFacts(params.id);
  const key = `cut-${params.id}`;
  const draft = await getDraft(key);
  const kept = draft?.asked_on === todayOn() ? draft.values : {}; // yesterday's question would be answered unseen
  const values = { work: 'trim', on: null, cut_mm: null, strong: false, leaf_share: null, root_mm: null, ...kept };
  if (WORKS.some(({ value }) => value === params.work)) values.work = params.work;
  let closed = false;

  function drawMissing() {
    render(root, html`<div class="page"><div class="page-head"><h1>Ask before you cut</h1></div><div class="empty">${icon('trees')}<p>That tree is not kept on this phone.</p><a class="button hill" href="#/trees">See the trees</a></div></div>`);
  }

  function more() {
    if (CUT.includes(values.work)) {
      return html`${numberField({ name: 'cut_mm', label: 'Thickest cut', unit: 'mm', value: values.cut_mm, start: 10, min: 1, max: 500, hint: 'across the branch, if you know it' })}
        ${toggle({ name: 'strong', label: 'The branch is strong and grows fast', value: values.strong === true })}`;
    }
    if (values.work === 'defoliate') return chips({ name: 'leaf_share', label: 'How much of the leaves', options: SHARES, value: values.leaf_share });
    return values.work === 'repot' && numberField({ name: 'root_mm', label: 'Thickest root to cut', unit: 'mm', value: values.root_mm, start: 10, min: 1, max: 500, hint: 'across, if you know it' });
  }

  function draw() {
    if (!facts) {
      drawMissing();
      return;
    }
    const { fields } = facts.tree;
    render(root, html`<div class="page">
      <div class="page-head"><a class="back" href="#/tree/${facts.tree.id}">${icon('back')}${treeTitle(fields.tag, speciesName(facts.pack, fields.species))}</a><h1>Ask before you cut</h1></div>
      <form novalidate id="question">
        ${chips({ name: 'work', label: 'What you want to do', options: WORKS, value: values.work })}
        <div class="cut-cols"><section class="cut-answer" data-answer-place></section>
          <section class="sheet cut-more"><h2>More of the question</h2><div data-more>${more()}</div>
            ${dateField({ name: 'on', label: 'On which day', value: values.on, hint: 'left empty: today', today: true, yearsAhead: 1 })}</section>
          <section class="cut-reasons" data-reasons></section></div></form></div>`);
    drawAnswer();
  }

  function drawAnswer() {
    const place = root.querySelector('[data-answer-place]');
    if (!place) return;
    const fault = findFault(root.querySelector('#question'), ASKED_NUMBERS);
    if (fault || facts.trouble) {
      render(root.querySelector('[data-reasons]'), html``);
      render(place, html`<div class="empty" role="alert" data-refused>${icon('warn')}<p class="strong">${fault ?? facts.trouble}</p></div>`);
      return;
    }
    const day = values.on ?? todayOn();
    const told = answerCut(facts, { ...asked(), on: day });
    const { face, word, line } = WORDS[told.answer];
    render(place, html`<div aria-live="polite" aria-atomic="true"><div class="verdict ${face}" data-answer="${told.answer}">${icon(face)}<p class="verdict-word">${word}</p><p>${line}</p></div></div>
      ${told.answer !== 'no' && html`<p class="strong" data-next>${whenLine(told, day)}</p>`}`);
    render(root.querySelector('[data-reasons]'), html`<ul class="reasons" aria-label="Reasons">${told.reasons.map((one) => html`<li class="${FACES[one.weight]}" data-code="${one.code}">${icon(FACES[one.weight])}<div><p>${plainSources(one.text)}</p>${one.source && html`<p class="cure">${sourceWords(one.source)}</p>`}</div></li>`)}</ul>
      ${facts.elsewhere && html`<p class="state ask" data-elsewhere>${icon('ask')}<span>Home has not worked the dates out for this tree's ground: they are those of lowland at 52° N, and may be some weeks off here.</span></p>`}
      ${facts.stands_in && html`<p class="state ask">${icon('ask')}<span>The kind of this tree is not told, or has no card: the careful card is used.</span></p>`}
      <p class="caution">${icon('warn')}<span>${told.caution}</span></p>`);
  }

  /** Only what belongs to the work that is asked about. */
  function asked() {
    const { work, cut_mm, strong, leaf_share, root_mm } = values;
    const number = (value) => (typeof value === 'number' ? value : null);
    if (CUT.includes(work)) return { work, cut_mm: number(cut_mm), strong };
    return work === 'defoliate' ? { work, leaf_share } : { work, root_mm: work === 'repot' ? number(root_mm) : null };
  }

  function whenLine({ opens, closes, answer }, day) {
    if (opens === null) return 'Home works the dates out about a year ahead: no later good time is known here yet.';
    if (opens <= day && day <= closes) return answer === 'now' ? `Good until ${showDate(closes)}.` : `The time for it is ${showRange(opens, closes)}.`;
    return `Next good time: ${showRange(opens, closes)}.`;
  }

  function follow(ev) {
    const before = values.work;
    Object.assign(values, readDraft(root.querySelector('#question')));
    if (before !== values.work) render(root.querySelector('[data-more]'), html`${more()}`);
    drawAnswer();
    saveDraft(key, { asked_on: todayOn(), values }).catch((fault) => globalThis.reportError?.(fault)); // the answer stands all the same
    if (ev?.type === 'change' && before !== values.work) root.querySelector('.verdict')?.scrollIntoView({ block: 'nearest' });
  }

  draw();
  const stops = [
    on(root, 'input', '#question', follow),
    on(root, 'change', '#question', follow),
    onStoreChange(async ({ types, pack }) => {
      if (!pack && !types.some((type) => ['tree', 'lift', 'event', 'work', 'box'].includes(type))) return;
      const fresh = await readCutFacts(params.id);
      if (closed) return;
      facts = fresh;
      if (facts) drawAnswer();
      else drawMissing();
    }),
  ];
  return () => {
    closed = true;
    for (const stop of stops) stop();
  };
}
