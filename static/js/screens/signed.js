/** Signed: one version of a letter as it was signed, whether it still stands, and what to do with it next. */

import { groundOutline } from '../core/ground_outline.js';
import { hashGroups } from '../core/signing.js';
import { viewPaper } from '../hill/paper_view.js';
import { pictureUrl } from '../hill/shots.js';
import { readSigning, readSignings } from '../hill/signings.js';
import { getPhoto, getRecord, getThumb, onStoreChange, saveChanges } from '../store.js';
import { html, on, render } from '../ui/html.js';
import { icon } from '../ui/icons.js';
import { letterMarkup, signatureMarkup, sketchMarkup } from '../ui/letter.js';
import { notice } from '../ui/notice.js';
import { changedSince, signingState } from '../ui/signed_list.js';
import { stateMark } from '../ui/state.js';
import { NOT_KNOWN, showDate, showInstant } from '../ui/words.js';

const fact = (name, value) => html`<dt>${name}</dt><dd>${value || NOT_KNOWN}</dd>`;

function positionWords({ lat, lon, accuracy_m: accuracy }) {
  if (!Number.isFinite(lat) || !Number.isFinite(lon)) return 'not noted';
  return `${lat.toFixed(5)}, ${lon.toFixed(5)}${Number.isFinite(accuracy) ? `, ± ${Math.max(1, Math.round(accuracy))} m` : ', how surely is not known'}`;
}

/** The sketch of the ground as it was when it was signed. */
function sketchOf(letter) {
  const terms = letter?.terms;
  try {
    const outline = groundOutline(terms?.area ?? terms?.boundary ?? null);
    if (terms && !outline) return html`<p class="muted">No boundary of the ground was drawn when this was signed.</p>`;
    return sketchMarkup(outline, 'the ground as it was signed');
  } catch {
    return null; // an altered letter may hold anything; its words are shown all the same
  }
}

function troublePart({ record, signed, intact }) {
  if (intact === null) return html`<p class="caution">${icon('warn')}<span>This page cannot check the letter: that needs the secure address (https) of home.</span></p>`;
  if (intact) return null;
  const disputed = Object.keys(record.conflicts).length > 0;
  return html`<p class="caution bad">${icon('no')}<span>Altered after signing. ${signed ? 'Below is the letter as it was signed; what was written to it later does not count.' : 'Nothing that was kept of it fits its seal: it may not be what was signed.'}
    ${disputed && html`<a href="#/sync">See what two devices wrote</a>`}</span></p>`;
}

function paperPart(fields, url) {
  if (!fields.paper) return null;
  return html`<section class="sheet"><h2>The paper beside it</h2>${url
    ? html`<button type="button" class="paper-open" data-paper-large aria-label="See the paper large"><img class="paper" src="${url}" alt="The signed paper"></button>`
    : html`<p class="muted">The picture is not on this phone.</p>`}</section>`;
}

function nextPart({ record, differs }, { isNewest, leave, version }) {
  if (record.deleted || !leave) return null;
  const again = isNewest && differs.length > 0;
  return html`<section class="sheet"><h2>What to do next</h2><ol class="numbered">
      <li>Sync with home. Then the letter can be printed as a PDF, with the signature.</li>
      <li>Give the landholder a copy, and keep one with you when you dig.</li></ol>
    <div class="actions"><a class="button hill" href="#/papers?leave=${leave.id}&amp;kind=signed&amp;signing=${record.id}">${icon('papers')}${`Version ${version ?? NOT_KNOWN} as a paper`}</a>
      ${again && html`<a class="button hill primary" href="#/sign/${leave.id}">${icon('sign')}Sign the new version</a>`}</div></section>`;
}

/**
 * Open the screen.
 * @param {Element} root
 * @param {{id: string}} params id of a signing
 * @returns {Promise<() => void>} close
 */
export async function open(root, params) {
  let [one, all, leave, url] = [null, [], null, null];
  let closed = false;

  async function picture(sha256) {
    if (!sha256) return null;
    const got = (await getThumb(sha256)) ?? (await getPhoto(sha256));
    return got && pictureUrl(got.bytes, got.type);
  }

  async function read() {
    one = await readSigning(params.id);
    const leaveId = one && (one.signed ?? one.record.fields).leave;
    leave = leaveId ? await getRecord(leaveId) : null;
    all = leave ? await readSignings(leave.id) : [];
  }

  async function draw() {
    if (url) URL.revokeObjectURL(url);
    url = null;
    if (!one) {
      render(root, html`<div class="page"><div class="page-head"><h1>Signed letter</h1></div><div class="empty">${icon('sign')}<p>This letter is not here. It has not come from home yet.</p><a class="button primary" href="#/ground">${icon('back')}To all sites</a></div></div>`);
      return;
    }
    const { record, signed } = one;
    const fields = signed ?? record.fields;
    const isNewest = !all.some((other) => (other.signed ?? other.record.fields).version > fields.version);
    url = await picture(fields.paper);
    if (closed) return;
    const state = record.deleted ? { word: 'removed', kind: 'quiet' } : signingState(one, isNewest);
    render(root, html`<div class="page signed"><div class="page-head"><a class="back" href="${leave ? `#/leave/${leave.id}` : '#/ground'}">${icon('back')}The leave</a>
        <h1>Signed letter, version ${fields.version ?? NOT_KNOWN}</h1><p>${stateMark(state)}</p></div>
      ${troublePart(one)}${isNewest && !record.deleted && changedSince(one.differs)}
      ${nextPart(one, { isNewest, leave, version: fields.version })}
      <div class="cols wide-first"><div><article class="letter letter-size-0">${letterMarkup(fields.letter)}${sketchOf(fields.letter)}
          <h3>Signed</h3>${signatureMarkup(fields.strokes, fields.name)}<p>${fields.name ?? NOT_KNOWN}, ${fields.role ?? 'as what is not told'}<br>${[fields.place, showDate(fields.signed_on)].filter(Boolean).join(', ')}</p></article></div>
        <div>${paperPart(fields, url)}
          <section class="sheet"><h2>What proves it</h2><dl class="facts">${fact('Version', fields.version)}${fact('Signed by', fields.name)}${fact('As what', fields.role)}
              ${fact('Place', fields.place)}${fact('Position', positionWords(fields))}${fact('Day there', showDate(fields.signed_on))}${fact('By this clock', showInstant(fields.signed_at))}</dl>
            <p>Its seal (SHA-256) is reckoned from every word, stroke and date above. If one of them were changed, the seal would not fit any more.</p>
            <p class="hash" aria-label="Seal of the letter">${hashGroups(fields.content_sha256).map((group) => html`<span>${group}</span> `)}</p>
            <div class="actions">${record.deleted
              ? html`<button type="button" class="button" data-put-back>${icon('undo')}Put it back</button>`
              : html`<button type="button" class="button quiet" data-remove>${icon('bin')}Remove, signed by mistake</button>`}</div></section></div></div></div>`);
  }

  /** One after the other: what was read first must not be drawn last. */
  let drawn = Promise.resolve();
  function reread() {
    drawn = drawn.then(async () => {
      if (closed) return;
      await read();
      if (!closed) await draw();
    }).catch((fault) => notice(fault.message, { kind: 'trouble' }));
    return drawn;
  }

  /** Removed, and where nothing else signed stands the leave is spoken again; both are taken back as one. */
  async function remove() {
    const others = all.filter(({ record, intact }) => record.id !== params.id && intact);
    const wasSigned = leave && !leave.deleted && leave.fields.form === 'signed' && others.length === 0;
    const set = (deleted, form) => saveChanges([
      { rec: params.id, type: 'signing', set: { deleted } },
      ...(wasSigned ? [{ rec: leave.id, type: 'leave', set: { form } }] : []),
    ]);
    try {
      await set(true, 'spoken');
      notice(wasSigned ? 'Removed. The leave counts as spoken only.' : 'Removed.', { undoWords: 'Undo the removal', undo: () => set(false, 'signed'), backOnPage: true });
    } catch (fault) {
      notice(`Not saved: ${fault.message}`, { kind: 'trouble' });
    }
  }

  /** Put back; a leave made spoken by the removal has its signature again, if nothing of it was changed since. */
  async function putBack() {
    const stands = leave && !leave.deleted && one.intact && one.differs.length === 0;
    try {
      await saveChanges([
        { rec: params.id, type: 'signing', set: { deleted: false } },
        ...(stands ? [{ rec: leave.id, type: 'leave', set: { form: 'signed' } }] : []),
      ]);
      notice('Put back.');
    } catch (fault) {
      notice(`Not saved: ${fault.message}`, { kind: 'trouble' });
    }
  }

  const stopListening = onStoreChange(reread); // first, so that nothing saved while the page opens goes unseen
  drawn = read().then(draw);
  await drawn;
  const stops = [
    stopListening,
    on(root, 'click', '[data-remove]', remove),
    on(root, 'click', '[data-put-back]', putBack),
    on(root, 'click', '[data-paper-large]', async () => {
      await viewPaper({ sha256: (one.signed ?? one.record.fields).paper });
      if (!closed) root.querySelector('[data-paper-large]')?.focus();
    }),
  ];
  return () => {
    closed = true;
    for (const stop of stops) stop();
    if (url) URL.revokeObjectURL(url);
  };
}
