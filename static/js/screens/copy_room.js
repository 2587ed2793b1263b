/** The part of Copy and room that shows what photos take of this phone, and lets go of what home keeps twice. */

import { roomFor } from '../core/room.js';
import { dropSpare, photoSizes, photoSums } from '../store/room.js';
import { onStoreChange } from '../store.js';
import { HomeError } from '../store/home.js';
import { learnKeptTwice } from '../sync/kept_twice.js';
import { html, on, render } from '../ui/html.js';
import { icon } from '../ui/icons.js';
import { notice } from '../ui/notice.js';
import { count, here, showSize } from '../ui/words.js';

const MANY = 1000;
const NOTHING_SPARE = 'Nothing can go now: what home does not keep twice stays here.';

/** How much room is left, in words. @param {{is_short: boolean, photos_left: number|null}} room @param {number|null} free bytes */
export function leftWords(room, free) {
  if (free === null || room.photos_left === null) return 'not known';
  return `${showSize(free)}: ${room.photos_left > MANY ? `more than ${MANY} photos` : `about ${count(room.photos_left, 'photo', 'photos')}`}`;
}

/**
 * Open the part.
 * @param {Element} place
 * @returns {Promise<() => void>} close
 */
export async function openRoom(place) {
  let closed = false;
  let drawing = 0;

  async function draw() {
    drawing += 1;
    const mine = drawing;
    const [sums, sizes, estimate] = await Promise.all([photoSums(), photoSizes(), navigator.storage?.estimate?.() ?? {}]);
    if (closed || mine !== drawing) return;
    const { quota = null, usage = null } = estimate;
    const room = roomFor({ quota, usage }, sizes);
    const free = quota === null || usage === null ? null : Math.max(0, quota - usage);
    const rest = usage === null ? null : Math.max(0, usage - sums.all.bytes - sums.small.bytes);
    const fact = (name, value, under = null) => html`<dt>${name}</dt><dd>${value}${under && html`<br><span class="muted">${under}</span>`}</dd>`;
    render(place, html`<h2>Room on this ${here()}</h2>
      ${room.is_short && html`<p class="state ask">${icon('warn')}Room is getting short</p>`}
      <dl class="facts">
        ${fact('Full pictures', sums.all.count === 0 ? 'none' : showSize(sums.all.bytes), sums.all.count > 0 && `${count(sums.all.count, 'picture', 'pictures')}${sums.unsent.count > 0 ? `, of them ${sums.unsent.count} not at home yet` : ''}`)}
        ${fact('Small pictures', sums.small.count === 0 ? 'none' : `about ${showSize(sums.small.bytes)}`)}
        ${fact('Words, maps and the app', rest === null ? 'not known' : `about ${showSize(rest)}`)}
        ${fact('Left, as the browser tells it', leftWords(room, free))}</dl>
      ${sums.spare.count > 0
        ? html`<p>Home keeps ${count(sums.spare.count, 'full picture', 'full pictures')} twice: in the log and in a backup. They can go from this ${here()}; the small pictures stay, and each full one can be fetched again where home is in reach.</p>
          <div class="actions"><button type="button" class="button" data-drop-spare>${icon('box')}Make room: ${showSize(sums.spare.bytes)}</button></div>`
        : html`<p>${NOTHING_SPARE}</p><div class="actions"><button type="button" class="button" data-ask-twice>${icon('sync')}Ask home what it keeps twice</button></div>`}
      <p class="muted">Words never go, nor does a photo that home lacks, nor a paper of a leave. A picture goes only once a backup at home has it. Keep those backups: a picture that went from here is not in older ones.</p>`);
  }

  const trying = (run) => async () => {
    try {
      await run();
    } catch (fault) {
      notice(fault instanceof HomeError && fault.code === 'away' ? 'Home is not in reach, so it is not known what it keeps twice.' : fault.message, { kind: 'trouble' });
    }
  };
  const stops = [
    onStoreChange(() => draw().catch((fault) => globalThis.reportError?.(fault))),
    on(place, 'click', '[data-drop-spare]', trying(async () => {
      const gone = await dropSpare();
      notice(gone.count === 0 ? NOTHING_SPARE : `${count(gone.count, 'full picture', 'full pictures')} removed here: ${showSize(gone.bytes)}. Home keeps them twice.`);
    })),
    on(place, 'click', '[data-ask-twice]', trying(async () => {
      await learnKeptTwice({ now: true });
      const { spare } = await photoSums();
      notice(spare.count === 0 ? NOTHING_SPARE : `Home keeps ${count(spare.count, 'full picture', 'full pictures')} twice.`, { kind: 'plain' });
    })),
  ];
  await draw();
  return () => {
    closed = true;
    for (const stop of stops) stop();
  };
}
