/* Flow and temperature of the last minutes, one lane each, drawn in pixels of the panel. */

import { byId, mark, renew, svg } from "./dom.js";
import { say } from "./texts.js";
import { duration } from "./units.js";

const SPAN_S = 600;
const LANES = ["flow", "fluid"];

export function showTrend(view) {
  const chart = byId("chart");
  const trend = view.state.trend;
  byId("trend").hidden = view.job === null || (trend?.t?.length ?? 0) < 2;
  const last = trend?.t?.length ? trend.t[trend.t.length - 1] : null;
  mark(chart, "aria-label", labelOf(view, last));
  const wide = chart.clientWidth; // none where it is hidden
  if (wide === 0) return;
  const high = Math.round(Math.min(Math.max(wide * 0.58, 190), 300));
  mark(chart, "viewBox", `0 0 ${wide} ${high}`);
  mark(chart, "height", high);
  const size = Math.max(view.sizes.small, 13);
  renew(chart, [wide, last, trend?.t?.length, view.settings.units, size].join(" "), () =>
    last === null
      ? [empty(wide, high, size)]
      : LANES.flatMap((lane, n) =>
          laneOf(view, trend, lane, { wide, high: high / 2 - 2, top: (n * high) / 2, size }),
        ),
  );
}

function labelOf(view, last) {
  if (last === null) return say("trend.empty");
  const { figures: f, units: u } = view;
  return say("trend.summary", {
    flow: u.text("flow", f.flow_mL_per_min),
    fluid: u.text("temperature", f.fluid_C),
  });
}

function empty(wide, high, size) {
  const text = svg("text", {
    x: wide / 2,
    y: high / 2,
    "font-size": size,
    "text-anchor": "middle",
  });
  text.textContent = say("trend.empty");
  return text;
}

function laneOf(view, trend, lane, box) {
  const last = trend.t[trend.t.length - 1];
  const x = (t) => box.size * 3.2 + ((t - last + SPAN_S) / SPAN_S) * (box.wide - box.size * 3.4);
  const shown = lane === "flow" ? flowLane(view, trend) : fluidLane(view, trend);
  const top = box.top + box.size * 1.5;
  const bottom = box.top + box.high - (lane === "fluid" ? box.size * 1.3 : 4);
  const y = (v) => bottom - ((v - shown.low) / (shown.high - shown.low)) * (bottom - top);
  const parts = [
    title(say(`trend.${lane}`, { unit: shown.unit }), box),
    svg("path", { d: `M${x(last - SPAN_S)} ${top}V${bottom}H${x(last)}`, class: "rule" }),
  ];
  parts.push(
    axis(shown.text(shown.high), box, top + box.size * 0.8),
    axis(shown.text(shown.low), box, bottom),
  );
  if (shown.window)
    parts.splice(1, 0, windowBand(shown.window, x(last - SPAN_S), x(last), y, shown));
  if (shown.limit)
    parts.push(
      svg("path", {
        d: `M${x(last - SPAN_S)} ${y(shown.limit)}H${x(last)}`,
        class: "rule",
        "stroke-dasharray": "4 4",
      }),
    );
  if (shown.U) parts.push(...bandOf(trend.t, shown.values, shown.U, x, y));
  parts.push(...linesOf(trend.t, shown.values, x, y, "line"));
  if (shown.beside) parts.push(...linesOf(trend.t, shown.beside, x, y, "pan-line"));
  if (lane === "fluid") parts.push(...times(last, x, box));
  return parts;
}

function flowLane(view, trend) {
  const values = trend.flow_mL_per_min ?? [];
  const limit = view.job?.close_flow_mL_per_min ?? null;
  const high = Math.max(2 * (limit ?? 50), ...values.filter(Number.isFinite));
  return {
    values,
    low: 0,
    high,
    limit,
    unit: view.units.flow(0).unit,
    text: (v) => view.units.flow(v).value,
  };
}

function fluidLane(view, trend) {
  const values = trend.fluid_C ?? [];
  const beside = trend.pan_C ?? [];
  const window = view.job?.window_C ?? null;
  const known = [...values, ...beside].filter(Number.isFinite);
  const low = Math.floor(Math.min(...known, ...(window ?? [])) - 2);
  const high = Math.ceil(Math.max(...known, ...(window ?? [])) + 2);
  return {
    values,
    beside,
    U: trend.U_fluid_C,
    low,
    high,
    window,
    unit: view.units.temperature(0).unit,
    text: (v) => view.units.temperature(v).value.replace(/\.\d$/, ""),
  };
}

function title(text, box) {
  const node = svg("text", {
    x: box.size * 3.2,
    y: box.top + box.size * 1.1,
    "font-size": box.size,
    class: "strong",
  });
  node.textContent = text;
  return node;
}

function axis(text, box, y) {
  const node = svg("text", { x: box.size * 3, y, "font-size": box.size, "text-anchor": "end" });
  node.textContent = text;
  return node;
}

function windowBand([low, high], from, to, y, shown) {
  const top = y(Math.min(high, shown.high));
  return svg("rect", {
    x: from,
    y: top,
    width: to - from,
    height: y(Math.max(low, shown.low)) - top,
    class: "span",
  });
}

function times(last, x, box) {
  return [SPAN_S, SPAN_S / 2, 0]
    .filter((ago) => last >= ago)
    .map((ago) => {
      const anchor = ago === 0 ? "end" : ago === SPAN_S ? "start" : "middle";
      const node = svg("text", {
        x: x(last - ago),
        y: box.top + box.high,
        "font-size": box.size,
        "text-anchor": anchor,
      });
      node.textContent = duration(last - ago);
      return node;
    });
}

/** Stretches without a gap: a value that was not known leaves a hole. */
function stretches(t, values) {
  const found = [[]];
  t.forEach((at, n) => {
    if (Number.isFinite(values[n])) found[found.length - 1].push(n);
    else if (found[found.length - 1].length) found.push([]);
  });
  return found.filter((one) => one.length > 1);
}

function linesOf(t, values, x, y, kind) {
  return stretches(t, values).map((one) =>
    svg("path", {
      d: "M" + one.map((n) => `${x(t[n]).toFixed(1)} ${y(values[n]).toFixed(1)}`).join("L"),
      class: kind,
    }),
  );
}

function bandOf(t, values, U, x, y) {
  return stretches(t, values).map((one) => {
    const edge = (n, sign) =>
      `${x(t[n]).toFixed(1)} ${y(values[n] + sign * (U[n] ?? 0)).toFixed(1)}`;
    const there = one.map((n) => edge(n, 1));
    const back = [...one].reverse().map((n) => edge(n, -1));
    return svg("path", { d: `M${[...there, ...back].join("L")}Z`, class: "band" });
  });
}
