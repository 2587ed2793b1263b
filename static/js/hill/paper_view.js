/** The photo of a leave's paper seen large, to read its small print at the gate. Works with no signal where the photo is kept here. */

import { on, html, render } from '../ui/html.js';
import { icon } from '../ui/icons.js';
import { sayHere } from '../ui/words.js';
import { bringPicture } from './photo_view.js';
import { pictureUrl } from './shots.js';

const PICTURE = 'The signed paper';

/**
 * Open it.
 * @param {{sha256: string, bytes?: ArrayBuffer, type?: string}} paper bytes: of one that was just taken and is not saved yet
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
    <div class="photo-frame" data-frame tabindex="0">${icon('photo')}</div>
    <p class="muted" role="status" data-picture-says></p>
    <div class="pick-row"><button type="button" class="button hill" data-whole aria-pressed="false" hidden>${icon('plus')}Larger, to read it</button>
      <button type="button" class="button" data-ask-home hidden>${icon('sync')}Ask home again</button></div>`);
  const part = (name) => box.querySelector(`[data-${name}]`);

  function show({ url, text, lacking = false }) {
    if (closed) return false;
    part('ask-home').hidden = !lacking;
    part('whole').hidden = !url;
    render(part('frame'), url ? html`<img src="${url}" alt="${PICTURE}">` : html`${icon('photo')}`);
    part('picture-says').textContent = sayHere(text ?? '').replace('This photo', 'The paper').replace('The photo itself', 'The paper itself');
    return true;
  }

  async function look() {
    try {
      if (paper.bytes) {
        urls.push(pictureUrl(paper.bytes, paper.type));
        show({ url: urls.at(-1), text: null });
      } else {
        await bringPicture({ sha256: paper.sha256, media_type: null }, show, urls);
      }
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
    const finish = () => {
      closed = true;
      box.close();
      box.remove();
      urls.forEach((url) => URL.revokeObjectURL(url));
      resolve();
    };
    box.addEventListener('cancel', (ev) => {
      ev.preventDefault();
      finish();
    });
    on(box, 'click', '[data-close]', finish);
    on(box, 'click', '[data-whole], [data-frame] img', turnLarger);
    on(box, 'click', '[data-ask-home]', look);
    box.showModal();
    box.querySelector('#paper-view-title').focus();
    look();
  });
}
