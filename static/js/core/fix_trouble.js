/** Why there is no position, in sentences: what the receiver's side says and the panel tells apart by its code. */

export const FIX_TROUBLE = Object.freeze({
  none: 'This window cannot ask for a position. Open Fellside by its secure address (https).',
  denied: 'Fellside may not see your position. Allow it in the phone’s settings, under location, for this app or for the browser it was put on the phone with; then come back here.',
  searching: 'Still searching for your position.',
  slow: 'Still searching for your position. Under trees or in a gully it can take minutes.',
});

/**
 * What kind of trouble it is.
 * @param {{code?: string, message: string}|string|null} trouble as the receiver's side gave it, or its sentence alone
 * @returns {'denied'|'none'|'searching'} a sentence that is not known here is one of a search that goes on
 */
export function fixTroubleCode(trouble) {
  if (trouble?.code) return trouble.code;
  return ['denied', 'none'].find((code) => FIX_TROUBLE[code] === trouble) ?? 'searching';
}
