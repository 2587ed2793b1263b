/** Ground: the sites on a map of their own and in a list, nearest first, each with how its leave stands. */

import { watchFix } from '../device.js';
import { begunSignings, putSigningAway } from '../hill/begun_signings.js';
import { metresOutside, readTrees, todayOn } from '../hill/ground_facts.js';
import { readGround } from '../hill/ground_leaves.js';
import { bringPapersInForce } from '../hill/paper_files.js';
import { openMap } from '../map.js';
import { getIdentity, getMeta, listRecords, onStoreChange, setMeta } from '../store.js';
import { html, on, render } from '../ui/html.js';
import { icon } from '../ui/icons.js';
import { notice } from '../ui/notice.js';
import { stateMark } from '../ui/state.js';
import { count, here, sayHere, showDistance, stageWord } from '../ui/words.js';
import { findPlace } from './ground_find.js';

const WATCH = 'ground-watch'; // whether this person wants the position shown here; kept, so it is asked once

function distanceWords(site, fix) {
  if (!site.fields.boundary) return 'no boundary drawn';
  const away = metresOutside(site.fields.boundary, fix);
  if (away === null) return null;
  return away === 0 ? 'you are on it' : `${showDistance(away)} away`;
}

function siteEntry({ site, holders, state }, fix, trees) {
  const names = [...new Set(holders.map(({ holder }) => holder.fields.name).filter(Boolean))];
  const under = [distanceWords(site, fix), names.join(', ') || null, trees ? count(trees, 'tree', 'trees') : null].filter(Boolean);
  return html`<li><a class="entry" href="#/site/${site.id}">
    <span class="entry-main"><span class="entry-title">${site.fields.name ?? 'unnamed site'}</span>
      ${stateMark(state)}<span class="entry-under">${under.join(' · ')}</span></span>${icon('forward')}</a></li>`;
}

/**
 * Open the screen.
 * @param {Element} root
 * @returns {Promise<() => void>} close
 */
export async function open(root) {
  let ground = await readGround();
  let trees = (await readTrees(null)).rows;
  let tracks = await listRecords('track');
  let isPaired = (await getIdentity()) !== null;
  let fix = null;
  let trouble = null;
  let stopWatch = null;
  let closed = false;

  render(root, html`<div class="page ground">
    <div class="page-head"><h1>Ground</h1><p class="under" data-where></p></div>
    <div data-begun></div>
    <div class="cols wide-first">
      <div><div class="map tall" data-map-frame></div><section class="sheet plain" data-find></section></div>
      <div><section class="sheet"><div class="sheet-head"><h2>Sites</h2><a class="button" href="#/site/new">${icon('plus')}Add a site</a></div>
        <div data-sites></div></section>
        <div class="stack" data-legend></div></div>
    </div></div>`);
  const part = (name) => root.querySelector(`[data-${name}]`);
  const map = openMap(part('map-frame'), 'Map of your ground');
  const find = await findPlace(part('find'), { map, here: () => fix, sites: () => ground.sites.map(({ site }) => site), trees: () => trees });

  function drawMap() {
    map.showSites(ground.sites.map(({ site, state }) => ({ id: site.id, name: site.fields.name, boundary: site.fields.boundary, kind: state.kind, href: `#/site/${site.id}` })));
    map.showTrees(trees.filter((one) => one.place && one.stage === 'marked').map((one) => ({
      tag: one.tag, stage: one.stage, word: stageWord(one.stage), lat: one.place.lat, lon: one.place.lon, href: `#/tree/${one.id}` })));
    map.showTracks(tracks.map((track) => track.fields));
  }

  function drawWhere() {
    const known = fix && fix.accuracy_m !== null && fix.accuracy_m !== undefined;
    const words = fix ? `You are on the map${known ? `, within ${showDistance(fix.accuracy_m)}` : ', accuracy not known'}.` : ((trouble && sayHere(trouble)) ?? (stopWatch ? 'Looking for your position …' : null));
    render(part('where'), html`${words ?? html`<button type="button" class="button" data-watch>${icon('fix')}Show where I am</button>`}`);
  }

  function drawSites() {
    if (ground.sites.length === 0) {
      render(part('sites'), html`<div class="empty">${icon('ground')}<p>No site is kept on this ${here()} yet. A site is the ground one leave is about: a hill, a wood, a quarry.</p>
        <p class="muted">Draw it here by walking its edge or tapping its corners. ${isPaired
          ? html`What home keeps comes by itself: <a href="#/sync">see how that stands</a>.`
          : html`If home has your sites already, <a href="#/pair">pair this ${here()}</a> and they come by themselves.`}</p></div>`);
      return;
    }
    const away = ({ site }) => metresOutside(site.fields.boundary, fix) ?? Infinity;
    const sorted = fix ? [...ground.sites].sort((a, b) => away(a) - away(b)) : ground.sites;
    const treesOn = (site) => trees.filter((one) => one.site === site.id).length; // as the site's own page lists them
    render(part('sites'), html`<ul class="entries">${sorted.map((one) => siteEntry(one, fix, treesOn(one.site)))}</ul>`);
    const standing = trees.filter((one) => one.place && one.stage === 'marked').length;
    render(part('legend'), html`<p class="muted row map-key">${icon('stage_marked')}<span>${standing ? `${count(standing, 'marked tree', 'marked trees')} on the map` : 'No marked tree on the map yet'}</span></p>
      <p class="muted">The map is drawn from what you keep here. It is no navigation or rescue device.</p>`);
  }

  async function drawBegun() {
    const begun = await begunSignings();
    if (closed) return;
    part('begun').hidden = begun.length === 0;
    render(part('begun'), begun.length === 0 ? html`` : html`<ul class="entries begun">${begun.map(({ leave, site_name, who }) => html`<li class="entry">
      <span class="entry-main"><span class="state ask">${icon('edit')}<span>A signing was begun: the leave for ${site_name ?? 'a site'}${who && `, ${who}`}</span></span></span>
      <span class="pick-row"><a class="button" href="#/sign/${leave}">Go on with it</a>
        <button type="button" class="button quiet" data-put-away="${leave}">Put it away</button></span></li>`)}</ul>`);
  }

  async function startWatch() {
    await setMeta(WATCH, true);
    if (closed || stopWatch) return;
    stopWatch = watchFix(
      (next) => { const first = fix === null; fix = next; trouble = null; map.showMe(fix); drawWhere(); if (first) { drawSites(); find.redraw(); if (ground.sites.length === 0) map.fitOnce(); } },
      (sentence) => { trouble = sentence?.message ?? sentence; drawWhere(); },
    );
    drawWhere();
  }

  async function reread() {
    [ground, trees, tracks, isPaired] = [await readGround(), (await readTrees(null)).rows, await listRecords('track'), (await getIdentity()) !== null];
    if (closed) return;
    drawMap();
    map.fitOnce(); // what comes from home after pairing comes bit by bit
    drawSites();
    find.redraw();
  }

  drawMap();
  map.fit();
  drawSites();
  drawWhere();
  await drawBegun();
  if (await getMeta(WATCH)) await startWatch();
  bringPapersInForce(todayOn()).catch((fault) => globalThis.reportError?.(fault)); // while there is a signal; nothing waits for it
  const stops = [
    on(root, 'click', '[data-watch]', startWatch),
    on(root, 'click', '[data-put-away]', async (ev, button) => {
      const back = await putSigningAway(button.dataset.putAway);
      await drawBegun();
      notice('The begun signing is put away.', { undoWords: 'Bring it back', undo: async () => { await back(); if (!closed) await drawBegun(); } });
    }),
    onStoreChange(reread),
  ];
  return () => {
    closed = true;
    stopWatch?.();
    for (const stop of stops) stop();
    find.close();
    map.close();
  };
}
