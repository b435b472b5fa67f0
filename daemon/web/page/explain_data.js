// The numbers behind the drawings of an explanation. Pure.

/** Each step with where it starts and ends, as ratios; empty where there are no factors. */
export function waterfall({ uncorrected_fraction, dry_fraction, factors }) {
  const order = ["temperature", "pressure", "humidity"];
  if (typeof uncorrected_fraction !== "number" || order.some((name) => typeof factors?.[name] !== "number")) return [];
  const rows = [{ name: "the signal alone", from: 0, to: uncorrected_fraction, factor: null, total: true }];
  let at = uncorrected_fraction;
  for (const name of order) {
    rows.push({ name, from: at, to: at * factors[name], factor: factors[name], total: false });
    at *= factors[name];
  }
  rows.push({ name: "corrected, dry", from: 0, to: dry_fraction, factor: null, total: true });
  return rows;
}

/** Where a value lies between 0 and 100 of a drawing that shows the steps, not the whole way from zero. */
export function axisOf(rows, floor = null) {
  const ends = rows.flatMap((row) => (row.total ? [row.to] : [row.from, row.to]));
  const least = ends.reduce((a, b) => Math.min(a, b));
  const most = ends.reduce((a, b) => Math.max(a, b));
  const room = Math.max(most - least, Math.abs(most) * 1e-4, 1e-12);
  const low = floor ?? least - room * 0.25;
  const high = most + (floor === null ? room * 0.05 : 0);
  return { low, high, place: (value) => (100 * (value - low)) / (high - low) };
}

/** Largest share first; what contributes nothing is left out. */
export const budgetRows = (budget) =>
  budget.filter((line) => line.contribution !== 0 && line.share > 0).sort((a, b) => b.share - a.share);
