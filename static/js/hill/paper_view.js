/** A paper of a leave or consent seen large, to read its small print at the gate; a PDF is opened or saved. Works with no signal once it is kept here. */

import { getOwnBytes, getPhoto } from '../store.js';
import { holdBack } from '../ui/back_step.js';
import { on, html, render } from '../ui/html.js';
import { icon } from '../ui/icons.js';
import { here, sayHere } from '../ui/words.js';
import { isPdf, keepFromHome } from './paper_files.js';
import { bringPicture } from './photo_view.js';
import { pictureUrl } from './shots.js';

const PICTURE = 'The signed paper';

/** '340 kB', '2.1 MB'. */
export function sizeWords(bytes) {
  if (bytes === null || bytes === undefined) return null;
  return bytes < 1_000_000 ? `${Math.max(1, Math.round(bytes / 1000))} kB` : `${(bytes / 1_000_000).toFixed(1)} MB`;
}

/** A name to save it under: what the file was called, or what it is. */
export function saveName({ file_name: name }) {
  const plain = String(name ?? '').replaceAll(/[\\/:*?"<>|\u0000-\u001f]/g, ' ').trim();
  return /\.pdf$/i.test(plain) ? plain : `${plain || 'paper'}.pdf`;
}

/**
 * Open it.
 * @param {{sha256: string, media_type?: string, file_name?: string, size_bytes?: number}} paper fields of a paper record
 * @returns {Promise<void>} when it is closed
 */
export function viewPaper(paper) {
  const box = document.createElement('dialog');
  box.className = 'dialog photo-view paper-view';
  box.setAttribute('aria-labelledby', 'paper-view-title');
  document.body.append(box);
  const urls = [];
  let closed = false;
  render(box, html`<div class="sheet-head"><h2 id="paper-view-title" tabindex="-1">The paper</h2>
      <button type="button" class="button quiet" data-close>${icon('close')}Close</button></div>
    <div class="photo-frame" data-frame tabindex="0">${icon('papers')}</div>
    <p class="muted" role="status" data-picture-says></p>
    <div class="pick-row"><span data-pdf></span><button type="button" class="button hill" data-whole aria-pressed="false" hidden>${icon('plus')}Larger, to read it</button>
      <button type="button" class="button" data-ask-home hidden>${icon('sync')}Ask home again</button></div>`);
  const part = (name) => box.querySelector(`[data-${name}]`);
  const say = (text) => { part('picture-says').textContent = sayHere(text ?? ''); };

  function show({ url, text, lacking = false }) {
    if (closed) return false;
    part('ask-home').hidden = !lacking;
    part('whole').hidden = !url;
    render(part('frame'), url ? html`<img src="${url}" alt="${PICTURE}">` : html`${icon('papers')}`);
    say((text ?? '').replace('This photo', 'The paper').replace('The photo itself', 'The paper itself'));
    return true;
  }

  /** A browser shows a PDF in a page of its own, and some phones only after it was saved: both ways stand there. */
  function showPdf(bytes) {
    if (closed) return;
    urls.push(pictureUrl(bytes, 'application/pdf'));
    const name = saveName(paper);
    say([name, sizeWords(bytes.byteLength), `kept on this ${here()}`].join(' · '));
    part('ask-home').hidden = true;
    part('frame').hidden = true;
    render(part('pdf'), html`<span class="pick-row"><a class="button primary hill" href="${urls.at(-1)}" target="_blank" rel="noopener">${icon('papers')}Open the PDF</a>
      <a class="button hill" href="${urls.at(-1)}" download="${name}">${icon('down')}Save a copy</a></span>`);
  }

  async function lookAtPdf() {
    const own = await getOwnBytes(paper.sha256);
    if (own) return showPdf(own);
    say(`The paper is not on this ${here()}. Asking home for it.`);
    const got = await getPhoto(paper.sha256);
    if (got) {
      await keepFromHome(paper.sha256, { ...got, type: 'application/pdf' });
      return showPdf(got.bytes);
    }
    say(`The paper is not on this ${here()}, and home is not in reach.`);
    part('ask-home').hidden = closed;
    return undefined;
  }

  /** What home had to be asked for stays here from then on. */
  async function lookAtPicture() {
    const had = await getOwnBytes(paper.sha256);
    await bringPicture({ sha256: paper.sha256, media_type: paper.media_type ?? null }, show, urls);
    if (had || closed || !part('ask-home').hidden) return;
    const got = await getPhoto(paper.sha256);
    if (got) await keepFromHome(paper.sha256, got);
  }

  async function look() {
    try {
      await (isPdf(paper) ? lookAtPdf() : lookAtPicture());
    } catch (fault) {
      show({ url: null, text: `It cannot be shown: ${fault.message}` });
    }
  }

  function turnLarger() {
    const whole = part('frame').classList.toggle('whole');
    part('whole').setAttribute('aria-pressed', String(whole));
    if (whole) part('frame').focus(); // the arrow keys move it
  }

  return new Promise((resolve) => {
    let release = null;
    const finish = () => {
      closed = true;
      box.close();
      box.remove();
      urls.forEach((url) => URL.revokeObjectURL(url));
      release().then(resolve);
    };
    box.addEventListener('cancel', (ev) => {
      ev.preventDefault();
      finish();
    });
    on(box, 'click', '[data-close]', finish);
    on(box, 'click', '[data-whole], [data-frame] img', turnLarger);
    on(box, 'click', '[data-ask-home]', look);
    box.showModal();
    release = holdBack(finish);
    box.querySelector('#paper-view-title').focus();
    look();
  });
}
