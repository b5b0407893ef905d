/* The form's fields as a table, drawn and read by it. Inside, all is metric; the form shows and
   takes this display's units. */

import { byId, el } from "./dom.js";
import { say } from "./texts.js";
import { numberOf } from "./job_file.js";
import { FLUID_OUNCE_ML, MILE_KM, QUART_L } from "./units.js";

const SAME = { metric: ["", (x) => x, (x) => x], us: ["", (x) => x, (x) => x] };
const KINDS = {
  temperature: { metric: ["°C", (x) => x, (x) => x], us: ["°F", (x) => x * 1.8 + 32, (x) => (x - 32) / 1.8] },
  volume: { metric: ["L", (x) => x, (x) => x], us: ["US qt", (x) => x / QUART_L, (x) => x * QUART_L] },
  flow: { metric: ["mL/min", (x) => x, (x) => x], us: ["fl oz/min", (x) => x / FLUID_OUNCE_ML, (x) => x * FLUID_OUNCE_ML] },
  distance: { metric: ["km", (x) => x, (x) => x], us: ["mi", (x) => x / MILE_KM, (x) => x * MILE_KM] },
};
const DIGITS = { temperature: 1, volume: 2, flow: 2, distance: 0 };

/** Fields that a job needs, and those that the record is better for. */
export const FIELDS = [
  { name: "bench", isNeeded: true, kind: "bench" },
  { name: "vehicle", hint: "vehicle_hint" },
  { name: "model", hint: "model_hint" },
  { name: "mileage", number: "distance", text: "mileage", us: "mileage_us" },
  { name: "method", isNeeded: true, choices: ["standpipe", "check-plug"] },
  { name: "fill", isNeeded: true, choices: ["fill-plug", "check-plug"] },
  { name: "window_low", isNeeded: true, number: "temperature", text: "window", pair: "window_low" },
  { name: "window_high", isNeeded: true, number: "temperature", text: "window", pair: "window_high" },
  { name: "allowance", isNeeded: true, number: "volume" },
  { name: "fluid", hint: "fluid_hint" },
  { name: "density", isNeeded: true, number: "plain" },
  { name: "density_at", isNeeded: true, number: "temperature" },
  { name: "old_fluid", choices: ["old_clear", "old_brown", "old_dark", "old_milky", "old_metal"], isText: true },
];
export const MORE = [
  { name: "close_flow", isNeeded: true, number: "flow" },
  { name: "drip_flow", isNeeded: true, number: "flow" },
  { name: "density_u", isNeeded: true, number: "plain" },
  { name: "viscosity_40", number: "plain" },
  { name: "viscosity_100", number: "plain" },
  { name: "plate", hint: "optional" },
  { name: "technician", hint: "optional" },
];
const START = { method: "standpipe", fill: "fill-plug", close_flow: 60, drip_flow: 3, density_u: 1.5, density_at: 15 };

export const filledIn = (value) => value !== null && value !== undefined && value !== "";

/** What fills the blank `{unit}` of a field's name. */
export const unitsOf = (system, field) => ({ unit: unitOf(system, field)[0] });

const unitOf = (system, field) => (KINDS[field.number] ?? SAME)[system];

/** Draw the form with these values. */
export function showFields(form, values, benches, system) {
  const now = { ...START, ...values };
  const draw = (field) => fieldNode(field, now, benches, system);
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

function fieldNode(field, values, benches, system) {
  if (field.kind === "bench") return chips(field, benches.map((b) => [`${b.site}/${b.bench}`, `${b.site} / ${b.bench}`]), values);
  if (field.choices) return chips(field, field.choices.map((word) => [field.isText ? say(`new_job.${word}`) : word, choiceText(field, word)]), values);
  return input(field, values[field.name], system);
}

const choiceText = (field, word) => say(field.isText ? `new_job.${word}` : `new_job.${field.name}_${word}`);

function chips(field, options, values) {
  return el(
    "fieldset",
    { class: "chips", id: `f-${field.name}`, tabindex: "-1" },
    el("legend", { class: "name" }, say(`new_job.${field.name}`)),
    el(
      "div",
      { class: "options" },
      ...options.map(([value, text]) => {
        const radio = el("input", { type: "radio", name: field.name, value, checked: values[field.name] === value && "" });
        return el("label", { class: "option" }, radio, el("span", {}, text));
      }),
    ),
  );
}

function input(field, value, system) {
  const [unit, shown] = unitOf(system, field);
  const text = system === "us" && field.us ? field.us : (field.text ?? field.name);
  const name = say(`new_job.${text}`, { unit }) + (field.pair ? `, ${say(`new_job.${field.pair}`)}` : "");
  const isNumber = field.number !== undefined;
  const digits = DIGITS[field.number] ?? 3;
  const given = isNumber && filledIn(value) ? String(Number(shown(value).toFixed(digits))) : (value ?? "");
  return el(
    "label",
    {},
    el("span", { class: "name" }, name),
    el("input", {
      type: "text",
      inputmode: isNumber ? "decimal" : null,
      autocomplete: "off",
      maxlength: isNumber ? 12 : 200,
      id: `f-${field.name}`,
      name: field.name,
      value: given,
      placeholder: field.hint ? say(`new_job.${field.hint}`) : null,
      "aria-required": field.isNeeded ? "true" : null,
    }),
  );
}

/** Read the form, metric. */
export function readForm(form, system) {
  const values = {};
  for (const field of [...FIELDS, ...MORE]) {
    const typed = new FormData(form).get(field.name);
    if (field.number === undefined) values[field.name] = typed ?? "";
    else values[field.name] = metric(field, typed, system);
  }
  return values;
}

function metric(field, typed, system) {
  const number = numberOf(typed);
  if (number === null) return null;
  const [, , back] = unitOf(system, field);
  return Number(back(number).toPrecision(9));
}
