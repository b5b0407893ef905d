/* The fluid's temperature as a level vial: the bubble is the estimate, as wide as its uncertainty
   on both sides; the two strokes are the window. The plug may be opened when the bubble lies
   between the strokes. The pan clamp reads a skin, so it stands beside, small. */

import { byId, mark, put, renew, svg } from "./dom.js";
import { say } from "./texts.js";
import { showStale } from "./figures.js";

const BELOW = 2.4; // shown of the scale, in widths of the window
const ABOVE = 1.1;
const LABEL = { 1: 1.2, 3: 1.2, 5: 0.65 }; // size of the vial's labels, for the room there is
const SURE = 1.645 / 2; // one-sided 95 %, as a share of the expanded uncertainty (k = 2)

export function showHeat(view) {
  const { figures: f, units: u } = view;
  const fluid = byId("fluid");
  const shown = u.temperature(f.fluid_C);
  put(fluid.children[0], shown.value);
  put(fluid.children[1], shown.unit);
  put(
    fluid.children[2],
    f.U_fluid_C == null || view.stale.pan ? "" : `± ${u.difference(f.U_fluid_C).value}`,
  );
  showStale(fluid, view.stale.pan && shown.isKnown, f.pan_age_s, view);
  const place = placeOf(view);
  put(
    byId("place"),
    shown.isKnown ? (view.stale.pan ? "" : say(`figure.${place}`)) : unknown(view),
  );
  showPan(view);
  drawVial(view, place);
}

function showPan(view) {
  const value = byId("pan").querySelector(".value");
  const isKnown = view.figures.pan_C != null;
  put(value, isKnown ? view.units.text("temperature", view.figures.pan_C) : unknown(view));
  showStale(byId("pan"), view.stale.pan && isKnown, view.figures.pan_age_s, view);
}

const unknown = (view) =>
  say((view.figures.faults ?? []).includes("pan") ? "figure.no_value" : "forecast.none");

/** Where the fluid is: sure only with 95 % on the side concerned. */
function placeOf(view) {
  const { fluid_C: fluid, U_fluid_C: U } = view.figures;
  const window_C = view.job?.window_C;
  if (fluid == null || !window_C) return "no_value";
  const guard = SURE * (U ?? 0);
  if (fluid + guard < window_C[0]) return "below_window";
  if (fluid - guard > window_C[1]) return "above_window";
  if (fluid - guard >= window_C[0] && fluid + guard <= window_C[1]) return "in_window";
  return "perhaps_in_window";
}

function drawVial(view, place) {
  const vial = byId("vial");
  const window_C = view.job?.window_C;
  mark(vial, "hidden", window_C ? null : "");
  const wide = vial.clientWidth;
  if (!window_C || wide === 0) return;
  const { fluid_C: fluid, U_fluid_C: U, pan_C: pan } = view.figures;
  const label = view.sizes.label * (LABEL[view.settings.distance] ?? 1);
  const key = [wide, label, fluid, U, pan, window_C, view.settings.units].join(" ");
  const high = label * 4.4;
  mark(vial, "viewBox", `0 0 ${wide} ${high}`);
  mark(vial, "height", high);
  mark(vial, "aria-label", spoken(view, place));
  vial.classList.toggle("stale", view.stale.pan);
  renew(vial, key, () => parts(view, wide, label));
}

function spoken(view, place) {
  const { figures: f, units: u, job } = view;
  const [low, high] = job.window_C.map((limit) => u.text("temperature", limit));
  const window = say("figure.window", { low, high });
  if (f.fluid_C == null) return say("figure.no_vial", { window });
  const fluid = `${u.text("temperature", f.fluid_C)} ± ${u.difference(f.U_fluid_C).value}`;
  const pan = f.pan_C == null ? say("figure.no_value") : u.text("temperature", f.pan_C);
  return say("figure.vial", { fluid, place: say(`figure.${place}`), window, pan });
}

/** The scale: some of it below the window, less above, and all that is to be shown. */
function scaleOf({ fluid_C: fluid, U_fluid_C: U, pan_C: pan }, [low, high], wide) {
  const span = Math.max(high - low, 8);
  const known = [fluid - (U ?? 0), fluid + (U ?? 0), pan].filter(
    (x) => Number.isFinite(x) && x !== 0,
  );
  const from = Math.min(low - BELOW * span, ...known.map((x) => x - 1));
  const to = Math.max(high + ABOVE * span, ...known.map((x) => x + 1));
  return (x_C) => 4 + ((x_C - from) / (to - from)) * (wide - 8);
}

function parts(view, wide, label) {
  const { figures: f, job } = view;
  const [low, high] = job.window_C;
  const at = scaleOf(f, job.window_C, wide);
  const top = label * 1.35;
  const tube = label * 1.75;
  const drawn = [
    svg("rect", { x: 2, y: top, width: wide - 4, height: tube, rx: tube / 2, class: "tube" }),
    svg("rect", {
      x: at(low),
      y: top + 2,
      width: at(high) - at(low),
      height: tube - 4,
      class: "span",
    }),
  ];
  if (f.fluid_C != null) drawn.push(...bubble(f, at, top, tube));
  for (const limit of [low, high])
    drawn.push(...limitMark(view, limit, at(limit), top, tube, label));
  if (f.pan_C != null) drawn.push(panMark(at(f.pan_C), top + tube, label));
  return drawn;
}

function bubble({ fluid_C: fluid, U_fluid_C: U }, at, top, tube) {
  const half = Math.max(at(fluid + (U ?? 0)) - at(fluid), 9);
  const inset = tube * 0.16;
  return [
    svg("rect", {
      x: at(fluid) - half,
      y: top + inset,
      width: 2 * half,
      height: tube - 2 * inset,
      rx: (tube - 2 * inset) / 2.2,
      class: "bubble",
    }),
    svg("path", { d: `M${at(fluid)} ${top + inset + 3}v${tube - 2 * inset - 6}`, class: "middle" }),
  ];
}

function limitMark(view, limit, x, top, tube, label) {
  const anchor = limit === view.job.window_C[0] ? "end" : "start";
  const text = svg("text", {
    x: x + (anchor === "end" ? 4 : -4),
    y: top - label * 0.4,
    "font-size": label,
    "text-anchor": anchor,
    class: "strong",
  });
  text.textContent =
    view.units.temperature(limit).value.replace(/\.0$/, "") +
    " " +
    view.units.temperature(limit).unit;
  return [
    svg("path", { d: `M${x} ${top - label * 0.25}v${tube + label * 0.5}`, class: "limit" }),
    text,
  ];
}

function panMark(x, y, label) {
  const half = label * 0.42;
  return svg("path", { d: `M${x} ${y + 4}l${half} ${half * 1.7}h${-2 * half}z`, class: "pan" });
}
