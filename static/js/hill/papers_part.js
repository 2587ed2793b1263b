/** The papers on the page of a leave or a consent: photographed, chosen, seen large, taken off; each is saved at once. */

import { isKeptHere, saveChange } from '../store.js';
import { fileField } from '../ui/form.js';
import { html, on, render } from '../ui/html.js';
import { icon } from '../ui/icons.js';
import { notice } from '../ui/notice.js';
import { here, showDate } from '../ui/words.js';
import { bringPapers, isPdf, keepPaper, readPaperFile, readPapers } from './paper_files.js';
import { sizeWords, viewPaper } from './paper_view.js';
import { Thumbs } from './shots.js';

/** What a paper is called in the list and aloud. */
function paperName({ fields, signed }, n) {
  if (signed) return `Signed letter, version ${signed.version ?? 'not known'}`;
  return fields.file_name || (isPdf(fields) ? `PDF ${n}` : `Paper ${n}`);
}

function paperEntry(paper, i, all) {
  const { fields, signed, here: isHere } = paper;
  const name = paperName(paper, all.length - i);
  const under = [signed && `with the signature of ${signed.name ?? 'a name not told'}`, isPdf(fields) ? 'PDF' : 'picture', sizeWords(fields.size_bytes), fields.added_on && `added ${showDate(fields.added_on)}`, !isHere && `not on this ${here()} yet`].filter(Boolean).join(' · ');
  return html`<li class="paper-row"><button type="button" class="entry" data-paper="${i}" aria-label="See it large: ${name}">
      <span class="paper-thumb" data-thumb="${isPdf(fields) ? '' : fields.sha256}">${icon(isPdf(fields) ? 'papers' : 'photo')}</span>
      <span class="entry-main"><span class="entry-title paper-name">${name}</span><span class="entry-under">${under}</span></span></button>
    ${!signed && html`<button type="button" class="button" data-paper-off="${i}" aria-label="Take it off: ${name}">${icon('bin')}</button>`}</li>`;
}

/** The papers photographed while a version was signed: they belong to the signature, and are not taken off here. */
function signedPapers(signings, papers) {
  const known = new Set(papers.map(({ fields }) => fields.sha256));
  const read = signings.map(({ record, signed }) => signed ?? record.fields).filter(({ paper }) => paper && !known.has(paper));
  return Promise.all(read.map(async (signed) => ({ id: null, fields: { sha256: signed.paper }, signed, here: await isKeptHere(signed.paper) })));
}

/**
 * Open the part.
 * @param {Element} place emptied
 * @param {{of: {leave: string}|{consent: string}, old?: () => string|null, signings?: () => object[], today: () => string,
 *   empty: () => string}} what old: hash of the photo that an older leave names itself; signings: of the leave, as `readSignings`
 *   gives them; empty: what to say where there is none
 * @returns {Promise<{redraw: () => Promise<void>, close: () => void}>}
 */
export async function openPapersPart(place, { of, old = () => null, signings = () => [], today, empty }) {
  const thumbs = new Thumbs();
  let papers = [];
  let closed = false;

  // Drawn once: while a person looks for a file, the page may be told of news, and a picker that is drawn anew tells nobody what was picked.
  render(place, html`<section class="sheet"><h2>Papers</h2><div data-paper-list></div>
    <form novalidate class="field"><div class="pick-row">${fileField({ name: 'take', label: 'Photograph a paper', capture: true })}
      ${fileField({ name: 'choose', label: 'Choose a picture or a PDF', accept: 'image/*,application/pdf,.pdf', iconName: 'papers' })}</div>
    <p class="fault" role="alert" hidden></p></form></section>`);

  async function redraw() {
    const kept = await readPapers(of, old());
    papers = [...kept, ...(await signedPapers(signings(), kept))];
    if (closed) return;
    const list = place.querySelector('[data-paper-list]');
    render(list, papers.length === 0 ? html`<p class="muted">${empty()}</p>` : html`<ul class="entries">${papers.map(paperEntry)}</ul>`);
    await thumbs.show(place);
  }

  function fault(sentence) {
    const said = place.querySelector('.fault');
    said.textContent = sentence;
    said.hidden = false;
  }

  async function take(input) {
    const [file] = input.files;
    if (!file) return;
    place.querySelector('.fault').hidden = true;
    try {
      const paper = await readPaperFile(file);
      const rec = await keepPaper(paper, of, today());
      notice('The paper is saved on this phone.', { undoWords: 'Undo the paper', undo: () => saveChange({ rec, type: 'paper', set: { deleted: true } }) });
      if (paper.doubt) notice(paper.doubt, { kind: 'plain', stays: true });
      await redraw();
    } catch (trouble) {
      if (!closed) fault(trouble.message);
    }
    input.value = '';
  }

  async function takeOff({ id, fields }) {
    const [change, back] = id === null
      ? [{ rec: of.leave, type: 'leave', set: { paper: null } }, { rec: of.leave, type: 'leave', set: { paper: fields.sha256 } }]
      : [{ rec: id, type: 'paper', set: { deleted: true } }, { rec: id, type: 'paper', set: { deleted: false } }];
    try {
      await saveChange(change);
      notice('The paper is taken off.', { undoWords: 'Put it back', undo: () => saveChange(back) });
    } catch (trouble) {
      notice(`Not saved: ${trouble.message}`, { kind: 'trouble' });
    }
  }

  const stops = [
    on(place, 'change', 'input[type="file"]', (ev, input) => take(input)),
    on(place, 'click', '[data-paper]', async (ev, button) => {
      await viewPaper(papers[Number(button.dataset.paper)].fields);
      if (!closed) place.querySelector(`[data-paper="${button.dataset.paper}"]`)?.focus();
    }),
    on(place, 'click', '[data-paper-off]', (ev, button) => takeOff(papers[Number(button.dataset.paperOff)])),
  ];
  await redraw();
  bringPapers(papers).then((came) => came > 0 && !closed && redraw(), (fault) => globalThis.reportError?.(fault));
  return {
    redraw,
    close() {
      closed = true;
      for (const stop of stops) stop();
      thumbs.close();
    },
  };
}
