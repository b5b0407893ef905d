/* When the window opens and closes and when the stream is thin: time to go, and the job's clock,
   each with the interval that holds in nine of ten cases. */

import { byId, el, renew } from "./dom.js";
import { say } from "./texts.js";
import { UNKNOWN, duration } from "./units.js";

const FORECASTS = [
  { name: "opens", at: "opens_s", range: "opens_90" },
  { name: "closes", at: "closes_s", range: "closes_90" },
  { name: "finishes", at: "finishes_s", range: null },
];

export function showForecast(view) {
  const rows = FORECASTS.map((one) => rowOf(view, one));
  const shown = rows.filter((row) => isShown(row, view));
  const key = shown.map((row) => `${row.name}|${row.main}|${row.more}|${row.isStale}`).join("#");
  renew(byId("times"), key, () => shown.map(rowNode));
}

/** The big figure of a wait is a forecast itself; a stream that runs ends some time. */
function isShown(row, view) {
  if (row.name === "finishes") return row.isKnown || view.step === "level";
  if (view.step === "level") return row.name === "closes";
  const isWait = view.step === "circulate" || view.step === "warm";
  return isWait && row.name !== waitsFor(view) && view.state.procedure?.mode !== "cooling";
}

/** Which forecast a wait is for: that the window opens, or once it is open, that it closes. */
export const waitsFor = ({ figures: f }) =>
  f.opens_s != null && f.opens_s <= f.t ? "closes" : "opens";

function rowOf(view, { name, at, range }) {
  const f = view.figures;
  const when = f[at] ?? null;
  const span = range === null ? null : (f[range] ?? null);
  const isKnown = when !== null;
  const toGo = isKnown ? when - f.t : null;
  return {
    name,
    isKnown,
    isStale: isKnown && view.stale.pan,
    main: isKnown
      ? say(toGo > 0 ? "forecast.in" : "forecast.since", { time: duration(Math.abs(toGo)) })
      : UNKNOWN,
    more: isKnown ? moreOf(f, name, when, span) : say("forecast.none"),
  };
}

function moreOf(f, name, when, span) {
  if (name === "finishes" && f.p_finish_in_window != null) {
    const share = String(Math.round(100 * f.p_finish_in_window));
    return say("forecast.p_finish", { share });
  }
  const time = duration(when);
  if (span === null) return say("forecast.job_clock", { time });
  return say("forecast.job_clock_range", { time, low: duration(span[0]), high: duration(span[1]) });
}

function rowNode(row) {
  const badge = row.isStale ? el("span", { class: "badge" }, say("figure.stale")) : null;
  return el(
    "div",
    { "data-forecast": row.name },
    el("dt", {}, say(`forecast.${row.name}`)),
    el(
      "dd",
      { class: `main${row.isStale ? " stale" : ""}` },
      el("span", { class: "value" }, row.main),
    ),
    el("dd", { class: "more" }, badge ?? row.more),
  );
}
