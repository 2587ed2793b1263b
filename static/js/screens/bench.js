/** The round sheet for the bench: chosen by place and days, made at home, saved as a PDF or shown to be printed. */

import { listGardens, gardenName } from '../hill/gardens.js';
import { listSites } from '../hill/ground_facts.js';
import { fetchSheet, readSheet } from '../hill/papers_home.js';
import { getPack } from '../store.js';
import { chips, readForm } from '../ui/form.js';
import { handOver } from '../ui/hand_over.js';
import { html, on, render } from '../ui/html.js';
import { icon } from '../ui/icons.js';
import { notice } from '../ui/notice.js';
import { oneTap } from '../ui/one_tap.js';

const SPANS = [{ value: 1, label: 'today' }, { value: 7, label: '7 days' }, { value: 14, label: '14 days' }];
const SIZES = [{ value: 'a4', label: 'A4' }, { value: 'letter', label: 'Letter' }];

/** Gardens first, then the sites where something is due for a tree. */
async function placesDue() {
  const [pack, gardens, sites] = await Promise.all([getPack(), listGardens(), listSites()]);
  const due = new Set((pack?.tasks ?? []).filter(({ tree }) => tree).map(({ site }) => site));
  return [
    ...gardens.map((one) => ({ value: one.id, label: gardenName(one) })),
    ...sites.filter(({ id }) => due.has(id)).map((one) => ({ value: one.id, label: one.fields.name ?? 'unnamed site' })),
  ];
}

/**
 * Open the screen.
 * @param {Element} root
 * @param {{id?: string}} params the place that is chosen at first
 */
export async function open(root, { id = null }) {
  const places = await placesDue();
  const first = places.some(({ value }) => value === id) ? id : null;
  render(root, html`<div class="page papers bench"><div class="page-head"><a class="back" href="#/due">${icon('back')}Due</a><h1>Round sheet for the bench</h1>
      <p class="under">What is to be walked and done in the coming days, on paper, to be ticked by pen.</p></div>
    <div class="papers-cols"><div class="stack"><form class="sheet" novalidate data-form>
      ${places.length > 0 && chips({ name: 'place', label: 'Where', value: first, options: [{ value: null, label: 'everywhere' }, ...places] })}
      ${chips({ name: 'days', label: 'For', value: 7, options: SPANS })}
      ${chips({ name: 'size', label: 'Paper', value: 'a4', options: SIZES })}
      <div class="actions"><button class="button primary hill">${icon('down')}Save as PDF</button>
        <button type="button" class="button hill" data-show>Show it here</button></div>
      <p class="caution">${icon('info')}<span>A tick on paper is kept nowhere else: note it in Due when you are back.</span></p></form></div>
    <div><div data-sheet></div></div></div></div>`);
  const place = root.querySelector('[data-sheet]');
  const tap = oneTap();

  const wish = () => ({ place: null, ...readForm(root.querySelector('[data-form]')) });

  async function save() {
    const { blob, name } = await fetchSheet(wish(), 'pdf');
    handOver(blob, name);
    notice(`${name} is in your downloads.`);
  }

  async function show() {
    const { article, trouble } = await readSheet(wish());
    if (!place.isConnected) return;
    for (const table of article.querySelectorAll('table')) table.tabIndex = 0; // one wider than the phone scrolls by key too
    render(place, html`<div class="actions"><button type="button" class="button hill" data-print>${icon('papers')}Print it</button></div>
      ${trouble.map((text) => html`<p class="caution">${icon('warn')}<span>${text}</span></p>`)}`);
    place.append(article);
    place.scrollIntoView({ block: 'start' });
  }

  const stops = [
    on(root, 'submit', '[data-form]', tap(save, 'Not made')),
    on(root, 'click', '[data-show]', tap(show, 'Not made')),
    on(root, 'click', '[data-print]', () => globalThis.print()),
    on(root, 'input', '[data-form]', () => place.replaceChildren()),
  ];
  return () => stops.forEach((stop) => stop());
}
