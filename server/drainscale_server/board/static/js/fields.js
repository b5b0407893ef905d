/* Fields of a form as a table, drawn and read by it. Inside, all is metric; a form shows and takes
   this display's units.

     {name, isNeeded, number: kind of quantity, choices: [words], isText, hint, text, us, pair}

   `text`: another key of the catalogue for its name; `us`: that for US units. */

import { el } from "./dom.js";
import { say } from "./texts.js";
import { numberOf } from "./job_file.js";
import { FLUID_OUNCE_ML, MILE_KM, QUART_L } from "./units.js";

const POUND_FOOT_NM = 1.3558179483314; // NIST Handbook 44, appendix C
const same = (x) => x;
const SAME = { metric: ["", same, same], us: ["", same, same] };
const times = (unit, usUnit, factor) => ({
  metric: [unit, same, same],
  us: [usUnit, (x) => x / factor, (x) => x * factor],
});
const KINDS = {
  temperature: {
    metric: ["°C", same, same],
    us: ["°F", (x) => x * 1.8 + 32, (x) => (x - 32) / 1.8],
  },
  volume: times("L", "US qt", QUART_L),
  flow: times("mL/min", "fl oz/min", FLUID_OUNCE_ML),
  distance: times("km", "mi", MILE_KM),
  torque: times("Nm", "lb·ft", POUND_FOOT_NM),
};
const DIGITS = { temperature: 1, volume: 2, flow: 2, distance: 0, torque: 1 };
const TEXT_LIMIT = 200;
const NUMBER_LIMIT = 12;

export const filledIn = (value) => value !== null && value !== undefined && value !== "";

const unitOf = (system, field) => (KINDS[field.number] ?? SAME)[system];

/** How a field is called in this display's units. */
export function nameOf(field, system) {
  const key = system === "us" && field.us ? field.us : (field.text ?? field.name);
  const name = say(`new_job.${key}`, { unit: unitOf(system, field)[0] });
  return field.pair ? `${name}, ${say(`new_job.${field.pair}`)}` : name;
}

/** Draw a field with its value. */
export function fieldNode(field, values, system) {
  return field.options || field.choices
    ? chips(field, values)
    : input(field, values[field.name], system);
}

function chips(field, values) {
  const options = field.options ?? field.choices.map((word) => optionOf(field, word));
  const kind = field.isMany ? "checkbox" : "radio";
  const isOn = (value) =>
    field.isMany ? (values[field.name] ?? []).includes(value) : values[field.name] === value;
  return el(
    "fieldset",
    { class: "chips", id: `f-${field.name}`, tabindex: "-1" },
    el("legend", { class: "name" }, say(`new_job.${field.name}`)),
    el(
      "div",
      { class: "options" },
      ...options.map(([value, text]) => {
        const box = el("input", {
          type: kind,
          name: field.name,
          value,
          checked: isOn(value) && "",
        });
        return el("label", { class: "option" }, box, el("span", {}, text));
      }),
    ),
  );
}

/** A choice's value and text; where the value is what the record says, it is the text. */
function optionOf(field, word) {
  const text = say(field.isText ? `new_job.${word}` : `new_job.${field.name}_${word}`);
  return [field.isText ? text : word, text];
}

function input(field, value, system) {
  const isNumber = field.number !== undefined;
  const [, shown] = unitOf(system, field);
  const digits = DIGITS[field.number] ?? 3;
  const given =
    isNumber && filledIn(value) ? String(Number(shown(value).toFixed(digits))) : (value ?? "");
  return el(
    "label",
    { class: field.isWide ? "wide" : null },
    el("span", { class: "name" }, nameOf(field, system)),
    el("input", {
      type: "text",
      inputmode: isNumber ? "decimal" : null,
      autocomplete: "off",
      maxlength: isNumber ? NUMBER_LIMIT : (field.limit ?? TEXT_LIMIT),
      id: `f-${field.name}`,
      name: field.name,
      value: given,
      "data-shown": isNumber ? given : null,
      "data-metric": isNumber && filledIn(value) ? value : null,
      placeholder: field.hint ? say(`new_job.${field.hint}`) : null,
      "aria-required": field.isNeeded ? "true" : null,
    }),
  );
}

/** Read fields, metric; a number that is none is null. */
export function readFields(form, fields, system) {
  const data = new FormData(form);
  const read = (field) => {
    if (field.isMany) return data.getAll(field.name);
    const typed = data.get(field.name);
    if (field.number === undefined) return typed ?? "";
    const { shown, metric } = form.elements[field.name].dataset;
    // what was not touched stays as it was, not as it was rounded for the eye
    return metric !== undefined && typed === shown
      ? Number(metric)
      : metricOf(field, typed, system);
  };
  return Object.fromEntries(fields.map((field) => [field.name, read(field)]));
}

function metricOf(field, typed, system) {
  const number = numberOf(typed);
  if (number === null) return null;
  const [, , back] = unitOf(system, field);
  return Number(back(number).toPrecision(9));
}
