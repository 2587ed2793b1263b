/** Giving a file to the person: the browser puts it with the downloads, or asks where to. */

const READ_MS = 60_000; // the browser may still be reading it

/** @param {Blob} blob @param {string} name of the file */
export function handOver(blob, name) {
  const link = document.createElement('a');
  link.href = URL.createObjectURL(blob);
  link.download = name;
  document.body.append(link);
  link.click();
  link.remove();
  setTimeout(() => URL.revokeObjectURL(link.href), READ_MS);
}
