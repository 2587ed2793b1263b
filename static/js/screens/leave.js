/** Leave: one landholder's permission for a site; read on its page, written and changed in its form. */

import { getDraft } from '../store.js';
import { leaveKey, openEdit } from './leave_edit.js';
import { openView } from './leave_view.js';

/**
 * Open the screen.
 * @param {Element} root
 * @param {{id: string, site?: string, renews?: string}} params id of a leave or 'new'; site: whose ground a new one is for;
 *   renews: the leave that a new one follows
 * @returns {Promise<() => void>} close
 */
export async function open(root, params) {
  let close = () => {};
  let closed = false;

  async function show(opening) {
    close();
    close = () => {};
    const next = await opening();
    if (closed) next();
    else close = next;
  }

  const view = () => show(() => openView(root, params.id, { change: edit, reopen: view }));
  const edit = () => show(() => openEdit(root, params, { done: view }));

  if (params.id === 'new' || (await getDraft(leaveKey(params)))) await edit();
  else await view();
  return () => {
    closed = true;
    close();
  };
}
