/**
 * The map: a sheet of paper with a graticule, and on it boundaries, trees, walks and where the phone is.
 * It needs no tiles and no network. This is the only file that knows the map library; everyone else says lat, lon.
 *
 *   const map = openMap(frame, 'Map of Wether Rig');
 *   map.showSites([{id, name, boundary, kind, href}]); map.showTrees([{tag, stage, lat, lon, href}]); map.showMe(fix);
 *   map.showTracks([{line}]); map.fit(); map.close();
 */

import * as L from '/vendor/leaflet/1.9.3/leaflet-src.esm.js';

import { MAP_MARKS, STAGE_SHAPES } from './core/shapes.js';

const SVG = 'http://www.w3.org/2000/svg';
const NO_GROUND = { lat: 55.4, lon: -3.4, zoom: 6 }; // somewhere to look at before there is any site
const CLOSEST_ZOOM = 20;
const START_ZOOM = 14; // about 2 km across on a phone at 55 degrees north
const FIT_ZOOM = 17; // a lone tree is shown with some ground around it
const TAGS_ZOOM = 15; // from here on tags have room beside their trees
const LINES_APART_PX = 110; // the least between two lines of the graticule, so that their labels stay apart

const BUTTONS = [
  ['nearer', 'plus', 'Bring the map nearer'],
  ['further', 'minus', 'Move the map away'],
  ['all', 'all', 'Show everything'],
  ['me', 'me', 'Show where I am'],
];

/** Rings of a GeoJSON area as [lat, lon] pairs; a ring across the 180th meridian is kept in one piece. */
function ringsOf(boundary) {
  if (!boundary) return [];
  const parts = boundary.type === 'MultiPolygon' ? boundary.coordinates : [boundary.coordinates];
  return parts.map((part) =>
    part.map((ring) =>
      ring.map(([lon, lat]) => {
        const first = ring[0][0];
        return [lat, lon - first > 180 ? lon - 360 : lon - first < -180 ? lon + 360 : lon];
      }),
    ),
  );
}

/** A round step in degrees (1, 2 or 5 times a power of ten) that is at least `least` degrees. */
function roundStep(least) {
  const power = 10 ** Math.floor(Math.log10(least));
  return [1, 2, 5, 10].map((times) => times * power).find((step) => step >= least);
}

function drawGraticule(map, layer) {
  layer.clearLayers();
  const bounds = map.getBounds();
  const size = map.getSize();
  if (!size.x || !size.y) return;
  for (const axis of ['lat', 'lon']) {
    const [low, high, pixels] =
      axis === 'lat' ? [bounds.getSouth(), bounds.getNorth(), size.y] : [bounds.getWest(), bounds.getEast(), size.x];
    const step = roundStep(((high - low) / pixels) * LINES_APART_PX);
    const digits = Math.max(0, Math.ceil(-Math.log10(step) - 1e-9));
    for (let n = Math.ceil(low / step); n * step <= high; n += 1) {
      const at = n * step;
      const ends = axis === 'lat' ? [[at, bounds.getWest()], [at, bounds.getEast()]] : [[bounds.getSouth(), at], [bounds.getNorth(), at]];
      layer.addLayer(L.polyline(ends, { interactive: false, className: 'graticule' }));
      const side = axis === 'lat' ? (at < 0 ? 'S' : 'N') : at < 0 ? 'W' : 'E';
      const text = `${Math.abs(at).toFixed(digits)}° ${side}`;
      // No label where the scale, the north mark and the buttons stand.
      const inTheWay = axis === 'lat' ? map.latLngToContainerPoint([at, bounds.getWest()]).y > size.y - 56 : map.latLngToContainerPoint([bounds.getNorth(), at]).x > size.x - 170;
      if (inTheWay) continue;
      layer.addLayer(
        L.marker(axis === 'lat' ? [at, bounds.getWest()] : [bounds.getNorth(), at], {
          interactive: false,
          keyboard: false,
          icon: L.divIcon({ className: `graticule-word ${axis}`, html: piece('span', '', text), iconSize: null }),
        }),
      );
    }
  }
}

/** An element with a class and either a text or children; texts can never become markup. */
function piece(tag, kind, inside = []) {
  const el = document.createElement(tag);
  if (kind) el.className = kind;
  el.append(...[inside].flat());
  return el;
}

/** One outline of core/shapes.js as an SVG element. */
function drawing(d, solid = false) {
  const svg = document.createElementNS(SVG, 'svg');
  svg.setAttribute('class', 'icon');
  svg.setAttribute('viewBox', '0 0 24 24');
  svg.setAttribute('aria-hidden', 'true');
  const path = document.createElementNS(SVG, 'path');
  path.setAttribute('d', d);
  if (solid) path.setAttribute('fill', 'currentColor');
  svg.append(path);
  return svg;
}

/** Marker of a tree: the shape of its stage and its tag. */
function treeMarker(tree) {
  return L.marker([tree.lat, tree.lon], {
    riseOnHover: true,
    icon: L.divIcon({
      className: `map-tree ${tree.stage}`,
      html: piece('div', 'map-tree-in', [
        piece('span', 'map-shape', [drawing(STAGE_SHAPES[tree.stage] ?? STAGE_SHAPES.marked, tree.stage === 'working')]),
        piece('span', 'map-tag', tree.tag ?? ''),
      ]),
      iconSize: [48, 48],
      iconAnchor: [24, 24],
    }),
  });
}

function go(href) {
  if (href) globalThis.location.hash = href.replace(/^#/, '');
}

/** A marker that also answers Enter and Space, and tells screen readers what it is. */
function pressable(marker, name, onPress) {
  marker.on('click', onPress);
  marker.on('add', () => {
    const el = marker.getElement();
    el.setAttribute('role', 'button');
    el.setAttribute('aria-label', name);
    el.addEventListener('keydown', (ev) => {
      if (ev.key !== 'Enter' && ev.key !== ' ') return;
      ev.preventDefault();
      onPress();
    });
  });
  return marker;
}

/**
 * Open a map in an element of class "map". The element is emptied.
 * @param {HTMLElement} frame
 * @param {string} name what the map shows, for screen readers
 */
export function openMap(frame, name) {
  frame.replaceChildren();
  const paper = document.createElement('div');
  paper.className = 'map-paper';
  frame.append(paper);
  const still = globalThis.matchMedia('(prefers-reduced-motion: reduce)').matches;
  const map = L.map(paper, {
    attributionControl: false,
    trackResize: false, // the observer below sees every change of size, and stops with the map
    zoomControl: false,
    maxZoom: CLOSEST_ZOOM,
    zoomSnap: 0.5,
    zoomAnimation: !still,
    fadeAnimation: false,
    markerZoomAnimation: !still,
    inertia: !still,
    bounceAtZoomLimits: false,
    scrollWheelZoom: true,
    doubleClickZoom: false, // corners are set by taps: two quick ones must stay two corners
  });
  paper.setAttribute('role', 'region');
  paper.setAttribute('aria-label', `${name}. Arrow keys move it, plus and minus bring it nearer or further.`);
  map.setView([NO_GROUND.lat, NO_GROUND.lon], NO_GROUND.zoom);
  L.control.scale({ imperial: false, maxWidth: 140 }).addTo(map);

  const graticule = L.layerGroup().addTo(map);
  const around = L.featureGroup().addTo(map); // sites drawn only to find the way by
  const sites = L.featureGroup().addTo(map);
  const tracks = L.featureGroup().addTo(map);
  const trees = L.featureGroup().addTo(map);
  const me = L.featureGroup().addTo(map);
  const found = L.featureGroup().addTo(map);
  const corners = L.featureGroup().addTo(map);
  const redraw = () => {
    drawGraticule(map, graticule);
    paper.classList.toggle('far', map.getZoom() < TAGS_ZOOM);
  };
  map.on('moveend zoomend resize', redraw);
  redraw();

  const buttons = document.createElement('div');
  buttons.className = 'map-buttons';
  buttons.append(piece('span', 'map-north', [drawing(MAP_MARKS.north), piece('span', '', 'N')]));
  for (const [act, mark, words] of BUTTONS) {
    const button = piece('button', '', [drawing(MAP_MARKS[mark])]);
    button.type = 'button';
    button.dataset.map = act;
    button.setAttribute('aria-label', words);
    button.hidden = act === 'me';
    buttons.append(button);
  }
  frame.append(buttons);
  buttons.addEventListener('click', (ev) => {
    const act = ev.target.closest('[data-map]')?.dataset.map;
    if (act === 'nearer') map.zoomIn(1);
    if (act === 'further') map.zoomOut(1);
    if (act === 'all') fit();
    if (act === 'me' && me.getLayers().length) map.fitBounds(me.getBounds(), { maxZoom: FIT_ZOOM + 1 });
  });
  let fitNext = false; // what was drawn by hand is shown whole as soon as it is one of the sites
  let moved = false; // by hand: from then on the map is not moved by itself
  for (const type of ['pointerdown', 'keydown', 'wheel']) frame.addEventListener(type, () => { moved = true; }, { passive: true });
  const sizes = new ResizeObserver(() => map.invalidateSize({ pan: false }));
  sizes.observe(paper);

  /**
   * Bring everything drawn into view; where nothing is drawn yet, where the phone is, or else other ground that is known.
   * @param {(object|null)[]} [known] boundaries of other sites
   */
  function fit(known = []) {
    const all = L.latLngBounds([]);
    for (const layer of [sites, trees, tracks, corners]) if (layer.getLayers().length) all.extend(layer.getBounds());
    if (!all.isValid() && me.getLayers().length) all.extend(me.getBounds());
    if (!all.isValid() && around.getLayers().length) all.extend(around.getBounds());
    if (!all.isValid()) for (const ring of known.flatMap(ringsOf).flat()) for (const at of ring) all.extend(at);
    map.invalidateSize({ pan: false });
    if (all.isValid()) map.fitBounds(all, { paddingTopLeft: [48, 56], paddingBottomRight: [76, 48], maxZoom: FIT_ZOOM, animate: false });
  }

  /** Bring everything into view, unless the person has moved the map already. */
  function fitOnce() {
    if (!moved) fit();
  }

  /**
   * Draw sites: a double line, so that it stands out from light and dark ground alike, dashed where leave is not good.
   * @param {{id: string, name: string, boundary: object|null, kind?: 'good'|'ask'|'bad'|'around', href?: string}[]} list
   *   around: faint, and no reason to move the map
   */
  function showSites(list) {
    sites.clearLayers();
    around.clearLayers();
    for (const site of list) {
      const layer = site.kind === 'around' ? around : sites;
      const rings = ringsOf(site.boundary);
      if (!rings.length) continue;
      if (layer === sites) L.polygon(rings, { interactive: false, className: 'site-halo' }).addTo(sites);
      const line = L.polygon(rings, { interactive: false, className: `site-line ${site.kind ?? ''}` }).addTo(layer);
      const label = L.marker([line.getBounds().getNorth(), line.getBounds().getCenter().lng], {
        keyboard: Boolean(site.href),
        interactive: Boolean(site.href),
        icon: L.divIcon({ className: 'map-name', html: piece('span', '', site.name ?? 'site'), iconSize: null }),
      });
      (site.href ? pressable(label, `Site ${site.name}`, () => go(site.href)) : label).addTo(layer);
    }
    if (!fitNext) return;
    fitNext = false;
    fit();
  }

  /** Draw trees: @param {{tag: string|null, stage: string, word?: string, lat: number, lon: number, href?: string}[]} list */
  function showTrees(list) {
    trees.clearLayers();
    for (const tree of list) {
      pressable(treeMarker(tree), `Tree ${tree.tag ?? ''}, ${tree.word ?? tree.stage}`, () => go(tree.href)).addTo(trees);
    }
  }

  /** Draw walks: @param {{line: number[][]}[]} list lines of [lon, lat] */
  function showTracks(list) {
    tracks.clearLayers();
    for (const track of list) {
      if (track.line?.length > 1) L.polyline(track.line.map(([lon, lat]) => [lat, lon]), { interactive: false, className: 'walk-line' }).addTo(tracks);
    }
  }

  /** Draw where the phone is, with the circle of its accuracy; null takes it away. */
  function showMe(fix) {
    me.clearLayers();
    buttons.querySelector('[data-map="me"]').hidden = !fix;
    if (!fix) return;
    const here = [fix.lat, fix.lon];
    if (fix.accuracy_m !== null) L.circle(here, { radius: fix.accuracy_m, interactive: false, className: 'me-circle' }).addTo(me);
    L.marker(here, {
      interactive: false,
      keyboard: false,
      zIndexOffset: 1000, // over the trees one stands among
      icon: L.divIcon({ className: 'me-mark', html: drawing(MAP_MARKS.me), iconSize: [32, 32], iconAnchor: [16, 16] }),
    }).addTo(me);
  }

  /**
   * Draw a place somebody looks for, with the circle its figures leave open; null takes it away.
   * @param {{lat: number, lon: number, accuracy_m: number|null}|null} place @param {string} name for screen readers
   */
  function showPlace(place, name = '') {
    found.clearLayers();
    if (!place) return;
    const at = [place.lat, place.lon];
    if (place.accuracy_m !== null) L.circle(at, { radius: place.accuracy_m, interactive: false, className: 'found-circle' }).addTo(found);
    L.marker(at, {
      interactive: false,
      keyboard: false,
      alt: name,
      zIndexOffset: 900,
      icon: L.divIcon({ className: 'found-mark', html: drawing(MAP_MARKS.place), iconSize: [40, 40], iconAnchor: [20, 37] }),
    }).addTo(found);
  }

  /**
   * Draw an unfinished boundary: numbered corners, the one in hand marked.
   * @param {{lat: number, lon: number}[]} list @param {number|null} inHand @param {(i: number) => void} onPick
   */
  function showCorners(list, inHand, onPick) {
    corners.clearLayers();
    const line = list.map(({ lat, lon }) => [lat, lon]);
    if (line.length > 2) L.polygon(line, { interactive: false, className: 'site-halo' }).addTo(corners);
    if (line.length > 1) (line.length > 2 ? L.polygon : L.polyline)(line, { interactive: false, className: 'corner-line' }).addTo(corners);
    list.forEach((corner, i) => {
      const marker = L.marker([corner.lat, corner.lon], {
        icon: L.divIcon({
          className: `map-corner ${i === inHand ? 'in-hand' : ''}`,
          html: piece('span', '', String(i + 1)),
          iconSize: [48, 48],
          iconAnchor: [24, 24],
        }),
      });
      pressable(marker, `Corner ${i + 1}${i === inHand ? ', in hand' : ''}`, () => onPick(i)).addTo(corners);
    });
  }

  /**
   * While a boundary is drawn the map stays in sight, and begins near enough for corners to be told apart.
   * @param {boolean} on @param {{lat: number, lon: number}|null} [here] where the phone is
   */
  function keepInSight(on, here = null) {
    frame.classList.remove('drawing');
    frame.scrollIntoView({ block: 'start' }); // before it sticks, or it would seem to be there already
    frame.classList.toggle('drawing', on);
    fitNext = !on;
    if (on) {
      map.invalidateSize({ pan: false });
      if (corners.getLayers().length === 0 && sites.getLayers().length === 0) {
        if (here) lookAt(here);
        else if (map.getZoom() < START_ZOOM - 2) map.setZoom(START_ZOOM, { animate: false });
      }
    }
  }

  /** Call back with {lat, lon} for each tap on the ground; returns a stop. */
  function onTap(listener) {
    const tapped = (ev) => {
      const { lat, lng } = ev.latlng.wrap();
      listener({ lat, lon: lng });
    };
    map.on('click', tapped);
    return () => map.off('click', tapped);
  }

  /** The middle of the map, for placing a corner without a pointer. */
  function middle() {
    const { lat, lng } = map.getCenter().wrap();
    return { lat, lon: lng };
  }

  /** Bring one place into view without changing how near it is, unless it was far away. */
  function lookAt({ lat, lon }) {
    map.setView([lat, lon], Math.max(map.getZoom(), FIT_ZOOM - 1), { animate: false });
  }

  /** Take the map away with all its listeners. */
  function close() {
    sizes.disconnect();
    map.remove();
    frame.replaceChildren();
  }

  return { showSites, showTrees, showTracks, showMe, showPlace, showCorners, onTap, middle, lookAt, fit, fitOnce, keepInSight, close };
}
