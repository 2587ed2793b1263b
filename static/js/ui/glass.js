/**
 * The glass: a field to sign on with a finger, a pen or a mouse. Strokes are kept as points of a box that is the same at any
 * size, so a turned phone changes nothing.
 */

import { BOX, boxPoint, readStrokes, strokePath, thinStrokes } from '../core/strokes.js';
import { html, on, render } from './html.js';
import { icon } from './icons.js';

const SVG = 'http://www.w3.org/2000/svg';

/**
 * Open a glass.
 * @param {Element} root where it stands
 * @param {{strokes: *, label: string, onChange: (strokes: number[][][]) => any}} how strokes: what was drawn before; onChange: after
 *   every stroke, and after undo and clear
 * @returns {{strokes: () => number[][][], close: () => void}}
 */
export function openGlass(root, { strokes: before, label, onChange }) {
  let strokes = readStrokes(before);
  let cleared = []; // what a press on Clear took away, for Undo
  let drawing = null; // {pointer, type, points, path}: the stroke under the finger
  render(root, html`<div class="glass-frame"><svg class="glass" viewBox="0 0 ${BOX.width} ${BOX.height}" role="img" aria-label="${label}" data-glass>
      <path class="glass-line" d="M60 460H940"/><path class="glass-cross" d="m70 380 50 50m0-50-50 50"/><g data-ink></g></svg></div>
    <div class="pick-row"><button type="button" class="button hill" data-glass-undo>${icon('undo')}Undo</button>
      <button type="button" class="button hill" data-glass-clear>${icon('bin')}Clear</button></div>`);
  const glass = root.querySelector('[data-glass]');
  const ink = root.querySelector('[data-ink]');

  function addPath(points) {
    const path = document.createElementNS(SVG, 'path');
    path.setAttribute('d', strokePath(points));
    ink.append(path);
    return path;
  }

  function drawAll() {
    ink.replaceChildren();
    for (const stroke of strokes) addPath(stroke);
    root.querySelector('[data-glass-undo]').disabled = strokes.length === 0 && cleared.length === 0;
    root.querySelector('[data-glass-clear]').disabled = strokes.length === 0;
  }

  function pointsOf(ev) {
    const toBox = glass.getScreenCTM().inverse();
    const some = ev.getCoalescedEvents?.() ?? [];
    return (some.length > 0 ? some : [ev]).map(({ clientX, clientY }) => {
      const { x, y } = new DOMPoint(clientX, clientY).matrixTransform(toBox);
      return boxPoint(x, y);
    });
  }

  function begin(ev) {
    if (ev.pointerType === 'mouse' && ev.button !== 0) return;
    ev.preventDefault();
    if (drawing && !(ev.pointerType === 'pen' && drawing.type === 'touch')) return; // one finger signs; the palm beside it does not
    drawing?.path.remove(); // the palm came before the pen
    const points = pointsOf(ev).slice(-1);
    drawing = { pointer: ev.pointerId, type: ev.pointerType, points, path: addPath(points) };
    glass.setPointerCapture(ev.pointerId);
  }

  function go(ev) {
    if (ev.pointerId !== drawing?.pointer) return;
    for (const point of pointsOf(ev)) {
      const [x, y] = drawing.points.at(-1);
      if (point[0] !== x || point[1] !== y) drawing.points.push(point);
    }
    drawing.path.setAttribute('d', strokePath(drawing.points));
  }

  function end(ev) {
    if (ev.pointerId !== drawing?.pointer) return;
    strokes = thinStrokes([...strokes, drawing.points]); // also where the system broke in: what was drawn is not lost
    [drawing, cleared] = [null, []];
    drawAll();
    onChange(strokes);
  }

  function set(some) {
    strokes = some;
    drawAll();
    onChange(strokes);
  }

  const still = (ev) => ev.preventDefault(); // older phones scroll, magnify or call a menu in spite of the style sheet
  const listens = { pointerdown: begin, pointermove: go, pointerup: end, pointercancel: end, lostpointercapture: end, touchstart: still, touchmove: still, contextmenu: still };
  for (const [type, listen] of Object.entries(listens)) glass.addEventListener(type, listen, { passive: false });
  const stops = [
    on(root, 'click', '[data-glass-undo]', () => {
      const back = strokes.length > 0 ? strokes.slice(0, -1) : cleared;
      cleared = [];
      set(back);
    }),
    on(root, 'click', '[data-glass-clear]', () => {
      cleared = strokes;
      set([]);
    }),
  ];
  drawAll();
  return {
    strokes: () => strokes,
    close: () => stops.forEach((stop) => stop()),
  };
}
