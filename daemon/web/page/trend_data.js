// From an answer of the daemon to what a curve needs. Pure.

/** Columns for the chart: seconds, mean, highest, lowest; a hole longer than its steps becomes a gap. */
export function toColumns(trend, quantity) {
  const columns = [[], [], [], []];
  const hole = Math.max(trend.step_ms * 2.5, 15000);
  trend.at_ms.forEach((at, i) => {
    const before = trend.at_ms[i - 1];
    if (i > 0 && at - before > hole) push(columns, (at + before) / 2000, null, null, null);
    push(
      columns,
      at / 1000,
      quantity.scaled(trend.mean[i]),
      quantity.scaled(trend.max[i]),
      quantity.scaled(trend.min[i]),
    );
  });
  return columns;
}
const push = (columns, ...values) => columns.forEach((column, i) => column.push(values[i]));

/** [from, to] in ms of the stretches in which readings were bad, neighbours joined. */
export function stretchesOf(trend) {
  const out = [];
  const step = Math.max(trend.step_ms, 1000);
  trend.at_ms.forEach((at, i) => {
    if (!trend.bad?.[i]) return;
    const last = out[out.length - 1];
    if (last && at - last[1] <= step * 1.5) last[1] = at + step;
    else out.push([at, at + step]);
  });
  return out;
}

/** The curve in a sentence, for who does not see it. */
export function describe(trend, quantity, timeText) {
  const range = `${timeText(trend.from_ms)} to ${timeText(trend.to_ms)}`;
  const known = (list) => list.filter((value) => typeof value === "number");
  const lows = known(trend.min);
  if (!lows.length) return `${quantity.name}: nothing recorded from ${range}.`;
  const least = lows.reduce((a, b) => Math.min(a, b));
  const most = known(trend.max).reduce((a, b) => Math.max(a, b));
  const bad = stretchesOf(trend).length;
  return (
    `${quantity.name}, ${range}: ${quantity.text(least)} to ${quantity.text(most)}` +
    (bad ? `; ${bad} bad ${bad === 1 ? "stretch" : "stretches"}.` : "; no bad readings.")
  );
}
