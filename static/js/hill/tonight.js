/** The first evening of a lifted tree, as plain lines: what is told before home has made its dated plan. */

export const TONIGHT = [
  'Keep the ball wrapped, moist and out of wind and sun until it is boxed.',
  'Box it today if you can. Settle the soil in around the roots, and tie the tree so that it cannot rock.',
  'Water it once, thoroughly, then let it drain. No feed.',
  'Shade and shelter; cover the box if frost is coming.',
];

export { plainSources } from '../ui/words.js';
