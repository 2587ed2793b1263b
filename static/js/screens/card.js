/** Kinds and their cards: the year of each work at a place, every value, and where it is from. What was read stays on this phone. */

import { listSites, todayOn } from '../hill/ground_facts.js';
import { getMeta, setMeta } from '../store.js';
import { askHomeJson, HomeError } from '../store/home.js';
import { html, on, render } from '../ui/html.js';
import { icon } from '../ui/icons.js';
import { plainSources, showDate } from '../ui/words.js';
import { bandWords, yearBand } from '../ui/year_band.js';

const WAIT_MS = 8000;
const KEPT = 'cards_told'; // {path: {at, told}}: what home told last, for where it is out of reach
const MOST_KEPT = 40;
const WORKS = {
  prepare: 'Prepare the roots', lift: 'Lift', repot: 'Repot', trim: 'Trim', 'hard-prune': 'Hard cut', wire: 'Wire', unwire: 'Take wire off',
  defoliate: 'Take leaves off', feed: 'Feed', shelter: 'Shelter from cold', suckers: 'Take suckers',
};
const TRAITS = {
  leaf_type: 'Leaf', bleeding_0_3: 'Bleeds when cut, 0 to 3', dieback_0_3: 'Gives up limbs, 0 to 3', back_buds_on_old_wood: 'Buds from old wood',
  moisture_1_5: 'Thirst, 1 to 5', root_kill_c: 'Roots die at, °C', root_kill_young_c: 'Young roots die at, °C', root_kill_basis: 'About that figure',
  protect_below_c_year1: 'Shelter below in the first year, °C', protect_below_c_later: 'Shelter below later, °C', shade_weeks: 'Weeks of shade after the lift',
  mist_after_lift: 'Mist after the lift', bare_root_tolerated: 'Bare roots borne', keep_native_soil_core: 'Keep its own soil', ball_to_stem_ratio: 'Ball to stem, times',
  first_prune_after: 'First trim after', first_prune_min_days_after_flush_hardened: 'Days from hardened leaf to trimming', first_prune_min_months_after_lift: 'Months from lift to first trim',
  first_styling_years_min: 'Years to first styling, at least', first_styling_years_max: 'Years to first styling, at most', repot_years_between: 'Years between repottings',
  decorative_pot_years_min: 'Years to a show pot, at least', decorative_pot_years_max: 'Years to a show pot, at most', wire_weeks_min: 'Weeks of wire, at least', wire_weeks_max: 'Weeks of wire, at most',
  suckers_to_watch: 'Suckers', plant_health_check: 'Prone to', autumn_hazard_lists_0_3: 'On lists against autumn lifting, of 3', bud_break_by_day_length: 'Wakes by length of day',
  cut_below_mm: 'Cuts close below, mm', cut_below_strong_mm: 'On a strong branch below, mm',
};

const showValue = (value) => (value === true ? 'yes' : value === false ? 'no' : String(value));
const capital = (text) => text[0].toUpperCase() + text.slice(1);

/** What home tells at an address; out of its reach what it told last, with the day. */
async function readTold(path) {
  const kept = (await getMeta(KEPT)) ?? {};
  try {
    const told = await askHomeJson(path, { waitMs: WAIT_MS });
    const rest = Object.entries(kept).filter(([name]) => name !== path).slice(1 - MOST_KEPT);
    await setMeta(KEPT, Object.fromEntries([...rest, [path, { at: todayOn(), told }]]));
    return { told, at: null, trouble: null };
  } catch (fault) {
    if (!(fault instanceof HomeError)) throw fault;
    const old = kept[path] ?? null;
    return { told: old?.told ?? null, at: old?.at ?? null, trouble: fault };
  }
}

const keptLine = (at) => at && html`<p class="state quiet">${icon('clock')}As home told it on ${showDate(at)}: it is not in reach now.</p>`;

function awayBlock(trouble) {
  return html`<div class="empty" role="alert">${icon('warn')}<p>${trouble.message}</p><p class="muted">What was opened once stays on this phone.</p></div>`;
}

function kindList({ told, at, trouble }) {
  const under = (one) => [one.latin, one.own && 'changed by you', one.stands_in && 'no card of its own: the careful one of its leaf stands in'].filter(Boolean).join(' · ');
  return html`<div class="page-head"><a class="back" href="#/trees">${icon('back')}Trees</a><h1>Kinds</h1><p class="under">What is known of each: when it is safe to do what, and why.</p></div>
    ${keptLine(at)}${told === null ? awayBlock(trouble) : html`<ul class="entries">${told.kinds.map((one) => html`<li><a class="entry" href="#/card/${one.kind}"><span class="entry-icon">${icon('leafbud')}</span><span class="entry-main"><span class="entry-title">${capital(one.name)}</span><span class="entry-under">${under(one)}</span></span></a></li>`)}</ul>`}`;
}

function workBlock({ work, windows, none }, year, today) {
  const name = WORKS[work] ?? work;
  const edge = (word, day, why, isHard) => html`<p><span class="strong">${word} ${showDate(day)}</span>${isHard ? ', strictly' : ', with some give'}: ${plainSources(why)}.</p>`;
  return html`<section class="band-row" data-work="${work}"><h3>${name}</h3>
    ${windows.length > 0 && yearBand(windows, year, today, `${name} in ${year}: ${bandWords(windows)}`)}
    ${none ? html`<p>${plainSources(none)}</p>` : html`<details class="fold"><summary><span>${bandWords(windows)}</span></summary>${windows.map((one) => html`<div class="stack">
      ${edge('Opens', one.opens, one.why_opens, one.hard_open)}${edge('Closes', one.closes, one.why_closes, one.hard_close)}
      ${one.other && html`<p class="state ask">${icon('ask')}<span>Not all agree: ${plainSources(one.other)}</span></p>`}
      <p class="muted">${plainSources(`Source: ${one.source}`)}</p></div>`)}</details>`}</section>`;
}

function cardBody({ told, at, trouble }, sites, site) {
  if (told === null) return awayBlock(trouble);
  const today = todayOn();
  return html`${keptLine(at)}
    <section class="sheet"><h2>The year ${told.year}</h2>
      <div class="field"><label for="card-site">Where</label><select id="card-site" data-site><option value="">Lowland at 52° N, for which the cards are written</option>${sites.map((one) => html`<option value="${one.id}" ${one.id === site ? html`selected` : ''}>${one.fields.name ?? 'unnamed site'}</option>`)}</select></div>
      ${site && html`<p class="muted">${capital(told.climate)}.</p>`}
      <p class="muted">A straight end is strict, a slanted one has some give. The line across is today.</p>
      ${told.works.map((one) => workBlock(one, told.year, today))}</section>
    <section class="sheet"><h2>When it wakes and rests</h2><dl class="facts">${told.events.map(({ event, on: day }) => html`<dt>${capital(event)}</dt><dd>about ${showDate(day)}</dd>`)}</dl><p class="muted">What is noted of a tree itself stands above these.</p></section>
    <section class="sheet"><h2>What it is like</h2><dl class="facts">${told.traits.map((one) => html`<dt>${TRAITS[one.name] ?? one.name}</dt><dd>${showValue(one.value)}${one.note && html`<br>${plainSources(one.note)}`}${one.other && html`<br><span class="state ask">${icon('ask')}<span>Not all agree: ${plainSources(one.other)}</span></span>`}<br><span class="muted">${plainSources(one.source)}</span></dd>`)}</dl></section>`;
}

/**
 * Open the screen.
 * @param {Element} root
 * @param {{id?: string, site?: string}} params id: a kind; without one all kinds are listed. site: the place it is told for
 */
export async function open(root, params) {
  let closed = false;
  if (!params.id) {
    render(root, html`<div class="page"><div class="page-head"><h1>Kinds</h1></div><p class="muted" role="status">Asking home …</p></div>`);
    const found = await readTold('/api/cards');
    render(root, html`<div class="page">${kindList(found)}</div>`);
    return () => {};
  }
  let site = params.site ?? '';
  const sites = await listSites();
  let asked = 0;

  async function draw() {
    asked += 1;
    const mine = asked;
    const found = await readTold(`/api/cards/${encodeURIComponent(params.id)}${site ? `?site=${site}` : ''}`);
    if (closed || mine !== asked) return;
    const head = found.told ? html`${capital(found.told.name)} <span class="muted">${found.told.latin}</span>` : params.id;
    render(root, html`<div class="page"><div class="page-head"><a class="back" href="#/card">${icon('back')}Kinds</a><h1>${head}</h1>${found.told?.stands_in && html`<p class="under">No card of its own: the careful one of its leaf stands in.</p>`}</div>${cardBody(found, sites, site)}</div>`);
  }

  render(root, html`<div class="page"><div class="page-head"><h1>${params.id}</h1></div><p class="muted" role="status">Asking home …</p></div>`);
  await draw();
  const stop = on(root, 'change', '[data-site]', (ev, field) => {
    site = field.value;
    return draw();
  });
  return () => {
    closed = true;
    stop();
  };
}
