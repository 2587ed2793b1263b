/** Where a tree stands now: twin of field/core/stands_at.py, where the rule stands in words. */

/**
 * The garden where trees stand unless told otherwise.
 * @param {{id: string, fields: object}[]} gardens merged records
 * @returns {string|null}
 */
export function mainGarden(gardens) {
  const main = gardens.filter(({ fields }) => fields.is_main === true).map(({ id }) => id).sort();
  if (main.length > 0) return main[0];
  return gardens.length === 1 ? gardens[0].id : null;
}

/**
 * The garden or site where a tree stands.
 * @param {object} tree merged fields
 * @param {boolean} isLifted
 * @param {{id: string, fields: object}[]} gardens merged records
 * @returns {string|null} id
 */
export function standsAt(tree, isLifted, gardens) {
  if (gardens.some(({ id }) => id === tree.stands_at)) return tree.stands_at;
  const main = mainGarden(gardens);
  if (main !== null && (isLifted || tree.origin === 'client')) return main;
  return tree.site ?? null;
}
