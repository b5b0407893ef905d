/* The one figure that the step is about, and the ledger of all. */

import { byId, el, mark, put, renew, svg } from "./dom.js";
import { say } from "./texts.js";
import { UNKNOWN, duration } from "./units.js";
import { waitsFor } from "./forecast.js";

const WEIGHED_IN = {
  drained: ["drain", "drain-pan", "refit"],
  added: ["refill"],
  spilled: ["level", "seal"],
  target: ["drain", "drain-pan", "refit"], // it is what came out and the allowance
};

/** What the step is about: label, number, and a line below. */
function primaryOf(view) {
  const { figures: f, units: u, step } = view;
  switch (step) {
    case "drain":
    case "drain-pan":
    case "refit":
      return { name: "drained", shown: u.volume_L(f.drained_20C_L), more: toCome(view) };
    case "refill":
      return refillOf(view);
    case "circulate":
    case "warm":
      return waitOf(view);
    case "level":
      return { name: "flow", shown: u.flow(f.flow_mL_per_min), more: thin(view) };
    case "seal":
    case "done":
      return { name: "spilled", shown: u.volume_mL(f.spilled_mL), more: "" };
    default:
      return { name: "platform", shown: u.mass(f.scale_kg), more: "" };
  }
}

/** While it warms: how long until the window opens; in it, how long it stays open. */
function waitOf(view) {
  const f = view.figures;
  if (isCooling(view)) return coldOf(f);
  const isIn = waitsFor(view) === "closes";
  const [at, span] = isIn ? [f.closes_s, f.closes_90] : [f.opens_s, f.opens_90];
  const range =
    span == null
      ? ""
      : say("forecast.between", { low: duration(span[0] - f.t), high: duration(span[1] - f.t) });
  const label = say(isIn ? "forecast.closes_in" : "forecast.opens_in");
  return {
    name: "wait",
    label,
    shown: { value: at == null ? UNKNOWN : duration(at - f.t), unit: "" },
    more: range,
    isByPan: true,
  };
}

/** After a failed attempt, plug shut and engine off: until it may be started again. */
const isCooling = (view) =>
  view.state.procedure?.mode === "cooling" || ["cooling", "start-again"].includes(view.cue?.reason);

function coldOf(f) {
  const at = f.cold_enough_s ?? null;
  const isCold = at !== null && at <= f.t;
  const value = at === null ? UNKNOWN : duration(Math.abs(at - f.t));
  const more =
    at === null ? say("forecast.none") : say("forecast.job_clock", { time: duration(at) });
  const shown = { value: isCold ? "✓" : value, unit: "" };
  return {
    name: "cold",
    label: say(isCold ? "forecast.is_cold" : "forecast.cold_in"),
    shown,
    more,
    isByPan: true,
  };
}

function refillOf(view) {
  const { figures: f, units: u } = view;
  const isKnown = f.target_20C_L != null && f.added_20C_L != null;
  const left_L = isKnown ? f.target_20C_L - f.added_20C_L : null;
  const isOver = isKnown && left_L <= 0;
  return {
    name: isOver ? "over_target" : "still_to_add",
    shown: u.volume_L(isOver ? -left_L : left_L),
    more: isKnown
      ? say("figure.added_of", {
          added: u.text("volume_L", f.added_20C_L),
          target: u.text("volume_L", f.target_20C_L),
        })
      : "",
    gauge: isKnown
      ? { share: f.added_20C_L / f.target_20C_L, mark: (f.drained_20C_L ?? 0) / f.target_20C_L }
      : null,
  };
}

function toCome(view) {
  const { figures: f, units: u } = view;
  if (f.still_to_come_mL == null) return "";
  return say("figure.still_to_come", { volume: u.text("volume_mL", f.still_to_come_mL) });
}

function thin(view) {
  const limit = view.job?.close_flow_mL_per_min;
  if (limit == null) return "";
  const flow = view.figures.flow_mL_per_min;
  const key = flow != null && flow < limit ? "figure.is_thin" : "figure.thin_below";
  return say(key, { flow: view.units.text("flow", limit) });
}

export function showPrimary(view) {
  const primary = primaryOf(view);
  const isStale = primary.isByPan ? view.stale.pan : view.stale.scale;
  put(byId("primary-label"), primary.label ?? say(`figure.${primary.name}`));
  const value = byId("primary-value");
  put(value.children[0], primary.shown.value);
  put(value.children[1], primary.shown.unit);
  const age_s = primary.isByPan ? view.figures.pan_age_s : view.figures.scale_age_s;
  showStale(value, isStale && primary.shown.value !== UNKNOWN, age_s, view);
  put(byId("primary-more"), isStale ? "" : primary.more);
  showGauge(view, primary, isStale);
}

/** Strike a value that is too old, and say so. */
export function showStale(node, isStale, age_s, view) {
  node.classList.toggle("stale", isStale);
  let badge = node.querySelector(".badge");
  if (!isStale) {
    badge?.remove();
    return;
  }
  if (badge === null) {
    badge = el("span", { class: "badge" });
    node.append(badge);
  }
  const isDated = !view.stale.link && age_s != null;
  put(
    badge,
    isDated ? say("figure.stale_for", { seconds: String(Math.round(age_s)) }) : say("figure.stale"),
  );
}

/** A trough under the figure: how full, with its limit; for the flow on a logarithmic scale. */
function showGauge(view, primary, isStale) {
  const gauge = byId("gauge");
  const flow = gaugeOfFlow(view, primary);
  const drawn = primary.gauge ?? flow;
  mark(gauge, "hidden", drawn == null ? "" : null);
  if (drawn == null) return;
  const share = Math.min(Math.max(drawn.share, 0), 1) * 1000;
  const limit = Math.min(Math.max(drawn.mark, 0), 1) * 1000;
  mark(gauge, "viewBox", "0 0 1000 60");
  gauge.classList.toggle("stale", isStale);
  renew(gauge, `${Math.round(share)} ${Math.round(limit)}`, () => [
    svg("rect", { x: 2, y: 12, width: 996, height: 36, rx: 10, class: "tube" }),
    svg("rect", { x: 2, y: 12, width: Math.max(share - 4, 0), height: 36, rx: 10, class: "fill" }),
    svg("path", { d: `M${limit} 2V58`, class: "limit", "vector-effect": "non-scaling-stroke" }),
  ]);
  const label = flow
    ? say("figure.gauge_flow", {
        flow: view.units.text("flow", view.figures.flow_mL_per_min),
        limit: primary.more,
      })
    : say("figure.gauge_fill", { share: String(Math.round(share / 10)) });
  mark(gauge, "aria-label", label);
}

function gaugeOfFlow(view, primary) {
  const limit = view.job?.close_flow_mL_per_min;
  const flow = view.figures.flow_mL_per_min;
  if (primary.name !== "flow" || limit == null || flow == null) return null;
  const place = (x) => Math.log10(Math.max(x / limit, 0.1) / 0.1) / 2.5; // 0.1 to 30 times the limit
  return { share: place(flow), mark: place(limit) };
}

/** The ledger: a row of figures that is always there. */
export function showLedger(view) {
  const { figures: f, units: u, step } = view;
  const rows = [
    cell(
      view,
      "drained",
      u.volume_L(f.drained_20C_L, true),
      u.volume_L(f.U_drained_20C_L, true),
      step,
    ),
    cell(view, "added", u.volume_L(f.added_20C_L, true), u.volume_L(f.U_added_20C_L, true), step),
    cell(view, "target", u.volume_L(f.target_20C_L, true), null, step),
    cell(view, "spilled", u.volume_mL(f.spilled_mL), null, step),
    cell(view, "flow", u.flow(f.flow_mL_per_min), null, step),
  ];
  const key = rows
    .map((row) => `${row.value}${row.isStale}${row.isFault}${row.unit}${row.U}`)
    .join("|");
  renew(byId("cells"), key, () => rows.map(cellNode));
}

function cell(view, name, shown, expanded, step) {
  const isWeighedNow = name === "flow" || (WEIGHED_IN[name] ?? []).includes(step);
  return {
    name,
    value: shown.value,
    unit: shown.isKnown ? shown.unit : "",
    isFault: !shown.isKnown && (view.figures.faults ?? []).some((fault) => fault !== "pan"),
    U: expanded?.isKnown && shown.isKnown ? `± ${expanded.value}` : "",
    isStale: shown.isKnown && (view.stale.link || (isWeighedNow && view.stale.scale)),
  };
}

function cellNode(row) {
  const value = el("span", { class: "value" }, row.value);
  const more = row.isStale
    ? el("span", { class: "badge" }, say("figure.stale"))
    : el("span", { class: "u" }, row.isFault ? say("figure.no_value") : row.U);
  return el(
    "div",
    { "data-cell": row.name },
    el("dt", {}, say(`figure.${row.name}`), more),
    el(
      "dd",
      { class: row.isStale ? "stale" : null },
      value,
      el("span", { class: "unit" }, row.unit),
    ),
  );
}
