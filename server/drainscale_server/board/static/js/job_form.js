/* The form of a new job: what a job needs, and what its record is better for. */

import { el } from "./dom.js";
import { say } from "./texts.js";
import { fieldNode, readFields } from "./fields.js";

const FIELDS = [
  { name: "bench", isNeeded: true },
  { name: "vehicle", hint: "vehicle_hint" },
  { name: "model", hint: "model_hint" },
  { name: "mileage", number: "distance", us: "mileage_us" },
  { name: "method", isNeeded: true, choices: ["standpipe", "check-plug"] },
  { name: "fill", isNeeded: true, choices: ["fill-plug", "check-plug"] },
  { name: "window_low", isNeeded: true, number: "temperature", text: "window", pair: "window_low" },
  {
    name: "window_high",
    isNeeded: true,
    number: "temperature",
    text: "window",
    pair: "window_high",
  },
  { name: "allowance", isNeeded: true, number: "volume" },
  { name: "fluid", hint: "fluid_hint" },
  { name: "lot", hint: "optional" },
  { name: "density", isNeeded: true, number: "plain" },
  { name: "density_at", isNeeded: true, number: "temperature" },
  {
    name: "old_fluid",
    choices: ["old_clear", "old_brown", "old_dark", "old_milky", "old_metal"],
    isText: true,
  },
];
const MORE = [
  { name: "close_flow", isNeeded: true, number: "flow" },
  { name: "drip_flow", isNeeded: true, number: "flow" },
  { name: "density_u", isNeeded: true, number: "plain" },
  { name: "viscosity_40", number: "plain" },
  { name: "viscosity_100", number: "plain" },
  { name: "unit", hint: "unit_hint" },
  { name: "plate", hint: "optional" },
  { name: "technician", hint: "optional" },
];
const START = {
  method: "standpipe",
  fill: "fill-plug",
  close_flow: 60,
  drip_flow: 3,
  density_u: 1.5,
  density_at: 15,
};

export const ALL_FIELDS = [...FIELDS, ...MORE];

/** Draw the form with these values. */
export function showFields(form, values, benches, system) {
  const now = { ...START, ...values };
  const options = benches.map((bench) => [
    `${bench.site}/${bench.bench}`,
    `${bench.site} / ${bench.bench}`,
  ]);
  const draw = (field) =>
    fieldNode(field.name === "bench" ? { ...field, options } : field, now, system);
  const isOpen = form.querySelector("details")?.open ?? false;
  form.replaceChildren(
    ...FIELDS.map(draw),
    el(
      "details",
      { class: "wide", open: isOpen && "" },
      el("summary", {}, say("new_job.more")),
      el("div", {}, ...MORE.map(draw)),
    ),
    el("button", { type: "submit", class: "wide" }, say("new_job.send")),
  );
}

export const readForm = (form, system) => readFields(form, ALL_FIELDS, system);
