/** Where the notices lie: at the foot of the page, or under its head where at the foot they would lie on what is pressed next. */

const PRESSED = 'a[href], button, input, select, textarea, summary, label.chip, .verdict, .verdict-short, .map.drawing, .fault:not([hidden])';
const FIRST = '.primary, .actions *, .verdict, .verdict-short, .map.drawing, .fault, :focus';
const APART_PX = 8;
const SETTLED_MS = 120; // a page that is being drawn is looked at once, when it stands

let watching = null; // {stop} while notices are shown
let timer = null;

const meets = (a, b) => a.left < b.right && b.left < a.right && a.top < b.bottom && b.top < a.bottom;

/** How much of what is pressed or read first lies under a frame; the way back at the head of a page counts least. */
function coveredBy(frame) {
  let sum = 0;
  for (const one of document.querySelectorAll(`#app :is(${PRESSED})`)) {
    const box = one.getBoundingClientRect();
    if (box.width < 2 || box.height < 2 || !meets(frame, box)) continue;
    sum += one.matches(FIRST) ? 3 : one.matches('.back') ? 0.5 : 1;
  }
  return sum;
}

function settle(place) {
  place.classList.remove('at-top');
  const foot = place.getBoundingClientRect();
  const head = document.querySelector('.head')?.getBoundingClientRect().bottom ?? 0;
  const top = head + APART_PX;
  const atFoot = coveredBy(foot);
  if (atFoot === 0) return;
  const atHead = coveredBy({ left: foot.left, right: foot.right, top, bottom: top + foot.height });
  if (atHead >= atFoot) return;
  place.style.setProperty('--head-end', `${Math.round(head)}px`);
  place.classList.add('at-top');
}

/**
 * Keep the notices clear of what is pressed next, for as long as there are any.
 * @param {HTMLElement} place that of the notices @param {boolean} wanted false: none is left
 */
export function keepClear(place, wanted) {
  clearTimeout(timer);
  if (!wanted) {
    watching?.stop();
    watching = null;
    return;
  }
  settle(place);
  if (watching) return;
  const later = () => {
    clearTimeout(timer);
    timer = setTimeout(() => settle(place), SETTLED_MS);
  };
  const changes = new MutationObserver(later);
  const page = document.getElementById('app');
  if (page) changes.observe(page, { childList: true, subtree: true });
  document.addEventListener('focusin', later);
  document.addEventListener('scrollend', later);
  watching = {
    stop() {
      changes.disconnect();
      document.removeEventListener('focusin', later);
      document.removeEventListener('scrollend', later);
    },
  };
}
