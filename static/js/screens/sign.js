/** Sign: the leave letter read and signed on the glass, with no signal; kept in one go and locked from then on. */

import { sameValue } from '../core/changed.js';
import { localDate, readZone } from '../core/dates.js';
import { BadInput } from '../core/errors.js';
import { leaveLetter } from '../core/leave_letter.js';
import { canonicalText } from '../core/merge.js';
import { nextVersion, termsOf } from '../core/signing.js';
import { hasInk } from '../core/strokes.js';
import { keepAwake, readPhotoFile, watchFix } from '../device.js';
import { ownZone } from '../hill/ground_facts.js';
import { putBack, todayAt } from '../hill/ground_leaves.js';
import { readLeaveFacts } from '../hill/leave_facts.js';
import { pictureUrl } from '../hill/shots.js';
import { canSign, contentSha256, readSignings } from '../hill/signings.js';
import { dropDraft, getDraft, getMeta, newId, onStoreChange, saveChanges, saveDraft, setMeta } from '../store.js';
import { ask } from '../ui/dialog.js';
import { readDraft, readOrShow } from '../ui/form.js';
import { openGlass } from '../ui/glass.js';
import { html, on, render } from '../ui/html.js';
import { icon } from '../ui/icons.js';
import { notice } from '../ui/notice.js';
import { NO_HASH, SIZES, checkPage, letterPage, paperPart, warningOf } from './sign_parts.js';

const SIZE = 'letter-size';
const FRESH_MS = 60_000; // a position older than this is another place
const AT_GATE_MS = 2 * 3_600_000; // own rule: whoever comes back later stands at the gate anew, and is told again what is open
const HALVES = /[\ud800-\udbff][\udc00-\udfff]|[\ud800-\udfff]/g;

/** As the store keeps it: what is hashed must be what is kept, also with half an emoji in a name. */
const storable = (text) => text?.replaceAll('\0', '').replace(HALVES, (found) => (found.length === 2 ? found : '\ufffd')) ?? null;

/** The zone that the day of a signature is told in. */
function zoneOf({ fields }) {
  try {
    readZone(fields.zone);
    return fields.zone;
  } catch (fault) {
    if (fault instanceof BadInput) return ownZone(); // none is told, or none that this phone knows
    throw fault;
  }
}

/** Whether the position may be read without asking whoever holds the phone now. */
async function mayReadPosition() {
  try {
    return (await navigator.permissions.query({ name: 'geolocation' })).state === 'granted';
  } catch {
    return false; // a browser that cannot tell would ask the landholder
  }
}

/**
 * Open the screen.
 * @param {Element} root
 * @param {{id: string}} params id of a leave
 * @returns {Promise<() => void>} close
 */
export async function open(root, params) {
  const key = `sign-${params.id}`;
  const [strokesKey, paperKey] = [`${key}-strokes`, `${key}-paper`]; // apart, so that a keystroke does not write them again
  let draft = (await getDraft(key)) ?? { step: 'check', values: null, typed: false };
  if (Date.now() - (draft.at ?? 0) > AT_GATE_MS) draft = { ...draft, step: 'check' };
  let strokes = (await getDraft(strokesKey)) ?? [];
  let paper = (await getDraft(paperKey)) ?? null;
  let size = Math.min(SIZES - 1, Math.max(0, Number(await getMeta(SIZE)) || 0));
  let [known, signings, today, letter, madeOn, fix] = [null, [], null, null, null, null];
  let [glass, paperUrl, stopFix, letDark] = [null, null, null, null];
  let [busy, closed] = [false, false];

  const part = (name) => root.querySelector(`[data-${name}]`);
  const keep = () => saveDraft(key, { ...draft, at: Date.now() });
  const letterOf = (some) => ({ ...leaveLetter(some.facts), terms: termsOf(some.leave.fields, some.site.fields) });

  async function read() {
    const first = await readLeaveFacts(params.id, null);
    today = first ? todayAt(first.site) : null;
    known = first && { ...first, facts: { ...first.facts, made_on: today } };
    signings = known ? await readSignings(params.id) : [];
  }

  const dropDrafts = () => Promise.all([key, strokesKey, paperKey].map((name) => dropDraft(name)));

  /** Killed between the saving and the clearing away: what lies here was signed, and must not be signed twice. */
  async function dropWhatIsSigned() {
    if (strokes.length === 0 || !signings.some(({ record }) => sameValue(record.fields.strokes, strokes))) return;
    [draft, strokes, paper] = [{ step: 'check', values: null, typed: false }, [], null];
    await dropDrafts();
  }

  function tell(name, sentence) {
    const place = part(name);
    if (!place) return;
    place.textContent = sentence ?? '';
    place.hidden = !sentence;
    if (sentence) place.scrollIntoView({ block: 'center' });
  }

  function drawPaper() {
    if (paperUrl) URL.revokeObjectURL(paperUrl);
    paperUrl = paper?.thumb ? pictureUrl(paper.thumb, 'image/jpeg') : null;
    render(part('paper'), paperPart(paper, paperUrl));
  }

  function drawTyped() {
    part('glass-place').hidden = draft.typed;
    part('typed').textContent = draft.typed ? 'Draw it with a finger instead' : 'Type the name instead of drawing it';
    part('typed-note').hidden = !draft.typed;
    part('typed-note').textContent = 'The name typed above stands as the signature. It is marked as typed, and worth less than one that is drawn.';
  }

  function drawPosition() {
    if (!part('position')) return;
    const sure = Number.isFinite(fix?.accuracy_m) ? ` to ± ${Math.max(1, Math.round(fix.accuracy_m))} m` : '';
    part('position').textContent = fix ? `this phone’s, noted with the signature${sure}` : 'not noted';
  }

  async function drawLetter() {
    letter = letterOf(known);
    madeOn = known.facts.made_on;
    const { landholder, role } = known.facts;
    const values = draft.values ?? { name: landholder?.name ?? null, role, place: null };
    render(root, letterPage(known, letter, { size, values, today }));
    glass = openGlass(part('glass-place'), {
      strokes,
      label: 'Sign here with a finger, a pen or the mouse',
      onChange: (drawn) => {
        strokes = drawn;
        tell('glass-fault', null);
        saveDraft(strokesKey, strokes).catch((fault) => notice(`Not kept: ${fault.message}`, { kind: 'trouble' }));
      },
    });
    drawTyped();
    drawPaper();
    drawPosition();
    letDark ??= await keepAwake();
    if (!stopFix && (await mayReadPosition()) && !closed) {
      stopFix = watchFix((best) => { fix = best; drawPosition(); }, () => { fix = null; drawPosition(); });
    }
  }

  async function draw() {
    glass?.close();
    glass = null;
    if (!known) {
      render(root, html`<div class="page"><div class="page-head"><h1>Sign at the gate</h1></div><div class="empty">${icon('leave')}<p>This leave is not here. It was removed, or has not come from home yet.</p><a class="button primary" href="#/ground">${icon('back')}To all sites</a></div></div>`);
    } else if (draft.step === 'letter') {
      await drawLetter();
    } else {
      render(root, checkPage(known, { signings, today, canSign: canSign() }));
    }
  }

  async function step(name) {
    draft = { ...draft, step: name };
    await keep();
    await draw();
    globalThis.scrollTo(0, 0);
    const head = root.querySelector('h1');
    head.setAttribute('tabindex', '-1');
    head.focus({ preventScroll: true });
  }

  /** The letter as it is now; true when it is another one than was read, which is then shown. */
  async function changedMeanwhile() {
    await read();
    // Read before midnight and signed after it is the same letter.
    const now = known && letterOf({ ...known, facts: { ...known.facts, made_on: madeOn } });
    if (now && canonicalText(now) === canonicalText(letter)) return false;
    await draw();
    if (!known) return true;
    root.querySelector('.changed-meanwhile').hidden = false;
    globalThis.scrollTo(0, 0);
    return true;
  }

  /** What is to be kept of one signature. */
  async function contentOf(values) {
    const at = new Date();
    const zone = zoneOf(known.site);
    const fresh = fix && at.getTime() - Date.parse(fix.fixed_at) <= FRESH_MS ? fix : null;
    const content = {
      leave: params.id,
      version: nextVersion(signings.map(({ record }) => record.fields)),
      letter,
      strokes: draft.typed ? null : strokes,
      name: storable(values.name),
      role: values.role,
      place: storable(values.place),
      lat: fresh?.lat ?? null,
      lon: fresh?.lon ?? null,
      accuracy_m: fresh?.accuracy_m ?? null,
      signed_at: at.toISOString(),
      signed_on: localDate(at.toISOString(), zone),
      zone,
      paper: paper?.sha256 ?? null,
    };
    return { ...content, content_sha256: await contentSha256(content) };
  }

  async function sign(form) {
    tell('save-fault', null);
    const values = readOrShow(form);
    if (values === null) return;
    if (!draft.typed && !hasInk(strokes)) return tell('glass-fault', 'The glass is empty. Sign on it with a finger, or type the name instead.');
    if (!canSign()) return tell('save-fault', NO_HASH);
    const warning = warningOf(known.leave.fields, today);
    const sure = await ask({
      title: 'Sign this letter?',
      text: html`${warning && html`<p class="strong">${warning}</p>`}<p>${values.name}, ${values.role}, gives the leave as it stands in the letter. Once signed it is locked; whoever changes the leave later has to have it signed anew.</p>`,
      choices: [{ value: true, label: 'Yes, sign', kind: 'primary' }],
      no: 'Not yet',
    });
    if (!sure || closed || (await changedMeanwhile())) return undefined;
    const content = await contentOf(values);
    const rec = newId();
    const photos = paper ? [{ sha256: paper.sha256, bytes: paper.bytes, type: paper.type, thumb: paper.thumb }] : [];
    const saved = await saveChanges([
      { rec, type: 'signing', set: content },
      { rec: params.id, type: 'leave', set: { form: 'signed', signed_by: content.name, ...(known.leave.fields.given_on && known.leave.fields.form !== 'asked' ? {} : { given_on: content.signed_on }) } },
    ], { photos });
    await dropDrafts();
    if (saved.photos_refused.length > 0) await saveChanges([], { photos }); // the draft held the same picture: its room is free now
    notice('Signed and saved on this phone.');
    globalThis.location.replace(`#/signed/${rec}`);
    return undefined;
  }

  async function submit(ev, form) {
    ev.preventDefault();
    if (busy) return;
    busy = true;
    try {
      await sign(form);
    } catch (fault) {
      tell('save-fault', `Not signed: ${fault.message} Everything filled in is still here.`);
    } finally {
      busy = false;
    }
  }

  async function takePaper(file) {
    tell('paper-fault', null);
    try {
      const taken = await readPhotoFile(file);
      await saveDraft(paperKey, taken);
      paper = taken;
    } catch (fault) {
      tell('paper-fault', fault.message);
      return;
    }
    if (paper.doubt) notice(paper.doubt, { kind: 'plain', stays: true });
    if (!closed) drawPaper();
  }

  function turnSize(by) {
    size = Math.min(SIZES - 1, Math.max(0, size + by));
    part('letter').className = `letter letter-size-${size}`;
    for (const button of root.querySelectorAll('[data-size]')) button.disabled = size === (button.dataset.size === '1' ? SIZES - 1 : 0);
    return setMeta(SIZE, size);
  }

  await read();
  await dropWhatIsSigned();
  await draw();
  const stops = [
    on(root, 'click', '[data-hand-over]', () => step('letter')),
    on(root, 'click', '[data-put-back]', (ev, button) => putBack(button.dataset.putBack).catch((fault) => notice(`Not saved: ${fault.message}`, { kind: 'trouble' }))),
    on(root, 'click', '[data-back]', () => step('check')),
    on(root, 'click', '[data-size]', (ev, button) => turnSize(Number(button.dataset.size))),
    on(root, 'input', '[data-form]', (ev, form) => {
      if (ev.target.type === 'file') return undefined;
      draft = { ...draft, values: readDraft(form) };
      return keep();
    }),
    on(root, 'change', 'input[type="file"]', (ev, input) => input.files[0] && takePaper(input.files[0])),
    on(root, 'click', '[data-drop-paper]', async () => { paper = null; await dropDraft(paperKey); drawPaper(); }),
    on(root, 'click', '[data-typed]', async () => {
      draft = { ...draft, typed: !draft.typed };
      drawTyped();
      tell('glass-fault', null);
      await keep();
    }),
    on(root, 'submit', '[data-form]', submit),
    onStoreChange(async () => {
      if (draft.step !== 'check' || busy) return; // what is being read stays; it is compared before it is signed
      await read();
      if (!closed && draft.step === 'check') await draw();
    }),
  ];
  return () => {
    closed = true;
    for (const stop of stops) stop();
    glass?.close();
    stopFix?.();
    letDark?.();
    if (paperUrl) URL.revokeObjectURL(paperUrl);
  };
}
