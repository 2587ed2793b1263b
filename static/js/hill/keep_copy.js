/** A copy of what this phone keeps, as files that leave it: whole zips of their own, of at most about 100 MB each. */

import { crc32, listOfMembers, memberHead } from '../core/zip.js';
import { appVersion } from '../store/app_version.js';
import { noteCopyKept, readForCopy } from '../store/copy.js';
import { getOwnBytes } from '../store/photos.js';

const FORM = 1;
const MOST_PART = 100 * 1024 * 1024; // own rule: more is too much for one message, and for a phone with little memory
const MOST_MEMBERS = 5000;
const FIRST = 'READ-ME.txt';
const WORDS = `This is a copy of what one phone kept in Fellside: its journal of changes, and photos.

    At home: House, Copy and room, Bring a copy home
    or:      fellside take-copy FILE

It is taken in beside what is there; nothing is overwritten, and twice the same changes nothing. Photos lie under photos/,
each named by the SHA-256 of its content. Where trees stand is in here: keep it as you would keep the log itself.
`;

const hex = (buffer) => [...new Uint8Array(buffer)].map((byte) => byte.toString(16).padStart(2, '0')).join('');
const sha256Hex = async (bytes) => hex(await crypto.subtle.digest('SHA-256', bytes));

/**
 * Look at everything and lay out the parts. Nothing large is in memory afterwards.
 * @param {{all: boolean, mostPart?: number}} options all: also the photos that home has; mostPart: bytes
 * @returns {Promise<object>} the plan: `parts`, `changes`, `photos`, `bytes`, `made_at`
 */
export async function planCopy({ all, mostPart = MOST_PART }) {
  if (!globalThis.crypto?.subtle) throw new Error('A copy can only be made by the secure address (https) of home.');
  const { pieces, photos: known, ...facts } = await readForCopy();
  const photos = known.filter((one) => all || !one.home)
    .sort((a, b) => Number(a.home) - Number(b.home) || (a.kept_at < b.kept_at ? -1 : 1)); // what home lacks goes first
  const members = [
    ...pieces.map((blob, i) => ({ name: `journal/${String(i + 1).padStart(4, '0')}.jsonl`, size: blob.size, blob })),
    ...photos.map(({ sha256, size }) => ({ name: `photos/${sha256.slice(0, 2)}/${sha256}`, size, sha256 })),
  ];
  const parts = [[]];
  let size = 0;
  for (const member of members) {
    if (parts.at(-1).length > 0 && (size + member.size > mostPart || parts.at(-1).length === MOST_MEMBERS)) {
      parts.push([]);
      size = 0;
    }
    parts.at(-1).push(member);
    size += member.size;
  }
  const bytes = members.reduce((sum, member) => sum + member.size, 0);
  return { ...facts, made_at: new Date().toISOString(), version: await appVersion(), all, parts, photos: photos.length, bytes };
}

/** The bytes of a member, the only ones of its part that are in memory; null for a photo that is gone. */
async function bytesOf(member) {
  const buffer = member.blob ? await member.blob.arrayBuffer() : await getOwnBytes(member.sha256);
  return buffer && new Uint8Array(buffer);
}

const two = (n) => String(n).padStart(2, '0');

/** What a part is called: the day and time of the copy by the phone's clock, and which part it is. */
export function partName(madeAt, n, of) {
  const at = new Date(madeAt);
  const day = [at.getFullYear(), two(at.getMonth() + 1), two(at.getDate())].join('-');
  return `fellside-copy-${day}-${two(at.getHours())}${two(at.getMinutes())}${of > 1 ? `-${n}-of-${of}` : ''}.zip`;
}

/**
 * Make one part. What was put into it lies with the browser, not in this page's memory.
 * @param {object} plan of `planCopy`
 * @param {number} n the first is 1
 * @param {{onProgress?: (done: number, of: number) => any, signal?: AbortSignal|null}} [options] members
 * @returns {Promise<{file: File, missing: string[]}>} missing: hashes of photos whose bytes are no longer here
 */
export async function makePart(plan, n, { onProgress = () => {}, signal = null } = {}) {
  const pieces = [];
  const written = [];
  const told = {};
  const missing = [];
  let at = 0;
  const put = (bytes) => {
    pieces.push(new Blob([bytes])); // given to the browser at once, so that no second photo is held here
    at += bytes.length;
  };
  const add = (name, bytes) => {
    const member = { name, crc: crc32(bytes), size: bytes.length, at };
    put(memberHead(member));
    put(bytes);
    written.push(member);
  };
  const addTold = async (name, bytes) => {
    add(name, bytes);
    told[name] = { sha256: await sha256Hex(bytes), size_bytes: bytes.length };
  };
  await addTold(FIRST, new TextEncoder().encode(WORDS));
  const members = plan.parts[n - 1];
  for (const [i, member] of members.entries()) {
    signal?.throwIfAborted();
    onProgress(i, members.length);
    const bytes = await bytesOf(member);
    if (bytes === null) missing.push(member.sha256);
    else await addTold(member.name, bytes);
  }
  const { made_at, device, version, pack, epoch, have, changes, photos, all } = plan;
  const facts = { fellside_copy: FORM, made_at, device, version, pack, epoch, have, changes, photos, all_photos: all, part: n, parts: plan.parts.length };
  const manifest = new TextEncoder().encode(JSON.stringify({ ...facts, members: told }, null, 1));
  add('manifest.json', manifest);
  for (const bytes of listOfMembers(written, at, `manifest sha256 ${await sha256Hex(manifest)}`)) put(bytes);
  onProgress(members.length, members.length);
  const file = new File(pieces, partName(made_at, n, plan.parts.length), { type: 'application/zip' });
  try {
    await file.slice(-1).arrayBuffer(); // on a full phone the browser may have lost what it was given
  } catch (cause) {
    throw new Error('There is not enough room to put it together. Make room first, or put in fewer photos.', { cause });
  }
  return { file, missing };
}

/** Whether this phone can hand a file on to another app. */
export function canHandOn(file) {
  return Boolean(navigator.canShare?.({ files: [file] }) && navigator.share);
}

/**
 * Hand a part on to another app, as the phone's own sheet offers it.
 * @returns {Promise<boolean>} false when the person closed the sheet
 */
export async function handOn(file) {
  try {
    await navigator.share({ files: [file] });
    return true;
  } catch (fault) {
    if (fault.name === 'AbortError') return false;
    throw fault;
  }
}

/** Note that all parts of a copy have left. */
export function copyLeft(plan, missing) {
  return noteCopyKept({ at: plan.made_at, changes: plan.changes, photos: plan.photos - missing, have: plan.have });
}
