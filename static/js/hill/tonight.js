/**
 * The first evening of a lifted tree, as plain lines: what is told before home has made its dated plan. Where a step of
 * the care plan says the same, it says it in the same words (field/core/cards/default.json).
 */

export const TONIGHT = [
  'Keep the roots wrapped, wet and out of the sun until the box is filled; carry by the ball, never by the trunk.',
  'Box it the same day if you can: settle the mix in around the roots until no hollow is left.',
  'Water in slowly from above until it runs clear from the box; wait a little, then once more. Then let it drain.',
  'Set it out of the wind and tie trunk or ball to the box, so that it cannot rock.',
  'Bright shade. Where frost is coming, off the concrete and against a wall, or sunk and mulched.',
  'No feed yet: wait until the first flush has hardened.',
];

