/** Water: how many days a tree's box may last, as a range with its reasons. Never an order: weigh the box, feel the mix. */

import { boxDrying, STATES } from '../core/drying.js';
import { BadInput } from '../core/errors.js';
import { dryingOfDay } from '../core/evapotranspiration.js';
import { daysBetween } from '../core/dates.js';
import { readParts } from '../core/mix.js';
import { fixed } from '../core/rounded.js';
import { usualAir } from '../core/usual_air.js';
import { isBare, readBox, recentAir, shapeOf, WATER } from '../hill/box_facts.js';
import { todayOn } from '../hill/ground_facts.js';
import { getDraft, onStoreChange, saveChange, saveDraft } from '../store.js';
import { degreeField, turnSigns } from '../ui/degree_field.js';
import { chips, findFault, numberField, readDraft } from '../ui/form.js';
import { keepFolds } from '../ui/folds.js';
import { html, on, render } from '../ui/html.js';
import { icon } from '../ui/icons.js';
import { litreWords } from '../ui/mix_words.js';
import { notice } from '../ui/notice.js';
import { oneTap } from '../ui/one_tap.js';
import { treeTitle } from '../ui/tree_sheets.js';
import { count, showDate, showRange, speciesName, tagName } from '../ui/words.js';

const FRESH = { state: null, canopy_cm: null, air: 'noted', month: null, tmin_c: null, tmax_c: null, lat: null };
const ASKED = ['canopy_cm', 'tmin_c', 'tmax_c', 'lat'];
const STATE_LABELS = { fresh: 'Freshly lifted', recovering: 'Recovering', vigorous: 'Growing strongly' };
const MANY_DAYS = 60; // own rule: beyond it a day more or less says nothing
const AT_ONCE = ['bare-tree', 'look-weekly', 'thirsty', 'no-drying']; // of the cautions, what is told unfolded
const HELD = 'look'; // the work of looking at it without watering
const MONTHS = ['January', 'February', 'March', 'April', 'May', 'June', 'July', 'August', 'September', 'October', 'November', 'December'];

/** The day that is asked about: today, or the middle of another month to come. @param {number|null} month from 1; null: this one */
function dayAsked(month, today) {
  const [year, now] = today.split('-').map(Number);
  if (month === null || month === now) return today;
  return `${month > now ? year : year + 1}-${String(month).padStart(2, '0')}-15`;
}

/** From the shortest of the thirstiest day to the longest of the mildest; null: the air takes nothing even then. */
const spanOf = (mild, thirsty) => thirsty && [thirsty[0], mild === null ? Infinity : mild[1]];

/** '3 to 9 days'; below three days with a tenth, and no number where the air takes so little that none means anything. */
function dayWords([low, high]) {
  if (high < 1) return 'less than a day';
  if (low > MANY_DAYS) return 'some months';
  if (high > MANY_DAYS) return `${fixed(low, low < 3 ? 1 : 0)} days to some months`;
  const one = (days) => (days < 3 ? fixed(days, 1) : fixed(days, 0));
  return `${one(low)} to ${one(high)} days`;
}

/**
 * Open the screen.
 * @param {Element} root
 * @param {{id?: string}} params id: of the tree
 */
export async function open(root, params) {
  const id = params.id ?? '';
  const key = `water-${id}`;
  let closed = false;
  let facts = await readBox(id, todayOn());
  let values = { ...FRESH, ...(await getDraft(key)) };

  function drawMissing() {
    render(root, html`<div class="page"><div class="page-head"><h1>Water</h1></div><div class="empty">${icon('trees')}<p>That tree is not kept on this phone.</p><a class="button hill" href="#/trees">See the trees</a></div></div>`);
  }

  const latOf = () => facts.lat ?? (typeof values.lat === 'number' ? values.lat : null);
  const heightOf = () => (typeof facts.place?.fields.height_m === 'number' ? facts.place.fields.height_m : null);
  const noted = () => recentAir({ ...facts, lat: latOf() });

  /** Which days are reckoned with: those noted where there are any, else what is usual. */
  function airAsked() {
    if (values.air === 'noted' && noted()) return 'noted';
    return values.air === 'typed' ? 'typed' : 'usual';
  }

  const asked = () => dayAsked(airAsked() === 'noted' ? null : values.month, todayOn());

  function draw() {
    if (!facts) {
      drawMissing();
      return;
    }
    const { fields } = facts.tree;
    render(root, html`<div class="page">
      <div class="page-head"><a class="back" href="#/tree/${id}">${icon('back')}${treeTitle(fields.tag, speciesName(facts.pack, fields.species))}</a><h1>Water</h1></div>
      <div class="cols wide-first"><div><section class="sheet" data-answer-place></section>
        <section class="sheet"><h2>Looked at it</h2><p class="muted" data-last>${lastLine()}</p>
          <div class="pick-row"><button type="button" class="button primary hill" data-watered>${icon('water')}It was dry: watered</button><button type="button" class="button hill" data-moist>${icon('hand')}Still moist: left alone</button></div></section></div>
      <div>${facts.box || facts.pack?.care ? html`<form novalidate id="water" class="sheet"><h2>What it hangs on</h2><div class="stack">
        <p data-box>${boxLine()} <a href="#/mix/${id}">${facts.box ? 'Change box or mix' : 'Note its box and mix'}</a></p>
        ${numberField({ name: 'canopy_cm', label: 'Crown, across', unit: 'cm', value: values.canopy_cm, step: 10, start: 50, min: 0, max: 2000, hint: 'left empty: the top of the box alone is reckoned' })}
        ${chips({ name: 'state', label: 'How it does', value: values.state, options: STATES.map(([value]) => ({ value, label: STATE_LABELS[value] })) })}
        <div class="stack" data-air>${airFields()}</div></div></form>` : null}</div></div></div>`);
    drawAnswer();
  }

  function airFields() {
    const known = noted();
    const air = airAsked();
    const days = known && { value: 'noted', label: known.days === 1 ? `the one noted, ${showDate(known.until)}` : `the ${known.days} noted, ${showRange(known.from, known.until)}` };
    const month = values.month ?? Number(todayOn().slice(5, 7));
    return html`${chips({ name: 'air', label: 'Days like', value: air, options: [days, { value: 'usual', label: 'those usual in a month' }, { value: 'typed', label: 'one I type' }].filter(Boolean) })}
      ${air !== 'noted' && html`<div class="field"><label for="water-month">In the month of</label><select id="water-month" name="month">${MONTHS.map((name, n) => html`<option value="${n + 1}" ${n + 1 === month ? html`selected` : ''}>${name}</option>`)}</select></div>`}
      ${air === 'typed' && html`${degreeField({ name: 'tmin_c', label: 'Lowest of such a day', value: values.tmin_c, step: 1, start: 8, min: -90, max: 60 })}${degreeField({ name: 'tmax_c', label: 'Highest of such a day', value: values.tmax_c, step: 1, start: 18, min: -90, max: 60 })}`}
      ${facts.lat === null && numberField({ name: 'lat', label: 'Latitude', unit: '°', value: values.lat, step: 1, start: 52, min: -90, max: 90, whole: false, hint: 'the place where it stands tells none; south is below nought' })}
      ${facts.place && facts.lat !== null && html`<p class="muted">${known ? '' : 'No day of the last week is noted whole at this place. '}<a href="#/weather/${facts.place.id}">Weather of ${facts.place.fields.name ?? 'this place'}</a></p>`}`;
  }

  function boxLine() {
    if (!facts.box) return 'No box is noted for this tree.';
    const { volume_l: litres, height_cm: depth } = shapeOf(facts.box.fields);
    return html`${litres === null ? 'A box, how large is not noted' : `A box of ${litreWords(litres)}`}${depth !== null && `, ${fixed(depth, 0)} cm deep`}.`;
  }

  function lastLine() {
    const last = facts.works.filter(({ fields }) => fields.kind === WATER && fields.done_on).map(({ fields }) => fields.done_on).sort().at(-1);
    if (!last) return 'No watering is noted yet.';
    const ago = daysBetween(last, todayOn());
    return `Last watered ${showDate(last)}${ago === 0 ? ', today' : `, ${count(ago, 'day', 'days')} ago`}.`;
  }

  /** What the air takes on such a day; null as long as it is not told. @throws {BadInput} */
  function air() {
    const alike = (one) => ({ et0_mm_d: [one.et0_mm_d, one.et0_mm_d], cautions: one.cautions });
    if (airAsked() === 'noted') return alike(noted());
    const [low, high, lat] = [values.tmin_c, values.tmax_c, latOf()];
    if (lat === null) return null;
    if (airAsked() === 'usual') return { ...usualAir(lat, asked(), heightOf()), cautions: [] };
    return typeof low === 'number' && typeof high === 'number' ? alike(dryingOfDay(low, high, lat, asked())) : null;
  }

  function drawAnswer() {
    const place = root.querySelector('[data-answer-place]');
    if (!place) return;
    render(place, html`<h2>Until the next watering</h2>${answer()}`);
  }

  const trouble = (sentence) => html`<p class="state ask" role="alert">${icon('warn')}<span>${sentence}</span></p>`;

  function answer() {
    if (!facts.pack?.care) return trouble('Home has not sent what mixes hold yet. Sync once at home; then this works with no signal.');
    const fault = findFault(root.querySelector('#water'), ASKED);
    if (fault) return trouble(fault);
    const { volume_l: litres, height_cm: depth } = shapeOf(facts.box?.fields ?? null);
    const parts = readParts(facts.box?.fields.mix, facts.pack.care.materials);
    if (litres === null || parts.length === 0) return html`<p class="muted">Note how much the box holds, and its mix; then it can be reckoned. <a href="#/mix/${id}">Box and mix</a></p>`;
    try {
      const day = air();
      if (day === null) return html`<p class="muted">${latOf() === null ? 'Tell the latitude of the place where it stands.' : 'Tell the lowest and the highest of a day like those to come.'}</p>`;
      const told = { state: values.state, depth_cm: depth, moisture_1_5: facts.card?.traits.moisture_1_5?.[0] ?? null, is_bare: isBareThen() };
      const crown = typeof values.canopy_cm === 'number' ? values.canopy_cm : 0;
      return reckoned(...day.et0_mm_d.map((takes) => boxDrying(parts, litres, crown, takes, told)), day);
    } catch (caught) {
      if (caught instanceof BadInput) return trouble([caught.message, caught.cure].filter(Boolean).join(' '));
      throw caught;
    }
  }

  /** In another month than this it is the dates of its kind that say whether it stands bare, and not what it showed lately. */
  function isBareThen() {
    const on = asked();
    return isBare(on === todayOn() ? facts : { ...facts, events: [] }, on);
  }

  /** How dry a usual day is, in a line that says how rough that is. */
  function airLine([low, high]) {
    const how = `${fixed(low, 1)} to ${fixed(high, 1)} mm`;
    return `A day in ${MONTHS[Number(asked().slice(5, 7)) - 1]} usually takes ${how} from short grass, as many litres from a square metre: from a cool grey day to a warm clear one. That is rough, by latitude and season alone (common practice, no source): note the weather of the place, or type a day.`;
  }

  function reckoned(mild, thirsty, day) {
    const isRough = mild !== thirsty && airAsked() === 'usual';
    const interval = spanOf(mild.interval_d, thirsty.interval_d);
    const byState = Object.fromEntries(STATES.map(([name]) => [name, spanOf(mild.by_state[name], thirsty.by_state[name])]));
    const why = thirsty.why.map((one) => (one.code === 'air' && isRough ? { ...one, text: airLine(day.et0_mm_d) } : one));
    // A mild day alone may take nothing; the longer wait asks for the weekly look.
    const cautions = [...new Map([...thirsty.cautions, ...mild.cautions.filter(({ code }) => code !== 'no-drying')].map((one) => [one.code, one])).values()];
    const mindful = (one) => html`<li class="ask" data-code="${one.code}">${icon('ask')}<p>${one.text}</p></li>`;
    const [weigh, ...mind] = [...cautions, ...day.cautions];
    return html`<div aria-live="polite" aria-atomic="true"><p class="big-number" data-interval>${interval === null ? 'not to be reckoned' : dayWords(interval)}</p><p class="strong" data-code="${weigh.code}">${weigh.text}</p></div>
      ${values.state === null && interval !== null && html`<dl class="facts">${STATES.map(([name]) => html`<dt>${STATE_LABELS[name]}</dt><dd>${dayWords(byState[name])}</dd>`)}</dl>`}
      <ul class="reasons" aria-label="Mind">${isRough && html`<li class="ask" data-rough>${icon('ask')}<p>Rough: by what is usual in ${MONTHS[Number(asked().slice(5, 7)) - 1]} at this latitude.</p></li>`}${mind.filter(({ code }) => AT_ONCE.includes(code)).map(mindful)}</ul>
      <details class="fold" data-fold="why"><summary>Why so wide, and what it hangs on</summary><ul class="reasons">${why.map((one) => html`<li data-code="${one.code}">${icon('info')}<p>${one.text}</p></li>`)}${mind.filter(({ code }) => !AT_ONCE.includes(code)).map(mindful)}</ul></details>`;
  }

  const trying = (work) => async (...args) => {
    try {
      await work(...args);
    } catch (fault) {
      notice(`Not saved: ${fault.message}`, { kind: 'trouble' });
    }
  };

  async function keep(kind, note, words) {
    const rec = await saveChange({ type: 'work', set: { tree: id, kind, done_on: todayOn(), note } });
    notice(`${tagName(facts.tree.fields.tag, 'The tree')}: ${words} Saved on this phone.`, { undo: () => saveChange({ rec, type: 'work', set: { deleted: true } }) });
  }

  draw();
  const tap = oneTap();
  const follow = trying(async () => {
    const before = values;
    values = { ...values, ...readDraft(root.querySelector('#water')) };
    values.air ??= 'noted';
    const month = Number(values.month);
    values.month = values.month === null || month === Number(todayOn().slice(5, 7)) ? null : month; // next month this one is another
    if (before.air !== values.air) render(root.querySelector('[data-air]'), html`${airFields()}`);
    keepFolds(root, drawAnswer);
    await saveDraft(key, values);
  });
  const stops = [
    on(root, 'input', '#water', follow),
    on(root, 'submit', '#water', (ev) => ev.preventDefault()),
    on(root, 'click', '[data-watered]', tap(() => keep(WATER, 'It was dry.', 'watered.'))),
    turnSigns(root),
    on(root, 'click', '[data-moist]', tap(() => keep(HELD, 'Still moist, not watered.', 'still moist, left alone.'))),
    onStoreChange(async ({ types, pack }) => {
      if (!pack && !types.some((type) => ['tree', 'box', 'work', 'event', 'weather_day', 'garden', 'lift'].includes(type))) return;
      const fresh = await readBox(id, todayOn());
      if (closed) return;
      const isThere = facts !== null && fresh !== null && root.querySelector('#water');
      facts = fresh;
      if (!isThere) {
        draw();
        return;
      }
      render(root.querySelector('[data-last]'), html`${lastLine()}`);
      render(root.querySelector('[data-box]'), html`${boxLine()} <a href="#/mix/${id}">${facts.box ? 'Change box or mix' : 'Note its box and mix'}</a>`);
      drawAnswer();
    }),
  ];
  return () => {
    closed = true;
    for (const stop of stops) stop();
  };
}
