/** The browser's way back closes what is open over a page, and leaves the page where it is. */

const GIVE_UP_MS = 1000; // own rule: a step back that the browser does not take must not hold up an answer
const open = []; // {mark, leave}: what is open over the page, the newest last
let made = 0;

const addStep = (mark) => globalThis.history.pushState({ over: mark }, '');

globalThis.addEventListener('popstate', ({ state }) => {
  const still = open.findIndex(({ mark }) => mark === state?.over);
  for (const one of open.slice(still + 1).reverse()) {
    if (one.leave() === false) addStep(one.mark);
  }
});

/**
 * Give what was just opened over the page a step of its own in the browser's history, with the same address.
 * @param {() => boolean|void} leave called when the person goes back; false: it stays open for now
 * @returns {() => Promise<void>} to be called when it closes, however that came: takes the step away again. Only then may the
 *   page go on to another address
 */
export function holdBack(leave) {
  made += 1;
  const me = { mark: `${Date.now()}-${made}`, leave };
  open.push(me);
  addStep(me.mark);
  return async () => {
    if (open.includes(me)) open.splice(open.indexOf(me), 1);
    if (globalThis.history.state?.over !== me.mark) return; // gone back already, or on to another page
    await new Promise((done) => {
      globalThis.addEventListener('popstate', done, { once: true });
      setTimeout(done, GIVE_UP_MS);
      globalThis.history.back();
    });
  };
}
