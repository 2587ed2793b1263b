/** Kinds and their cards: the year of each work at a place, every value, where it is from, and what the person changed. What was read stays on this phone. */

import { cardPath, ownOfKind, putAway, readTold } from '../hill/card_facts.js';
import { todayOn } from '../hill/ground_facts.js';
import { listPlaces } from '../hill/weather_days.js';
import { onStoreChange } from '../store.js';
import { onSyncState } from '../sync.js';
import { capital } from '../ui/card_words.js';
import { html, on, render } from '../ui/html.js';
import { icon } from '../ui/icons.js';
import { notice } from '../ui/notice.js';
import { showDate } from '../ui/words.js';
import { eventRows, ownSheets, traitRows, troubleSheet, workBlock, yearTable } from './card_parts.js';

const keptLine = (at) => at && html`<p class="state quiet">${icon('clock')}As home told it on ${showDate(at)}: it is not in reach now.</p>`;

function awayBlock(trouble, isMade) {
  if (isMade) return html`<div class="empty" role="status">${icon('held')}<p>This kind is made on this phone. Its card is shown once home has taken it in, at the next sync.</p></div>`;
  return html`<div class="empty" role="alert">${icon('warn')}<p>${trouble.message}</p><p class="muted">What was opened once stays on this phone.</p></div>`;
}

function kindList({ told, at, trouble }) {
  const under = (one) => [one.latin, one.made ? 'made by you' : one.own && 'changed by you', one.stands_in && 'no card of its own: the careful one of its leaf stands in'].filter(Boolean).join(' · ');
  return html`<div class="page-head"><a class="back" href="#/trees">${icon('back')}Trees</a><h1>Kinds</h1><p class="under">What is known of each: when it is safe to do what, and why.</p></div>
    ${keptLine(at)}${told && troubleSheet(told.trouble ?? [], { withKind: true })}${told === null ? awayBlock(trouble, false) : html`<ul class="entries">${told.kinds.map((one) => html`<li><a class="entry" href="#/card/${one.kind}"><span class="entry-icon">${icon(one.own ? 'edit' : 'leafbud')}</span><span class="entry-main"><span class="entry-title">${capital(one.name)}</span><span class="entry-under">${under(one)}</span></span></a></li>`)}</ul>`}`;
}

function cardBody({ told, at, trouble }, own, sites, { site, year }, kind) {
  const known = { kind, site, waiting: own.waiting };
  if (told === null) return html`${ownSheets(own, kind)}${awayBlock(trouble, own.made)}`;
  const today = todayOn();
  const thisYear = Number(today.slice(0, 4));
  return html`${keptLine(at)}<div class="pick-row only-all"><a class="button" href="#/card-change/${kind}${site ? `?site=${site}` : ''}">${icon('edit')}Change the card</a></div>
    ${troubleSheet(told.trouble ?? [])}${ownSheets(own, kind)}
    <section class="sheet"><h2>The year ${told.year}</h2>
      <div class="field"><label for="card-site">Where</label><select id="card-site" data-site><option value="">Lowland at 52° N, for which the cards are written</option>${sites.map((one) => html`<option value="${one.id}" ${one.id === site ? html`selected` : ''}>${one.fields.name ?? 'unnamed place'}</option>`)}</select></div>
      <div class="field"><label for="card-year">Year</label><select id="card-year" data-year>${[thisYear, thisYear + 1].map((one) => html`<option value="${one === thisYear ? '' : one}" ${String(one) === year ? html`selected` : ''}>${one}</option>`)}</select></div>
      ${site && html`<p class="muted">${capital(told.climate)}.</p>`}
      <p class="muted">A straight end is strict, a slanted one has some give. ${told.year === thisYear && 'The line across is today.'}</p>
      ${told.works.map((one) => workBlock(one, told.year, today, known))}${yearTable(told.works, told.year)}</section>
    <section class="sheet"><h2>When it wakes and rests</h2><dl class="facts">${eventRows(told.events)}</dl><p class="muted">What is noted of a tree itself stands above these.</p></section>
    <section class="sheet"><h2>What it is like</h2><dl class="facts">${traitRows(told.traits)}</dl></section>
    <section class="sheet only-all"><h2>A kind of your own</h2><p>Is it near this one, but not the same? A new kind begins with all that this card says.</p>
      <div class="actions"><a class="button" href="#/card-copy/${kind}">${icon('plus')}New kind from this card</a>
      ${told.whole?.length > 0 && html`<button type="button" class="button rust" data-put-away="${told.whole.join(' ')}" data-made="${told.made ? 'yes' : ''}">${icon(told.made ? 'bin' : 'undo')}${told.made ? 'Remove this kind' : 'Back to the card that ships'}</button>`}</div>
      ${told.made && html`<p class="muted">Without it, trees of this kind are cared for by the most careful card.</p>`}</section>`;
}

/** One tap takes a change back, and one more brings it again. */
async function takeBack(button) {
  const recs = button.dataset.putAway.split(' ');
  try {
    await putAway(recs);
    const words = button.dataset.made ? 'The kind is removed.' : 'Back to the card’s own. It counts after the next sync.';
    notice(words, { undoWords: button.dataset.made ? 'Undo the removal' : 'Undo', undo: () => putAway(recs, false) });
    if (button.dataset.made) globalThis.location.hash = '#/card';
  } catch (fault) {
    notice(`Not saved: ${fault.message}`, { kind: 'trouble' });
  }
}

/** Be called when something of the cards changed here, and when home has been asked. */
function hearChanges(here, home) {
  let asked = null;
  const guarded = (task) => task().catch((fault) => globalThis.reportError?.(fault));
  const stops = [
    onStoreChange(({ types }) => types?.includes('species_card') && guarded(here)),
    onSyncState(({ last_ok_at: at }) => {
      if (asked !== null && asked !== at) guarded(home);
      asked = at;
    }),
  ];
  return () => stops.forEach((stop) => stop());
}

async function openList(root) {
  let closed = false;
  const draw = async () => {
    const found = await readTold('/api/cards');
    if (!closed) render(root, html`<div class="page">${kindList(found)}</div>`);
  };
  await draw();
  const stops = [hearChanges(async () => {}, draw), on(root, 'click', '[data-put-away]', (ev, button) => takeBack(button))];
  return () => {
    closed = true;
    stops.forEach((stop) => stop());
  };
}

/**
 * Open the screen.
 * @param {Element} root
 * @param {{id?: string, site?: string}} params id: a kind; without one all kinds are listed. site: the place it is told for
 */
export async function open(root, params) {
  render(root, html`<div class="page"><div class="page-head"><h1>${params.id ?? 'Kinds'}</h1></div><p class="muted" role="status">Asking home …</p></div>`);
  if (!params.id) return openList(root);
  const kind = params.id;
  let closed = false;
  let site = params.site ?? '';
  let year = '';
  let found = null;
  const sites = await listPlaces();
  let asked = 0;

  async function draw() {
    const mine = asked;
    const own = await ownOfKind(kind, found.told);
    if (closed || mine !== asked) return;
    const unfolded = [...root.querySelectorAll('[data-work]:has(details[open])')].map((one) => one.dataset.work);
    const head = found.told ? html`${capital(found.told.name)} <span class="muted">${found.told.latin}</span>` : kind;
    render(root, html`<div class="page"><div class="page-head"><a class="back" href="#/card">${icon('back')}Kinds</a><h1>${head}</h1>${found.told?.stands_in && html`<p class="under">No card of its own: the careful one of its leaf stands in.</p>`}</div>${cardBody(found, own, sites, { site, year }, kind)}</div>`);
    for (const work of unfolded) root.querySelector(`[data-work="${work}"] details`)?.setAttribute('open', '');
  }

  async function read() {
    asked += 1;
    const mine = asked;
    const got = await readTold(cardPath(kind, site, year));
    if (closed || mine !== asked) return;
    if (got.told || !found?.told) found = got;
    else notice(got.trouble.message, { kind: 'trouble' });
    await draw();
  }

  /** Another place or year; where it cannot be had now, what was there stays. */
  async function choose(other) {
    const before = { site, year };
    ({ site, year } = other);
    const [was, turn] = [found, asked + 1];
    await read();
    if (asked === turn && found === was && found.told) {
      ({ site, year } = before);
      if (!closed) await draw();
    }
  }

  await read();
  const stops = [
    hearChanges(draw, read),
    on(root, 'change', '[data-site]', (ev, field) => choose({ site: field.value, year })),
    on(root, 'change', '[data-year]', (ev, field) => choose({ site, year: field.value })),
    on(root, 'click', '[data-put-away]', (ev, button) => takeBack(button)),
  ];
  return () => {
    closed = true;
    stops.forEach((stop) => stop());
  };
}
