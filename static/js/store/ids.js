/** Names, times and zones for new changes: what the edge of the machine has to tell. */

/** A new random id, lower-case UUID4; also where the page has no secure context. */
export function newId() {
  if (globalThis.crypto.randomUUID) return crypto.randomUUID();
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  bytes[6] = (bytes[6] & 0x0f) | 0x40;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, '0')).join('');
  return hex.replace(/^(.{8})(.{4})(.{4})(.{4})(.{12})$/, '$1-$2-$3-$4-$5');
}

/**
 * This phone's offset from UTC at an instant, as '+01:00'.
 * @param {Date} at
 * @returns {string}
 */
export function offsetText(at) {
  const minutes = -at.getTimezoneOffset();
  const size = Math.abs(minutes);
  const two = (n) => String(n).padStart(2, '0');
  return `${minutes < 0 ? '-' : '+'}${two(Math.floor(size / 60))}:${two(size % 60)}`;
}
