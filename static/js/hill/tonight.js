/** The first evening of a lifted tree, as plain lines: what is told before home has made its dated plan. */

export const TONIGHT = [
  'Keep the ball wrapped, moist and out of wind and sun until it is boxed.',
  'Box it today if you can. Settle the soil in around the roots, and tie the tree so that it cannot rock.',
  'Water it once, thoroughly, then let it drain. No feed.',
  'Shade and shelter; cover the box if frost is coming.',
];

/** How a source was read, told in words: '[seen: abstract]' -> '(abstract read)'. */
export function plainSources(text) {
  return String(text ?? '')
    .replaceAll('[seen: abstract]', '(abstract read)')
    .replaceAll('[seen: second-hand]', '(told by another text)')
    .replaceAll('[seen]', '(read)')
    .replaceAll('[memory]', '(from memory, not looked up)');
}
