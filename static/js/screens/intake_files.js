/** The files of one intake: taken from pickers and drops, named by their bytes, and sent home piece by piece. */

import { uploadBlob } from '../upload.js';

const MAX_BYTES = 200 * 1024 * 1024; // a photo or track larger than this is none; own rule

const NO_USE_GOING_ON = new Set(['away', 'unpaired', 'not-home', 'server-fault', 'disk-full']);

/** Every file of a drop, folders walked through. */
export async function filesOfDrop(transfer) {
  const entries = [...transfer.items].map((item) => item.webkitGetAsEntry?.()).filter(Boolean); // at once: gone after the first await
  if (entries.length === 0) return [...transfer.files];
  const files = [];
  for (const entry of entries) await walk(entry, files);
  return files;
}

async function walk(entry, files) {
  if (entry.isFile) {
    files.push(await new Promise((resolve, reject) => { entry.file(resolve, reject); }));
    return;
  }
  const reader = entry.createReader();
  for (;;) {
    const some = await new Promise((resolve, reject) => { reader.readEntries(resolve, reject); });
    if (some.length === 0) return;
    for (const one of some) await walk(one, files);
  }
}

/** SHA-256 as lower-case hex. */
async function sha256Of(bytes) {
  const digest = await crypto.subtle.digest('SHA-256', bytes);
  return [...new Uint8Array(digest)].map((byte) => byte.toString(16).padStart(2, '0')).join('');
}

/**
 * Send files home, one after the other.
 * @param {File[]} files
 * @param {{onProgress: (state: {done: number, of: number, sent: number, bytes: number, name: string}) => void,
 *   signal: AbortSignal}} options stopped between two pieces; what is at home stays there and is not sent twice
 * @returns {Promise<{sent: {sha256: string, name: string, file: File}[], trouble: {name: string, text: string}[], stopped: boolean}>}
 */
export async function sendFiles(files, { onProgress, signal }) {
  const sent = [];
  const trouble = [];
  const bytes = files.reduce((sum, file) => sum + file.size, 0);
  let before = 0;
  for (const [done, file] of files.entries()) {
    if (signal.aborted) return { sent, trouble, stopped: true };
    const tell = (within) => onProgress({ done, of: files.length, sent: before + within, bytes, name: file.name });
    tell(0);
    try {
      if (file.size === 0) throw new Error('The file is empty.');
      if (file.size > MAX_BYTES) throw new Error('The file is too large to be a photo or a track.');
      const content = await file.arrayBuffer();
      const sha256 = await sha256Of(content);
      if (!sent.some((one) => one.sha256 === sha256)) {
        await uploadBlob(sha256, content, { onProgress: tell, signal });
        sent.push({ sha256, name: file.name, file });
      } else {
        trouble.push({ name: file.name, text: 'The same bytes as another file here: taken once.' });
      }
    } catch (fault) {
      if (signal.aborted) return { sent, trouble, stopped: true };
      if (NO_USE_GOING_ON.has(fault.code)) throw fault;
      trouble.push({ name: file.name, text: fault.name === 'NotReadableError' ? 'The file could not be read from its disk.' : fault.message });
    }
    before += file.size;
  }
  onProgress({ done: files.length, of: files.length, sent: bytes, bytes, name: '' });
  return { sent, trouble, stopped: signal.aborted };
}
