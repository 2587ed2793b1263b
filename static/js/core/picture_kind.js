/** What a file is by its first bytes: a name or a type that a phone tells may be wrong, the bytes are not. */

const STARTS = [
  ['image/jpeg', [0xff, 0xd8, 0xff]],
  ['image/png', [0x89, 0x50, 0x4e, 0x47, 0x0d, 0x0a, 0x1a, 0x0a]],
  ['image/gif', [0x47, 0x49, 0x46, 0x38]],
  ['image/tiff', [0x49, 0x49, 0x2a, 0x00]],
  ['image/tiff', [0x4d, 0x4d, 0x00, 0x2a]],
];
const BRANDS = new Map([
  ['heic', 'image/heic'], ['heix', 'image/heic'], ['hevc', 'image/heic'], ['hevx', 'image/heic'],
  ['mif1', 'image/heif'], ['msf1', 'image/heif'], ['avif', 'image/avif'], ['avis', 'image/avif'],
]);

/**
 * The kind of a picture.
 * @param {ArrayBuffer} bytes of the file, or at least its first 16
 * @returns {string|null} a media type; null when it is no picture that is known here
 */
export function pictureKind(bytes) {
  const head = new Uint8Array(bytes, 0, Math.min(16, bytes.byteLength));
  const text = (from, to) => String.fromCharCode(...head.slice(from, to));
  const found = STARTS.find(([, start]) => start.every((byte, i) => head[i] === byte));
  if (found) return found[0];
  if (text(0, 4) === 'RIFF' && text(8, 12) === 'WEBP') return 'image/webp';
  if (text(4, 8) === 'ftyp') return BRANDS.get(text(8, 12)) ?? null;
  return null;
}

const PDF_START = '%PDF-';

/**
 * The kind of a paper: a picture of it, or the document itself.
 * @param {ArrayBuffer} bytes of the file, or at least its first 16
 * @returns {string|null} a media type; null when it is neither
 */
export function paperKind(bytes) {
  const head = new Uint8Array(bytes, 0, Math.min(PDF_START.length, bytes.byteLength));
  return String.fromCharCode(...head) === PDF_START ? 'application/pdf' : pictureKind(bytes);
}
