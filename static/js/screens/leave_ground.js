/** The ground a leave covers: the whole site, or an area of its own drawn on the map beside the site's boundary. */

import { areaHa } from '../core/area_text.js';
import { sameValue } from '../core/changed.js';
import { areaBeyondM } from '../core/leave_terms.js';
import { watchFix } from '../device.js';
import { openMap } from '../map.js';
import { dropDraft, getDraft, getMeta, saveDraft } from '../store.js';
import { openCornerEditor } from '../ui/corner_editor.js';
import { html, on, render } from '../ui/html.js';
import { icon } from '../ui/icons.js';
import { showDistance } from '../ui/words.js';

const WATCH = 'ground-watch'; // whether this person wants the position shown on maps; asked on the ground's own page

/** What to say of an area that does not lie on its site, or null. */
function beyondWords(boundary, area, name) {
  try {
    const beyond = areaBeyondM(boundary, area);
    if (beyond === null || beyond === 0) return null;
    return `It reaches up to ${showDistance(beyond)} outside the boundary of ${name}. Look whether the area or the boundary is drawn wrong, or whether somebody else’s ground is meant.`;
  } catch (fault) {
    return `Whether it lies on the site cannot be told: ${fault.message}`;
  }
}

/**
 * Open the part.
 * @param {Element} place emptied
 * @param {{leave: string, read: () => {site: object, record: object, kind: string}, save: (area: object|null, seen: object) => Promise<boolean>}} work
 *   leave: its id; read: site and leave as they are kept now, kind as `leaveState` tells; save: gives false when it was thought better of
 * @returns {Promise<{redraw: () => void, close: () => void}>}
 */
export async function openGround(place, { leave, read, save }) {
  const key = `leave-area-${leave}`;
  let draft = (await getDraft(key)) ?? null; // {seen, values}: a drawing left open comes back as it was
  let map = null;
  let editor = null;
  let stopWatch = null;
  let fix = null;

  render(place, html`<section class="sheet"><h2>Ground</h2><div class="map" data-area-map hidden></div><div class="stack" data-area></div></section>`);
  const part = (name) => place.querySelector(`[data-${name}]`);

  function needMap() {
    part('area-map').hidden = false;
    map ??= openMap(part('area-map'), 'Map of the leave');
  }

  const nameOf = (site) => site.fields.name ?? 'the site';

  function drawMap() {
    const { site, record, kind } = read();
    const { boundary } = site.fields;
    const { area } = record.fields;
    if (!boundary && !area) return;
    needMap();
    const whole = { id: site.id, name: nameOf(site), boundary, kind: area ? 'around' : kind };
    map.showSites([...(boundary ? [whole] : []), ...(area ? [{ id: leave, name: 'this leave', boundary: area, kind }] : [])]);
    map.fitOnce();
  }

  function drawWords() {
    const { site, record } = read();
    const { area } = record.fields;
    const beyond = area ? beyondWords(site.fields.boundary, area, nameOf(site)) : null;
    render(part('area'), html`<p>${area ? `Part of ${nameOf(site)}, about ${areaHa(area).toFixed(2)} ha.` : `The whole of ${nameOf(site)}.`}</p>
      ${beyond && html`<p class="state ask">${icon('ask')}<span>${beyond}</span></p>`}
      <div class="pick-row"><button type="button" class="button" data-draw-area>${icon('site')}${area ? 'Change the area' : 'Draw an area of its own'}</button>
        ${area && html`<button type="button" class="button" data-whole-site>${icon('ground')}It covers the whole site</button>`}</div>`);
  }

  function redraw() {
    if (editor) return;
    drawMap();
    drawWords();
  }

  async function closeEditor() {
    editor?.();
    editor = null;
    draft = null;
    await dropDraft(key);
    part('area-map').classList.remove('low');
    redraw();
    place.querySelector('[data-draw-area]')?.focus();
  }

  function openEditor() {
    const { site, record } = read();
    const seen = draft?.seen ?? record;
    needMap();
    part('area-map').classList.add('low');
    editor = openCornerEditor(part('area'), {
      title: 'The area of this leave',
      map,
      boundary: record.fields.area ?? null,
      draft: draft?.values ?? null,
      others: site.fields.boundary ? [{ id: site.id, name: nameOf(site), boundary: site.fields.boundary }] : [],
      whereAmI: () => fix,
      onDraft: (values) => saveDraft(key, (draft = { seen, values })),
      onSave: async (area) => {
        if (sameValue(seen.fields.area, area) || (await save(area, seen))) await closeEditor();
      },
      onCancel: closeEditor,
    });
    part('area-map').scrollIntoView({ block: 'start' });
    watch();
  }

  function watch() {
    stopWatch ??= watchFix((next) => { fix = next; map?.showMe(fix); }, () => {}); // no position: corners are tapped or typed
  }

  if (draft) openEditor();
  else redraw();
  if (map && (await getMeta(WATCH))) watch();
  const stops = [
    on(place, 'click', '[data-draw-area]', openEditor),
    on(place, 'click', '[data-whole-site]', async () => { if (await save(null, read().record)) redraw(); }),
  ];
  return {
    redraw,
    close() {
      for (const stop of stops) stop();
      stopWatch?.();
      editor?.();
      map?.close();
    },
  };
}
