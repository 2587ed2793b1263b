/** The stage of a tree on a day: twin of `stage` in field/core/care.py, where the rule stands as a table. */

const LIFTED_DAYS = 14; // common practice
const STYLING_YEARS = 3; // where the kind's own number is not known here; common practice

function dayNumber(on) {
  return Date.UTC(Number(on.slice(0, 4)), Number(on.slice(5, 7)) - 1, Number(on.slice(8, 10))) / 86_400_000;
}

/** The same day of the month some months on; the month's last day where it is shorter. */
export function addMonths(on, months) {
  const whole = Number(on.slice(0, 4)) * 12 + Number(on.slice(5, 7)) - 1 + months;
  const year = Math.floor(whole / 12);
  const month = whole % 12;
  const last = new Date(Date.UTC(year, month + 1, 0)).getUTCDate();
  const two = (n) => String(n).padStart(2, '0');
  return `${String(year).padStart(4, '0')}-${two(month + 1)}-${two(Math.min(last, Number(on.slice(8, 10))))}`;
}

/** The local day of a lift, or null. */
export function liftDay(lift) {
  const value = lift?.lifted_on || lift?.lifted_at;
  return value ? value.slice(0, 10) : null;
}

/** The lift that counts: the latest; dated ones before undated ones; by id where the day is the same. */
export function latestLift(lifts) {
  const order = (lift) => `${liftDay(lift) ?? '0000-00-00'} ${lift.id}`;
  return lifts.filter((lift) => lift.deleted !== true).reduce((best, lift) => (best === null || order(lift) > order(best) ? lift : best), null);
}

/**
 * The stage of a tree.
 * @param {object} tree merged fields
 * @param {object[]} lifts its lift records' fields, each with `id`
 * @param {string} today local date
 * @param {number|null} [stylingYears] first styling after so many years, by the species card
 * @returns {string} marked, lifted, settling, gaining, working, lost, parted or left_standing
 */
export function stage(tree, lifts, today, stylingYears = null) {
  if (tree.ended_as && (!tree.ended_on || tree.ended_on <= today)) return tree.ended_as;
  const lift = latestLift(lifts);
  if (lift === null) return tree.origin === 'client' ? 'working' : 'marked';
  const lifted = liftDay(lift);
  if (lifted === null || dayNumber(today) - dayNumber(lifted) < LIFTED_DAYS) return 'lifted';
  if (today < addMonths(lifted, 12)) return 'settling';
  if (today < addMonths(lifted, Math.ceil(12 * (stylingYears ?? STYLING_YEARS)))) return 'gaining';
  return 'working';
}
