/** Temperatures of days in words. */

/** '−3.5 °C', with a true minus; null as 'not known'. */
export const degreesWords = (value) => (value === null ? 'not known' : `${String(value).replace('-', '−')} °C`);

/** A day in a few words: '−3.5 to 6 °C', or the one of the two that is known. @param {{low: number|null, high: number|null}} day */
export function dayWords({ low, high }) {
  if (low === null) return `highest ${degreesWords(high)}`;
  if (high === null) return `lowest ${degreesWords(low)}`;
  return `${degreesWords(low).replace(' °C', '')} to ${degreesWords(high)}`;
}
