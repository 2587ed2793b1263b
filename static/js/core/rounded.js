/** Numbers as text, rounded as Python rounds them: what lies exactly in the middle goes to the even digit. */

/**
 * A number with so many digits after the point.
 * @param {number} value @param {number} digits
 * @returns {string}
 */
export function fixed(value, digits) {
  const scaled = value * 10 ** digits;
  const isTie = Number.isInteger(value * 2 ** (digits + 1)) && Math.abs(scaled % 1) === 0.5;
  return isTie ? ((2 * Math.round(scaled / 2)) / 10 ** digits).toFixed(digits) : value.toFixed(digits);
}

/** A number as a person writes it: at most six figures, no noughts at its end. */
export const plainNumber = (value) => String(Number(value.toPrecision(6)));
