/**
 * The sketch of an intake: walks as lines, photos as numbers on them, trees that are kept as rings. It is moved with the
 * finger, brought nearer with its buttons, and tapped: on a photo to choose it, or anywhere to say where one was taken.
 */

import { metresPerDegree, wrapLon } from '../core/geodesy.js';
import { html, on, render } from '../ui/html.js';
import { icon } from '../ui/icons.js';

const EDGE = 44; // px kept free around what is fitted
const LEAST_M = 60; // less ground than this tells nothing about where it is
const CLOSEST = 20; // px a metre
const STEP = 1.6;
const TAP_PX = 24; // a finger
const HOVER_PX = 14;
const DRAG_PX = 6;
const TAP_SURE_PX = 8; // how surely a spot is tapped; common practice
const LEAST_SURE_M = 3; // nobody knows where they stood any better
const NICE_M = [1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 2000, 5000, 10_000, 20_000, 50_000];

/**
 * Open the sketch in its place.
 * @param {Element} place
 * @param {{onChoose: (sha256: string) => any, onPlace: (place: {lat: number, lon: number, accuracy_m: number, told: string}) => any,
 *   onHover: (sha256: string|null) => any}} handlers onPlace: only while something is being moved
 */
export function openSketch(place, { onChoose, onPlace, onHover }) {
  let what = { photos: [], page: new Map(), lines: [], trees: [], chosen: null, moving: false };
  let view = null; // {lat, lon, scale: px a metre}
  let hovered = null;
  let drag = null;
  let frame = null;
  const size = { wide: 600, high: 380 };
  render(place, html`<div class="sketch"><svg class="intake-sketch" role="img"></svg>
    <div class="sketch-buttons"><button type="button" class="button" data-zoom="nearer" aria-label="Bring the sketch nearer">${icon('plus')}</button>
      <button type="button" class="button" data-zoom="further" aria-label="Move the sketch away">${icon('minus')}</button>
      <button type="button" class="button" data-zoom="all">All</button></div></div>`);
  const svg = place.querySelector('svg');

  const unit = () => metresPerDegree(view.lat);
  const toXy = (p) => {
    const [northM, eastM] = unit();
    return [size.wide / 2 + wrapLon(p.lon - view.lon) * eastM * view.scale, size.high / 2 - (p.lat - view.lat) * northM * view.scale];
  };
  const toPlace = (x, y) => {
    const [northM, eastM] = unit();
    return { lat: view.lat - (y - size.high / 2) / view.scale / northM, lon: wrapLon(view.lon + (x - size.wide / 2) / view.scale / eastM) };
  };

  function fit(points) {
    if (points.length === 0) return;
    const { lon: zero } = points[0];
    let [south, north, west, east] = [90, -90, 360, -360];
    for (const p of points) {
      const lon = wrapLon(p.lon - zero);
      south = Math.min(south, p.lat);
      north = Math.max(north, p.lat);
      west = Math.min(west, lon);
      east = Math.max(east, lon);
    }
    view = { lat: (south + north) / 2, lon: wrapLon(zero + (west + east) / 2), scale: 1 };
    const [northM, eastM] = unit();
    view.scale = Math.min(CLOSEST, (size.wide - 2 * EDGE) / Math.max(LEAST_M, (east - west) * eastM), (size.high - 2 * EDGE) / Math.max(LEAST_M / 2, (north - south) * northM));
  }

  const linePoints = () => what.lines.flat().map(([lon, lat]) => ({ lat, lon }));
  /** Everything: the photos, and the walks where there are any. */
  const fitAll = () => fit([...what.photos, ...linePoints()]);

  function near(x, y, withinPx) {
    return what.photos.map((p) => ({ p, away: Math.hypot(...toXy(p).map((v, i) => v - [x, y][i])) })).filter(({ away }) => away <= withinPx)
      .sort((a, b) => Number(what.page.has(b.p.sha256)) - Number(what.page.has(a.p.sha256)) || a.away - b.away).map(({ p }) => p);
  }

  function numbers() {
    const taken = [];
    const first = (p) => (p.sha256 === what.chosen ? 2 : p.sha256 === hovered ? 1 : 0);
    // The chosen one has its number first; where two would lie on each other, the later one stays a dot until one goes nearer.
    const shown = what.photos.filter((p) => what.page.has(p.sha256) || first(p) > 0).sort((a, b) => first(b) - first(a));
    const drawn = shown.map((p) => {
      const [x, y] = toXy(p);
      const wide = 14 + 10 * String(p.n).length;
      const covered = taken.some((t) => Math.abs(t.x - x) < (t.wide + wide) / 2 && Math.abs(t.y - y) < 26);
      if (!covered) taken.push({ x, y, wide });
      const kind = `shot ${p.state} ${p.sha256 === what.chosen ? 'chosen' : ''} ${p.sha256 === hovered ? 'hovered' : ''}`;
      return covered
        ? html`<circle class="${kind} dot" data-dot="${p.n}" cx="${x.toFixed(1)}" cy="${y.toFixed(1)}" r="6"/>`
        : html`<g class="${kind}" data-dot="${p.n}" data-x="${x.toFixed(1)}" data-y="${y.toFixed(1)}"><rect x="${(x - wide / 2).toFixed(1)}" y="${(y - 13).toFixed(1)}" width="${wide}" height="26" rx="13"/><text x="${x.toFixed(1)}" y="${(y + 5.5).toFixed(1)}" text-anchor="middle">${p.n}</text></g>`;
    });
    return drawn.reverse();
  }

  /** The circles of how unsure a place is: of the chosen photo and the one under the pointer; those of a whole page hide it all. */
  function circles() {
    const some = what.page.size <= 12 ? what.page : new Map();
    return what.photos.filter((p) => p.accuracy_m !== null && (some.has(p.sha256) || p.sha256 === what.chosen || p.sha256 === hovered)).map((p) => {
      const [x, y] = toXy(p);
      return html`<circle class="unsure ${p.sha256 === what.chosen || p.sha256 === hovered ? 'strong' : ''}" data-unsure="${p.n}" cx="${x.toFixed(1)}" cy="${y.toFixed(1)}" r="${Math.max(2, p.accuracy_m * view.scale).toFixed(1)}"/>`;
    });
  }

  function draw() {
    frame = null;
    if (!view) {
      render(svg, html`<text class="scale-word" x="12" y="28">Nothing has a place yet.</text>`);
      return;
    }
    const path = (points) => points.map((p, i) => `${i === 0 ? 'M' : 'L'}${toXy(p).map((v) => v.toFixed(1)).join(' ')}`).join('');
    // All the other photos in one path: thousands of them cost no more than a line.
    const rest = what.photos.filter((p) => !what.page.has(p.sha256)).map((p) => `M${toXy(p).map((v) => v.toFixed(1)).join(' ')}h0`).join('');
    const trees = what.trees.map((tree) => ({ tree, xy: toXy(tree) })).filter(({ xy: [x, y] }) => x > 0 && x < size.wide && y > 0 && y < size.high);
    const tags = trees.length <= 40;
    const bar = NICE_M.findLast((m) => m * view.scale <= size.wide / 4) ?? NICE_M[0];
    svg.setAttribute('viewBox', `0 0 ${size.wide} ${size.high}`);
    svg.setAttribute('aria-label', `Sketch of ${what.photos.length} placed photos and ${what.lines.length} walks; the list says the same in words`);
    svg.classList.toggle('moving', what.moving);
    render(svg, html`
      ${what.lines.map((line) => html`<path class="walk" d="${path(line.map(([lon, lat]) => ({ lat, lon })))}"/>`)}
      ${rest && html`<path class="rest" d="${rest}"/>`}
      ${circles()}
      ${trees.map(({ tree, xy: [x, y] }) => html`<circle class="kept" cx="${x.toFixed(1)}" cy="${y.toFixed(1)}" r="9"/>${tags && html`<text class="kept-tag" x="${x.toFixed(1)}" y="${(y - 13).toFixed(1)}" text-anchor="middle">${tree.tag}</text>`}`)}
      ${numbers()}
      <path class="scale" d="M12 ${size.high - 12}v-6v6h${(bar * view.scale).toFixed(1)}v-6"/><text class="scale-word" x="16" y="${size.high - 18}">${bar < 1000 ? `${bar} m` : `${bar / 1000} km`}</text>
      <path class="north" d="M20 36V14l-6 9M20 14l6 9"/>`);
  }

  const soon = () => { frame ??= requestAnimationFrame(draw); };

  function zoom(times, x = size.wide / 2, y = size.high / 2) {
    if (!view) return;
    const held = toPlace(x, y);
    view.scale = Math.min(CLOSEST, Math.max(0.001, view.scale * times));
    const [nowX, nowY] = toXy(held);
    Object.assign(view, toPlace(size.wide / 2 + nowX - x, size.high / 2 + nowY - y));
    soon();
  }

  const spot = (ev) => {
    const box = svg.getBoundingClientRect();
    return [((ev.clientX - box.left) * size.wide) / box.width, ((ev.clientY - box.top) * size.high) / box.height];
  };

  function tapped(x, y) {
    if (what.moving) {
      onPlace({ ...toPlace(x, y), accuracy_m: Math.max(LEAST_SURE_M, Math.round(TAP_SURE_PX / view.scale)), told: 'tap' });
      return;
    }
    const found = near(x, y, TAP_PX);
    if (found.length === 0) return;
    // Where several lie on each other, each tap is the next of them.
    const at = found.findIndex((p) => p.sha256 === what.chosen);
    onChoose(found[(at + 1) % found.length].sha256);
  }

  function hover(sha256) {
    if (sha256 === hovered) return;
    hovered = sha256;
    soon();
  }

  const stops = [
    on(place, 'click', '[data-zoom]', (ev, el) => {
      if (el.dataset.zoom === 'all') {
        fitAll();
        soon();
      } else {
        zoom(el.dataset.zoom === 'nearer' ? STEP : 1 / STEP);
      }
    }),
    on(svg, 'pointerdown', 'svg', (ev) => {
      if (!view || ev.button !== 0) return;
      drag = { from: spot(ev), at: { ...view }, far: false };
      svg.setPointerCapture(ev.pointerId);
    }),
    on(svg, 'pointermove', 'svg', (ev) => {
      if (!view) return;
      const [x, y] = spot(ev);
      if (!drag) {
        const sha256 = what.moving ? null : near(x, y, HOVER_PX)[0]?.sha256 ?? null;
        if (sha256 !== hovered) {
          hover(sha256);
          onHover(sha256);
        }
        return;
      }
      const [dx, dy] = [x - drag.from[0], y - drag.from[1]];
      if (Math.hypot(dx, dy) > DRAG_PX) drag.far = true;
      if (!drag.far) return;
      view = { ...drag.at };
      Object.assign(view, toPlace(size.wide / 2 - dx, size.high / 2 - dy));
      soon();
    }),
    on(svg, 'pointerup', 'svg', (ev) => {
      const was = drag;
      drag = null;
      if (was && !was.far) tapped(...spot(ev));
    }),
    on(svg, 'pointercancel', 'svg', () => { drag = null; }),
    on(svg, 'wheel', 'svg', (ev) => {
      if (!ev.ctrlKey) return; // the wheel alone moves the page
      ev.preventDefault();
      zoom(ev.deltaY < 0 ? STEP : 1 / STEP, ...spot(ev));
    }),
  ];
  const leave = () => {
    hover(null);
    onHover(null);
  };
  svg.addEventListener('pointerleave', leave);

  /** Take the room there is; a tap must never meet a sketch that is about to change its size under the finger. */
  function measure() {
    const wide = Math.round(svg.clientWidth);
    if (wide < 50) return;
    const high = Math.round(Math.min(520, Math.max(260, wide * 0.8)));
    if (wide === size.wide && high === size.high && svg.hasAttribute('viewBox')) return;
    if (view) view.scale *= wide / size.wide;
    Object.assign(size, { wide, high });
    svg.setAttribute('viewBox', `0 0 ${wide} ${high}`);
    soon();
  }
  measure();
  const watcher = new ResizeObserver(measure);
  watcher.observe(svg);

  return {
    /**
     * Show photos, walks and trees.
     * @param {{photos: {sha256: string, n: number, lat: number, lon: number, accuracy_m: number|null, state: string}[],
     *   page: Map<string, any>, lines: number[][][], trees: {tag: string, lat: number, lon: number}[], chosen: string|null,
     *   moving: boolean}} now page: the photos that are shown with their numbers
     */
    show(now) {
      const fresh = now.photos.length + now.lines.length > 0 && (view === null || what.photos.length === 0);
      what = now;
      if (fresh) fitAll();
      soon();
    },
    /** Show which photo the pointer is on in the list. */
    hover,
    /** Bring one place into sight, if it is not. */
    reach(p) {
      if (!view) return;
      const [x, y] = toXy(p);
      if (x > EDGE && x < size.wide - EDGE && y > EDGE && y < size.high - EDGE) return;
      Object.assign(view, { lat: p.lat, lon: p.lon });
      soon();
    },
    close() {
      stops.forEach((stop) => stop());
      svg.removeEventListener('pointerleave', leave);
      watcher.disconnect();
      if (frame !== null) cancelAnimationFrame(frame);
    },
  };
}
