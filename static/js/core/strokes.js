/**
 * A signature as strokes on a box 1000 wide and 600 high, y down: whole numbers, thinned so that no eye sees a difference,
 * drawn the same at any size and on any side of a turned phone.
 */

/** The box that strokes are drawn on; its shape never changes, or a turned phone would cut them off. */
export const BOX = { width: 1000, height: 600 };
const MOST_POINTS = 2000; // of a whole signature: some 20 kB
const MOST_STROKES = 400; // own rule: nobody's name has more, and each keeps at least two points
const FIRST_TOLERANCE = 0.7; // of 1000: a third of a pixel on a phone
const LEAST_INK = 60; // own rule: less is a finger that slipped, no name and no cross

const isPoint = (point) => Array.isArray(point) && point.length === 2 && point.every(Number.isFinite);

/**
 * Strokes out of what is kept, whatever it is: what cannot be drawn is left out.
 * @param {*} value [[[x, y], ...], ...]
 * @returns {number[][][]}
 */
export function readStrokes(value) {
  if (!Array.isArray(value)) return [];
  return value.map((stroke) => (Array.isArray(stroke) ? stroke.filter(isPoint) : [])).filter((stroke) => stroke.length > 0);
}

/** A position on the box, whole and never outside. @returns {number[]} [x, y] */
export function boxPoint(x, y) {
  const within = (value, most) => Math.min(most, Math.max(0, Math.round(value)));
  return [within(x, BOX.width), within(y, BOX.height)];
}

function offLine([x, y], [ax, ay], [bx, by]) {
  const [dx, dy] = [bx - ax, by - ay];
  const length = Math.hypot(dx, dy);
  if (length === 0) return Math.hypot(x - ax, y - ay);
  const along = ((x - ax) * dx + (y - ay) * dy) / length ** 2;
  if (along <= 0) return Math.hypot(x - ax, y - ay);
  if (along >= 1) return Math.hypot(x - bx, y - by);
  return Math.abs((x - ax) * dy - (y - ay) * dx) / length;
}

/** The points that matter: no left-out one is further from the line than the tolerance (Douglas and Peucker 1973). */
function thinned(stroke, tolerance) {
  const kept = new Set([0, stroke.length - 1]);
  const open = [[0, stroke.length - 1]];
  while (open.length > 0) {
    const [from, to] = open.pop();
    let [far, at] = [tolerance, null];
    for (let i = from + 1; i < to; i += 1) {
      const off = offLine(stroke[i], stroke[from], stroke[to]);
      if (off > far) [far, at] = [off, i];
    }
    if (at === null) continue;
    kept.add(at);
    open.push([from, at], [at, to]);
  }
  return stroke.filter((_, i) => kept.has(i));
}

/**
 * Strokes with no more points than need be, and at most 2,000 in all.
 * @param {number[][][]} strokes as `readStrokes` gives them
 */
export function thinStrokes(strokes) {
  const some = strokes.slice(0, MOST_STROKES);
  let tolerance = FIRST_TOLERANCE;
  let thin = some.map((stroke) => thinned(stroke, tolerance));
  while (thin.reduce((sum, stroke) => sum + stroke.length, 0) > MOST_POINTS) {
    tolerance *= 2;
    thin = some.map((stroke) => thinned(stroke, tolerance)); // from the first ones: thinning the thinned adds up
  }
  return thin;
}

/** Whether somebody drew something: a dot of a finger that slipped is no signature. */
export function hasInk(strokes) {
  let length = 0;
  for (const stroke of strokes) {
    for (let i = 1; i < stroke.length; i += 1) length += Math.hypot(stroke[i][0] - stroke[i - 1][0], stroke[i][1] - stroke[i - 1][1]);
  }
  return length >= LEAST_INK;
}

/** One stroke as the path of a drawing: a smooth line through the middles between its points; a lone point is a dot. */
export function strokePath(stroke) {
  const [first, ...rest] = stroke;
  if (rest.length === 0) return `M${first[0]} ${first[1]}h.1`;
  let path = `M${first[0]} ${first[1]}`;
  for (let i = 1; i < stroke.length - 1; i += 1) {
    const [x, y] = stroke[i];
    const [nextX, nextY] = stroke[i + 1];
    path += `Q${x} ${y} ${(x + nextX) / 2} ${(y + nextY) / 2}`;
  }
  const [x, y] = stroke.at(-1);
  return `${path}L${x} ${y}`;
}
