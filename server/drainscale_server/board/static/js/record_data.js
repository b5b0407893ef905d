/* What the record lacks at the end: said once, by whoever did the work. Each entry is kept by the
   server beside what stood there before. */

import { byId, el, put } from "./dom.js";
import { fillTexts, loadTexts, say } from "./texts.js";
import { loadSettings, onSettings, settings, showSettings } from "./settings.js";
import { fieldNode, filledIn, readFields } from "./fields.js";

const PARTS = ["drain_plug", "fill_plug", "level_plug", "standpipe"];
const FIELDS = [
  {
    name: "old_fluid",
    choices: ["old_clear", "old_brown", "old_dark", "old_milky", "old_metal"],
    isText: true,
  },
  { name: "washers", choices: PARTS, isText: true, isMany: true },
  ...PARTS.map((part) => ({ name: `torque_${part}`, number: "torque" })),
  { name: "mileage", number: "distance", us: "mileage_us" },
  { name: "fluid", hint: "fluid_hint" },
  { name: "lot" },
  { name: "unit", hint: "unit_hint" },
  { name: "technician" },
  { name: "oil_container" },
  { name: "oil_log" },
  { name: "remarks", isWide: true, limit: 2000 },
];
// fields of the form by the keys of the record
const KEYS = {
  old_fluid: "old_fluid",
  mileage_km: "mileage",
  fluid_name: "fluid",
  fluid_lot: "lot",
  unit: "unit",
  technician: "technician",
  used_oil_container: "oil_container",
  used_oil_log: "oil_log",
  remarks: "remarks",
  washers_renewed: "washers",
};

async function begin() {
  await loadTexts(new URLSearchParams(window.location.search).get("lang") ?? "en");
  loadSettings();
  fillTexts();
  showSettings(["units", "theme"]);
  const job = decodeURIComponent(window.location.pathname.split("/")[2]);
  document.title = `${say("complete.title")} · ${say("app.name")}`;
  byId("record").href = `/jobs/${encodeURIComponent(job)}/record`;
  const where = `/api/v1/jobs/${encodeURIComponent(job)}/record`;
  const answer = await fetch(where);
  const told = await answer.json();
  if (!answer.ok) {
    put(byId("answer"), told.detail ?? told.title ?? String(answer.status));
    return;
  }
  edit(where, told.record ?? {});
}

function edit(where, record) {
  const form = byId("form");
  let values = valuesOf(record);
  let system = settings().units;
  const draw = () => {
    const button = el("button", { type: "submit", class: "wide" }, say("complete.save"));
    form.replaceChildren(...FIELDS.map((field) => fieldNode(field, values, system)), button);
  };
  draw();
  onSettings(() => {
    values = readFields(form, FIELDS, system);
    system = settings().units;
    draw();
  });
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    save(where, changed(record, entriesOf(readFields(form, FIELDS, system), record)));
  });
}

function valuesOf(record) {
  const values = Object.fromEntries(
    Object.entries(KEYS).map(([key, name]) => [name, record[key] ?? null]),
  );
  for (const { part, torque_Nm } of record.torques ?? []) {
    const known = PARTS.find((one) => say(`new_job.${one}`) === part);
    if (known) values[`torque_${known}`] = torque_Nm;
  }
  return values;
}

/** The entries of the record that the form says; torques of other parts stay. */
function entriesOf(values, record) {
  const entries = Object.fromEntries(
    Object.entries(KEYS).map(([key, name]) => [key, values[name]]),
  );
  const names = PARTS.map((part) => say(`new_job.${part}`));
  const others = (record.torques ?? []).filter(({ part }) => !names.includes(part));
  const typed = PARTS.filter((part) => filledIn(values[`torque_${part}`]));
  const torques = typed.map((part) => ({
    part: say(`new_job.${part}`),
    torque_Nm: values[`torque_${part}`],
  }));
  const washers = (record.washers_renewed ?? []).filter((part) => !names.includes(part));
  return {
    ...entries,
    torques: [...others, ...torques],
    washers_renewed: [...washers, ...values.washers],
  };
}

const isEmpty = (value) => !filledIn(value) || (Array.isArray(value) && value.length === 0);

/** Only what is new; what was emptied is cleared. */
function changed(record, entries) {
  const fresh = Object.entries(entries).filter(([key, value]) => {
    if (isEmpty(value) && isEmpty(record[key])) return false;
    return JSON.stringify(value) !== JSON.stringify(record[key]);
  });
  return Object.fromEntries(fresh.map(([key, value]) => [key, isEmpty(value) ? null : value]));
}

async function save(where, entries) {
  put(byId("answer"), say("new_job.sending"));
  try {
    const answer = await fetch(where, {
      method: "PATCH",
      headers: { "Content-Type": "application/json" },
      body: JSON.stringify(entries),
    });
    const told = await answer.json();
    if (!answer.ok) throw new Error(told.detail ?? told.title ?? String(answer.status));
    put(byId("answer"), say("complete.saved"));
  } catch (error) {
    put(byId("answer"), say("new_job.refused", { reason: error.message }));
  }
}

begin();
