/** The page on which a tree's task is seen to, where there is one that says more than the task. */

/**
 * @param {object} task of the pack; its id is `<tree>:<kind>:<step>:<n>`
 * @returns {{href: string, words: string}[]} none: the task says all there is
 */
export function pagesOfCare(task) {
  if (!task.tree) return [];
  const step = String(task.id).slice(task.tree.length + 1).split(':')[1] ?? '';
  if (step.startsWith('wire-')) return [{ href: `#/wire/${task.tree}`, words: 'Note what the look found' }];
  if (step === 'first-wire') return [{ href: `#/wire/${task.tree}`, words: 'Which wire?' }];
  return step.startsWith('frost-') || step === 'late-frost' ? [{ href: '#/cold', words: 'Cold tonight' }] : [];
}
