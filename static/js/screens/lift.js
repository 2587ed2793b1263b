/** Lift: the answer as it stands, the terms, then what was really done. The answer is kept inside the record, whatever it said. */

import { askLeave, awayFromMark, besideAnswer } from '../hill/ask_leave.js';
import { BadInput } from '../core/errors.js';
import { readLeave } from '../core/leave.js';
import { cmToMm, mmToCm } from '../core/lengths.js';
import { keepOf } from '../core/may_dig.js';
import { mainGarden } from '../core/stands_at.js';
import { watchFix } from '../device.js';
import { gardenName, listGardens } from '../hill/gardens.js';
import { margin, metresBetween, ownZone, readTrees, todayOn, visitChange } from '../hill/ground_facts.js';
import { LatestFix, photoBytes, photoChange, pictureUrl, sayIfUnseen, takeShot } from '../hill/shots.js';
import { TONIGHT } from '../hill/tonight.js';
import { treePlace } from '../hill/tree_place.js';
import { dropDraft, getDraft, getRecord, listRecords, newId, recordsWhere, saveChanges, saveDraft } from '../store.js';
import { answerGrounds, answerHead, answerShort, awayLine, besideLines, cautionLine, farLine, followAnswer, knowledgeLine, termsToTick, whoseLine } from '../ui/answer.js';
import { chips, dateField, fileField, findFault, FormFault, noteField, numberField, readDraft, readForm, toggle } from '../ui/form.js';
import { html, on, render } from '../ui/html.js';
import { icon } from '../ui/icons.js';
import { notice } from '../ui/notice.js';
import { livePosition } from '../ui/position.js';
import { gardenField } from '../ui/tree_form.js';
import { sayHere, showDate, showDistance, speciesName } from '../ui/words.js';

const ASKED = ['girth_cm', 'ball_depth_cm', 'lifted_on']; // fields that must be readable, or there is no answer
const ROOTS = [
  { value: 'most', label: 'most' },
  { value: 'half', label: 'about half' },
  { value: 'few', label: 'few' },
  { value: null, label: 'not noted' },
];
const SAFETY = [
  'Lift with others or with a bar and sling: a wet ball weighs more than it looks.',
  'Keep feet and hands clear of spade, mattock and saw. On a slope stand above the ball, never below it.',
  'Stop at any cable, pipe or marker tape. Buried services are asked about before digging, not found by spade.',
  'Look for nests first. Clean boots and tools between sites.',
];

/**
 * The terms to tick. What is logged against a no is logged under a leave all the same, and its terms hold.
 * @param {object|null} found what `askLeave` gave
 */
function termsOf(found) {
  if (!found || found.verdict.answer !== 'no') return found?.verdict.keep ?? [];
  const slip = found.input.leaves.find(({ leave }) => leave === found.leave);
  return slip ? keepOf(readLeave(slip, 'leave')) : [];
}

/**
 * Open the screen.
 * @param {Element} root
 * @param {{id: string}} params id of the tree
 */
export async function open(root, params) {
  const treeId = params.id ?? params.tree;
  const [facts, tree, lifts, fixes, visits, sites] = await Promise.all([
    readTrees(null), getRecord(treeId), recordsWhere('lift', 'tree', treeId), recordsWhere('fix', 'tree', treeId), listRecords('visit'), listRecords('site'),
  ]);
  if (!tree || tree.deleted) {
    render(root, html`<div class="page"><div class="empty">${icon('trees')}<p>${sayHere('That tree is not kept on this phone.')}</p><a class="button" href="#/trees">See the trees</a></div></div>`);
    return () => {};
  }
  const { fields } = tree;
  const tag = fields.tag ?? 'this tree';
  if (lifts.length > 0) {
    render(root, html`<div class="page"><div class="page-head"><h1>Lift of ${tag}</h1></div>
      <div class="empty">${icon('spade')}<p>${tag} was lifted ${lifts[0].fields.lifted_on ? `on ${showDate(lifts[0].fields.lifted_on)}` : 'on a day not noted'}. Its lift stands on its page.</p><a class="button primary hill" href="#/tree/${treeId}">Open ${tag}</a></div></div>`);
    return () => {};
  }
  const draftKey = `lift-${treeId}`;
  const gardens = await listGardens();
  const [draft, terms, draftShots] = await Promise.all([getDraft(draftKey), getDraft(`terms-${treeId}`), getDraft(`${draftKey}-photos`)]);
  const mark = treePlace(fixes);
  let values = { kept_conditions: terms ?? null, girth_cm: mmToCm(fields.girth_mm ?? null), hole_filled: false, machine: false, ...draft };
  let shots = draftShots ?? [];
  const latest = new LatestFix();
  let trouble = null;
  let found = null;
  let refused = null; // what of the form cannot be read, in words: until it is put right there is no answer
  let knows = values.knows_no === true;
  let asking = 0;
  let closed = false;
  let live = null;
  let saved = false;
  const sight = followAnswer(root);
  const urls = [];

  /** Where the hole is: here, if one stands by the tree; else where it was marked. */
  function hereNow() {
    const own = mark ? { ...mark, of: 'mark' } : null;
    const now = latest.fix ? { lat: latest.fix.lat, lon: latest.fix.lon, accuracy_m: latest.fix.accuracy_m ?? null, of: 'here' } : null;
    if (!own || !now) return now ?? own;
    if (awayFromMark(now, own) !== null) return own; // written up later
    return (now.accuracy_m ?? Infinity) <= (own.accuracy_m ?? Infinity) ? now : own;
  }

  const dayAsked = () => (values.lifted_on && values.lifted_on !== todayOn() ? values.lifted_on : null);
  const mm = (cm) => (typeof cm === 'number' ? cmToMm(cm) : null);

  async function ask() {
    asking += 1;
    const mine = asking;
    const here = hereNow();
    const fault = findFault(root.querySelector('#lift-form'), ASKED);
    let answer = null;
    let doubt = fault;
    try {
      answer = fault || !here ? null : await askLeave({ here, site: fields.site ?? null, on: dayAsked(), species: fields.species ?? null, girth_mm: mm(values.girth_cm), depth_mm: mm(values.ball_depth_cm), machine: values.machine === true });
    } catch (unusable) {
      if (!(unusable instanceof BadInput)) throw unusable;
      doubt = unusable.message;
    }
    if (closed || saved || mine !== asking) return;
    found = answer;
    refused = doubt;
    drawAnswer(here);
    const beside = answer && (await besideAnswer(answer));
    const place = root.querySelector('[data-beside-place]');
    if (closed || found !== answer || !beside || !place) return;
    Object.assign(answer, beside);
    render(place, besideLines(answer));
  }

  function placeLine(here) {
    const sure = here.accuracy_m === null ? 'accuracy not known' : `± ${Math.max(1, Math.round(here.accuracy_m))} m`;
    const ground = found.site === null ? 'no ground of yours here' : found.away_m > 0 ? `${showDistance(found.away_m)} outside ${found.site_name}` : `on ${found.site_name}`;
    return `${here.of === 'here' ? 'Where you stand' : `At the mark of ${tag}`}, ${sure}, ${ground}`;
  }

  const needsWord = () => !refused && (!found || found.verdict.answer === 'no');

  function drawAnswer(here) {
    const place = root.querySelector('[data-answer-place]');
    if (!place) return;
    const keep = termsOf(found);
    const beside = found && html`<div class="beside" data-beside-place>${besideLines(found)}</div>`; // below the reasons, where there are some
    render(place, found
      ? html`<div aria-live="polite" aria-atomic="true">${answerHead(found.verdict)}</div>
          <p class="strong" data-place-line>${placeLine(here)}</p>
          ${here.of === 'mark' && whoseLine(found.verdict, tag)}
          ${found.verdict.answer === 'yes' && beside}
          ${found.far ? farLine(found.far) : answerGrounds(found.verdict, found.asked, found.contacts)}
          ${found.verdict.answer !== 'yes' && beside}
          ${cautionLine(found.verdict.caution)}
          ${found.unread.map((text) => html`<p class="state ask">${icon('warn')}${text}</p>`)}
          <p class="muted">${knowledgeLine(found)}</p>`
      : refused
        ? html`<div class="empty" role="alert" data-refused>${icon('warn')}<p class="strong">${refused}</p><p>Put that right first: until then there is no answer.</p></div>`
        : html`<div class="empty" data-no-answer>${icon('fix')}<p>No position is known for ${tag} yet, so there is no answer.</p></div>`);
    render(root.querySelector('[data-short]'), answerShort(found?.verdict ?? null));
    sight.look();
    // While there is no answer the ticks already made stay where they are.
    if (found) render(root.querySelector('[data-terms]'), html`<div class="stack">${found.verdict.answer === 'no' && keep.length > 0 && html`<p class="hint">Logged all the same, it stands under this leave, and its terms hold.</p>`}${termsToTick(keep, values.kept_conditions)}</div>`);
    const gate = root.querySelector('[data-gate]');
    gate.hidden = !needsWord();
    gate.querySelector('span.gate-word').textContent = found
      ? 'I know this says no: log what was done'
      : 'I know there is no answer: log what was done';
  }

  function photoStrip() {
    return html`${shots.map((shot, i) => {
      const url = shot.thumb ? pictureUrl(shot.thumb) : null;
      if (url) urls.push(url);
      const words = shot.shows === 'hole' ? 'the filled hole' : `Photo ${i + 1}`;
      return html`<figure data-shows="${shot.shows ?? ''}">${url ? html`<img src="${url}" alt="${words}">` : icon('photo')}${shot.shows === 'hole' && html`<figcaption>the hole</figcaption>`}</figure>`;
    })}`;
  }

  function draw() {
    render(root, html`<div class="page lift">
      <div class="page-head"><a class="back" href="#/tree/${treeId}">${icon('back')}${tag}</a><h1>Lift of ${tag}</h1>
        <p class="under">${fields.tag ? '' : 'A tree without a tag, '}${speciesName(facts.pack, fields.species)}${fields.site ? `, ${facts.sites.get(fields.site) ?? ''}` : ''}</p></div>
      <div class="cols"><div>
        <section class="sheet"><h2>Before the spade goes in</h2><div data-position></div><div data-away></div><div class="stack" data-answer-place></div></section>
        <details class="fold caution-list" open><summary>Care on the hill</summary><ul class="plain-list">${SAFETY.map((line) => html`<li>${line}</li>`)}</ul></details>
      </div>
      <form novalidate id="lift-form" class="sheet"><h2>What was done</h2>
        <div data-terms></div>
        ${numberField({ name: 'ball_diameter_cm', label: 'Root ball, across', unit: 'cm', value: values.ball_diameter_cm, step: 5, start: 40, min: 1, max: 400, whole: false })}
        ${numberField({ name: 'ball_depth_cm', label: 'Root ball, deep', unit: 'cm', value: values.ball_depth_cm, step: 5, start: 25, min: 1, max: 300, whole: false })}
        ${chips({ name: 'roots_kept', label: 'Fine roots kept', value: values.roots_kept ?? null, options: ROOTS })}
        ${gardens.length > 1 && gardenField(values.stands_at ?? mainGarden(gardens), gardens, gardenName, 'It goes to')}
        ${numberField({ name: 'girth_cm', label: 'Girth', unit: 'cm', value: values.girth_cm, step: 1, start: 20, min: 0.1, max: 1000, whole: false })}
        ${toggle({ name: 'machine', label: 'Dug with a machine', value: values.machine === true })}
        ${toggle({ name: 'hole_filled', label: 'The hole is filled and trodden in', value: values.hole_filled === true })}
        ${fileField({ name: 'hole_photo', label: 'Photo of the filled hole', capture: true, kind: 'hill' })}
        ${dateField({ name: 'lifted_on', label: 'Lifted on', value: values.lifted_on ?? todayOn(), required: true, today: true, past: true })}
        ${noteField({ name: 'note', label: 'Note', value: values.note ?? null })}
        <div class="photos" data-photos>${photoStrip()}</div>
        <div data-gate class="gate" hidden><label class="toggle"><input type="checkbox" role="switch" name="knows_no" data-label="Log it all the same" ${knows ? html`checked` : ''}><span class="toggle-mark" aria-hidden="true"></span><span class="gate-word">I know this says no: log what was done</span></label>
          <p class="hint">The log must be true. What the answer was is kept with it.</p><p class="fault" role="alert" hidden data-gate-fault></p></div>
      </form></div>
      <div class="actions stuck"><div class="short-place" data-short></div>
        ${fileField({ name: 'photo', label: 'Take photo', capture: true, kind: 'hill' })}
        <button type="submit" form="lift-form" class="button primary hill" data-save-lift>${icon('spade')}Save lift</button>
      </div></div>`);
    live = livePosition(root.querySelector('[data-position]'));
    showPosition();
    drawAnswer(hereNow());
  }

  function showPosition() {
    live.show(latest.fix, trouble);
    render(root.querySelector('[data-away]'), html`${mark && awayLine(awayFromMark(latest.fix, mark), tag)}`);
  }

  async function keepDraft() {
    const form = root.querySelector('#lift-form');
    if (!form) return;
    const before = JSON.stringify([values.girth_cm, values.ball_depth_cm, values.machine, values.lifted_on]);
    values = { ...values, ...readDraft(form) }; // terms that are not on the page just now stay as they were ticked
    knows = values.knows_no === true;
    await saveDraft(draftKey, values);
    if (JSON.stringify([values.girth_cm, values.ball_depth_cm, values.machine, values.lifted_on]) !== before) await ask();
  }

  async function keepShots(next) {
    shots = next;
    render(root.querySelector('[data-photos]'), photoStrip());
    await saveDraft(`${draftKey}-photos`, shots);
  }

  async function takePhoto(ev, input) {
    const [file] = input.files;
    if (!file) return;
    try {
      const shot = await takeShot(file, latest);
      const taken = input.name === 'hole_photo' ? { ...shot, shows: 'hole' } : shot;
      await keepShots([...shots, taken]);
      sayIfUnseen(root.querySelector('[data-photos]'), shots.length, async () => {
        if (saved || !shots.includes(taken)) throw new Error('it is saved already.');
        await keepShots(shots.filter((one) => one !== taken));
      });
    } catch (fault) {
      notice(fault.message, { kind: 'trouble' });
    } finally {
      input.value = '';
    }
  }

  function readAll(form) {
    const read = readForm(form);
    if (needsWord() && !knows) {
      const fault = root.querySelector('[data-gate-fault]');
      fault.textContent = found ? 'The answer is no. Say that you know, then it can be logged.' : 'There is no answer. Say that you know, then it can be logged.';
      fault.hidden = false;
      form.elements.knows_no.focus();
      throw new FormFault('knows_no', '');
    }
    return read;
  }

  async function changesToSave(read) {
    const here = hereNow();
    const site = found?.site && found.away_m <= margin(here) ? found.site : (fields.site ?? found?.site ?? null);
    const siteRecord = sites.find((one) => one.id === site) ?? null;
    const visit = visitChange(visits, siteRecord, read.lifted_on);
    const today = read.lifted_on === todayOn();
    const fromTree = latest.fix && mark ? Math.round(metresBetween(latest.fix, mark)) : null; // how far off the phone was
    const lift = { rec: newId(), type: 'lift', set: {
      tree: treeId, site, leave: found?.leave ?? null,
      lifted_at: today ? new Date().toISOString() : null, lifted_on: read.lifted_on, zone: siteRecord?.fields.zone ?? ownZone(),
      lat: here?.lat ?? null, lon: here?.lon ?? null, accuracy_m: here?.accuracy_m ?? null,
      girth_mm: cmToMm(read.girth_cm), ball_diameter_mm: cmToMm(read.ball_diameter_cm), ball_depth_mm: cmToMm(read.ball_depth_cm),
      roots_kept: read.roots_kept, machine: read.machine, hole_filled: read.hole_filled ? true : null, kept_conditions: values.kept_conditions ?? null,
      answer: found
        ? {
          verdict: found.verdict, input: found.input, asked_at: found.asked_at, knew_no: found.verdict.answer === 'no', season: found.season, open: found.open, ground: found.ground, from_tree_m: fromTree,
          ...(found.verdict.answer === 'no' && { keep: termsOf(found) }), // the terms shown to tick; the verdict has none
          // Where several sites had a say, what each of them said belongs to the evidence.
          ...(found.asked.length > 1 && { asked: found.asked.map((one) => ({ site: one.site, site_name: one.site_name, verdict: one.verdict, input: one.input, ground: one.ground })) }),
        }
        : { verdict: null, input: null, asked_at: new Date().toISOString(), knew_no: true, from_tree_m: fromTree },
      note: read.note } };
    const changes = [lift];
    if (visit.change) changes.push(visit.change);
    for (const shot of shots) {
      const { type, set } = photoChange(shot, { tree: treeId, site, visit: visit.id });
      changes.push({ rec: newId(), type, set: shot.shows ? { ...set, shows: shot.shows } : set });
    }
    return changes;
  }

  async function save(ev, form) {
    ev.preventDefault();
    const button = root.querySelector('[data-save-lift]');
    try {
      values = { ...values, ...readDraft(form) };
      await ask(); // once more, so that the answer kept is that of this moment's knowledge
      if (found && !found.season) Object.assign(found, await besideAnswer(found)); // a fix may have come between
      const read = readAll(form);
      button.disabled = true;
      const changes = await changesToSave(read);
      const stands = standsChange(read);
      const { photos_refused: photosRefused } = await saveChanges([...changes, ...stands], { photos: shots.map(photoBytes) });
      saved = true;
      await Promise.all([dropDraft(draftKey), dropDraft(`${draftKey}-photos`), dropDraft(`terms-${treeId}`)]);
      drawSaved(changes, stands, photosRefused);
    } catch (fault) {
      button.disabled = false;
      if (!(fault instanceof FormFault)) notice(`Not saved: ${fault.message}`, { kind: 'trouble' });
    }
  }

  /** Where it stands from now on; the main garden needs no word, a tree stands there unless told otherwise. */
  function standsChange({ stands_at: garden = null }) {
    const told = garden === mainGarden(gardens) ? null : garden;
    return gardens.length > 1 && told !== (fields.stands_at ?? null) ? [{ rec: treeId, type: 'tree', set: { stands_at: told } }] : [];
  }

  function drawSaved(changes, stands, photosRefused) {
    const holeFilled = changes[0].set.hole_filled === true;
    render(root, html`<div class="page lift done-page">
      <div class="page-head"><h1 tabindex="-1" data-saved>${sayHere('Saved on this phone')}</h1><p class="under">${fields.tag ? html`<span class="tag">${fields.tag}</span>` : 'The tree'} is lifted. Aftercare starts when home has it.</p>
        ${holeFilled ? '' : html`<p class="state ask" data-hole-open>${icon('warn')}The hole is not noted as filled.</p>`}${photosRefused.map((one) => html`<p class="fault">${one.text}</p>`)}</div>
      <section class="sheet"><h2>Tonight</h2><ul class="plain-list">${TONIGHT.map((line) => html`<li>${line}</li>`)}</ul></section>
      <div class="actions stuck">
        <button type="button" class="button hill" data-undo-lift>${icon('undo')}Undo</button>
        <a class="button primary hill" href="#/tree/${treeId}">${icon('trees')}Open ${tag}</a>
      </div></div>`);
    root.querySelector('[data-saved]').focus({ preventScroll: true });
    globalThis.scrollTo(0, 0);
    root.querySelector('[data-undo-lift]').addEventListener('click', async () => {
      try {
        const back = stands.map(({ rec, type }) => ({ rec, type, set: { stands_at: fields.stands_at ?? null } }));
        await saveChanges([...changes.map(({ rec, type }) => ({ rec, type, set: { deleted: true } })), ...back], {});
        saved = false;
        draw();
        await Promise.all([ask(), saveDraft(draftKey, values), saveDraft(`${draftKey}-photos`, shots)]);
        notice('The lift is taken back. What you had typed is here again.', { kind: 'plain' });
      } catch (fault) {
        notice(`That could not be taken back: ${fault.message}`, { kind: 'trouble' });
      }
    });
  }

  const trying = (work) => async (...args) => {
    try {
      await work(...args);
    } catch (fault) {
      notice(fault.message, { kind: 'trouble' });
    }
  };

  let asked = null;
  draw();
  const stops = [
    watchFix(trying(async (got) => {
      latest.take(got);
      if (saved) return;
      showPosition();
      const same = asked && asked.lat === got.lat && asked.lon === got.lon && asked.accuracy_m === got.accuracy_m;
      asked = got;
      if (!same) await ask();
    }), (said) => {
      trouble = said;
      if (saved) return;
      showPosition();
      if (!found) drawAnswer(hereNow());
    }),
    on(root, 'input', '#lift-form', trying((ev) => (ev.target.type === 'file' ? null : keepDraft()))),
    on(root, 'change', 'input[name="photo"], input[name="hole_photo"]', takePhoto),
    on(root, 'submit', '#lift-form', save),
    on(root, 'click', '[data-to-answer]', () => root.querySelector('[data-answer-place]').scrollIntoView({ block: 'start' })),
  ];
  trying(ask)();
  return () => {
    closed = true;
    sight.stop();
    stops.forEach((stop) => stop());
    urls.forEach((url) => URL.revokeObjectURL(url));
  };
}
