/** What still holds a person's contact data after they were forgotten, in sentences: backups, copies, phones that stay away. */

import { count, showDate } from './words.js';

/** Until when the backups hold it that home makes by itself. */
function ownBackups({ by_itself: byItself, there, gone_on: goneOn }) {
  if (!byItself) return 'No backup of home’s own holds it: it makes none by itself.';
  if (there === 0) return 'No backup of home’s own holds it: none is there yet.';
  if (goneOn) return `The backups that home makes by itself (${count(there, 'file', 'files')}) hold it until they go: the last on ${showDate(goneOn)}, if home runs each day.`;
  if (there === null) return 'The backups that home makes by itself could not be looked at. Where home runs each day, none of them holds it longer than a year.';
  return 'One of the backups that home makes by itself is dated years ahead, and stays until you delete it.';
}

/**
 * @param {{by_itself: boolean, there: number|null, gone_on: string|null}|null} backups as home told them; null: home is older than this app
 * @returns {string[]}
 */
export function shelfWords(backups) {
  return [
    backups ? ownBackups(backups) : 'Backups that home makes by itself hold it for a year at most, where home runs each day.',
    'Backups and copies made by hand hold it until you delete them: files that a phone kept, too, what was set aside when a backup was put back, and one with “incomplete” in its name.',
    'A phone that never comes home again keeps what it has.',
  ];
}
