/** What was folded open stays open when its part of a page is drawn anew. */

/** @param {Element} root the part @param {() => void} draw draws it; folds are known by their data-fold */
export function keepFolds(root, draw) {
  const open = [...root.querySelectorAll('details[open][data-fold]')].map((one) => one.dataset.fold);
  draw();
  for (const one of root.querySelectorAll('details[data-fold]')) if (open.includes(one.dataset.fold)) one.open = true;
}
