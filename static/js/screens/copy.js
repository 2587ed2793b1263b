/** Copy and room: a copy of what this phone keeps, as a file; bringing one home; and the room that photos take. */

import { getIdentity } from '../store.js';
import { html, render } from '../ui/html.js';
import { here } from '../ui/words.js';
import { openHome } from './copy_home.js';
import { openKeep } from './copy_keep.js';
import { openRoom } from './copy_room.js';

/**
 * Open the screen.
 * @param {Element} root
 * @param {{part?: string}} params part: 'room' or 'home', which is then looked at first
 * @returns {Promise<() => void>} close
 */
export async function open(root, { part = null } = {}) {
  const mayAll = (await getIdentity())?.role !== 'record'; // home takes a copy from one that may do everything only
  render(root, html`<div class="page"><div class="page-head"><h1>Copy and room</h1><p class="under">For the day when this ${here()} is lost or full.</p></div>
    <div class="cols"><div><section class="sheet" data-keep-copy></section></div>
      <div><section class="sheet" data-room ${part === 'room' && html`data-arrive`}></section>${mayAll && html`<section class="sheet drop" data-copy-home ${part === 'home' && html`data-arrive`}></section>`}</div></div></div>`);
  const place = (name) => root.querySelector(`[data-${name}]`);
  const closes = await Promise.all([openKeep(place('keep-copy'), { mayAll }), openRoom(place('room')), ...(mayAll ? [openHome(place('copy-home'))] : [])]);
  return () => {
    for (const close of closes) close();
  };
}
