/** Lengths of tree parts between the centimetres of the tape and the whole millimetres that are kept. */

/** Centimetres as typed -> whole mm; null stays null. */
export function cmToMm(cm) {
  return cm === null || cm === undefined ? null : Math.round(cm * 10);
}

/** Whole mm -> centimetres for a field; null stays null. */
export function mmToCm(mm) {
  return mm === null || mm === undefined ? null : mm / 10;
}

/** A girth or depth as it is read off the tape: 412 -> '41.2 cm'. Not known is said so. */
export function showCm(mm) {
  return mm === null || mm === undefined ? 'not known' : `${Number((mm / 10).toFixed(1))} cm`;
}
