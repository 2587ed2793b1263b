/** Papers that prove a leave or a consent: a picture or a PDF read at once after it was picked, and the record that comes of it. */

import { paperKind } from '../core/picture_kind.js';
import { readPhotoFile } from '../device.js';
import { getPhoto, isKeptHere, keepOfHome, listRecords, recordsWhere, saveChange, saveChanges } from '../store.js';

const MOST_MB = 25; // own rule: larger ones take minutes on a hill's line, and a letter never is
const MB = 1024 * 1024;
const UNASKED_MB = 5; // own rule: larger ones come when their leave is opened, so that they do not fill a phone unasked
const TAIL = 2048; // a PDF ends with its end mark, perhaps with a few signs after it
const PDF = 'application/pdf';

/** Whether a paper is the document itself and no picture. @param {object} fields of a paper record */
export const isPdf = (fields) => fields.media_type === PDF;

async function hashOf(bytes) {
  const digest = new Uint8Array(await crypto.subtle.digest('SHA-256', bytes));
  return [...digest].map((byte) => byte.toString(16).padStart(2, '0')).join('');
}

async function readPdf(file) {
  if (!globalThis.crypto?.subtle) throw new Error('Papers can only be kept by the secure address (https) of home.');
  let bytes;
  try {
    bytes = await file.arrayBuffer();
  } catch (cause) {
    throw new Error('The phone took this file back before it could be read. Choose it once more.', { cause });
  }
  const sha256 = await hashOf(bytes);
  const tail = String.fromCharCode(...new Uint8Array(bytes.slice(-TAIL)));
  const doubt = tail.includes('%%EOF') ? null : 'This PDF seems to be cut off. It is kept; open it and see whether it is whole.';
  return { sha256, bytes, type: PDF, size: bytes.byteLength, thumb: undefined, doubt };
}

/**
 * Read one paper from a file input.
 * @param {File} file
 * @returns {Promise<{sha256: string, bytes: ArrayBuffer, type: string, size: number, thumb: ArrayBuffer|undefined, doubt: string|null,
 *   name: string}>} doubt: a sentence to show; the paper is kept all the same
 * @throws {Error} with a sentence when it is too large, empty, unreadable, or neither a picture nor a PDF by what is in it
 */
export async function readPaperFile(file) {
  const called = file.name ? `“${file.name}”` : 'This file';
  if (file.size > MOST_MB * MB) throw new Error(`${called} has ${Math.ceil(file.size / MB)} MB; a paper has at most ${MOST_MB}. Photograph it, or save it smaller.`);
  const kind = file.size === 0 ? null : await file.slice(0, 16).arrayBuffer().then(paperKind, () => null);
  if (file.size > 0 && kind === null) throw new Error(`${called} is neither a picture nor a PDF. Photograph the paper, or choose its PDF.`);
  const read = kind === PDF ? await readPdf(file) : await readPhotoFile(file);
  return { ...read, name: file.name };
}

/**
 * Keep a paper: its record and its bytes in one go.
 * @param {object} paper what readPaperFile gave
 * @param {{leave?: string, consent?: string}} of what it proves @param {string} on 'YYYY-MM-DD'
 * @returns {Promise<string>} id of the record
 * @throws {Error} with a sentence, also when there was no room for the bytes: then nothing of it stays
 */
export async function keepPaper(paper, of, on) {
  const set = { ...of, sha256: paper.sha256, media_type: paper.type, size_bytes: paper.size, file_name: paper.name || null, added_on: on };
  const recs = await saveChanges([{ type: 'paper', set }], { photos: [{ sha256: paper.sha256, bytes: paper.bytes, type: paper.type, thumb: paper.thumb }] });
  if (recs.photos_refused.length) {
    await saveChange({ rec: recs[0], type: 'paper', set: { deleted: true } }); // a record alone proves nothing
    throw new Error('There is no room on this phone for it. Make room, then take it again.');
  }
  return recs[0];
}

/**
 * Keep the bytes of a paper that came from home, so that it can be shown at the gate with no signal.
 * @returns {Promise<boolean>} false: they are not what their name says, there is no way here to tell, or no room; nothing was kept
 */
export async function keepFromHome(sha256, { bytes, type }) {
  if (!globalThis.crypto?.subtle || (await hashOf(bytes)) !== sha256) return false;
  return keepOfHome({ sha256, bytes, type });
}

/**
 * Bring papers that are only at home to this phone, as long as home answers: at the gate there may be no signal.
 * @param {{fields: object, here: boolean}[]} papers what readPapers gave
 * @returns {Promise<number>} how many came
 */
export async function bringPapers(papers) {
  let came = 0;
  if (!navigator.onLine) return came;
  for (const { fields } of papers.filter(({ here }) => !here)) {
    const got = await getPhoto(fields.sha256);
    if (!got) return came;
    if (await keepFromHome(fields.sha256, { bytes: got.bytes, type: fields.media_type ?? got.type })) came += 1;
  }
  return came;
}

/** Whether a leave or consent may still be asked for on a day. @param {object} fields @param {string} on 'YYYY-MM-DD' */
function isInForce(fields, on) {
  const last = fields.until ?? fields.ends_on ?? null;
  return !(last && last < on) && !(fields.withdrawn_on && fields.withdrawn_on <= on);
}

/**
 * Bring the papers of every leave and consent in force, also of those that nobody opens before the day.
 * @param {string} on 'YYYY-MM-DD'
 * @returns {Promise<number>} how many came
 */
export async function bringPapersInForce(on) {
  const [leaves, consents, papers] = await Promise.all(['leave', 'consent', 'paper'].map(listRecords));
  const live = new Set([...leaves, ...consents].filter(({ fields }) => isInForce(fields, on)).map(({ id }) => id));
  const named = leaves.filter(({ id, fields }) => live.has(id) && fields.paper).map(({ fields }) => ({ fields: { sha256: fields.paper } }));
  const wanted = [...papers.filter(({ fields }) => (live.has(fields.leave) || live.has(fields.consent)) && (fields.size_bytes ?? 0) <= UNASKED_MB * MB), ...named];
  return bringPapers(await Promise.all(wanted.map(async ({ fields }) => ({ fields, here: await isKeptHere(fields.sha256) }))));
}

/**
 * The papers of a leave or a consent, the newest first.
 * @param {{leave?: string, consent?: string}} of @param {string|null} [old] hash of the one photo that an older leave names itself
 * @returns {Promise<{id: string|null, fields: object, here: boolean}[]>} id null: the one that the leave itself names; here: its
 *   bytes are on this phone
 */
export async function readPapers(of, old = null) {
  const [[name, id]] = Object.entries(of);
  const papers = await recordsWhere('paper', name, id);
  papers.sort((a, b) => String(b.fields.added_on ?? '').localeCompare(String(a.fields.added_on ?? '')) || (a.id < b.id ? -1 : 1));
  const known = papers.some(({ fields }) => fields.sha256 === old);
  const all = old && !known ? [...papers, { id: null, fields: { sha256: old } }] : papers;
  return Promise.all(all.map(async ({ id: rec, fields }) => ({ id: rec, fields, here: await isKeptHere(fields.sha256) })));
}
