/* A new job with few touches: an earlier job of the same transmission fills the form; else the
   limits of the service information are typed once. What the form may hold is the server's to say:
   its answer is shown as it comes. */

import { byId, el, mark, put } from "./dom.js";
import { fillTexts, loadTexts, say } from "./texts.js";
import { loadSettings, onSettings, settings, showSettings } from "./settings.js";
import { jobFile, numberOf, said } from "./job_file.js";
import { earlierJobs } from "./templates.js";
import { haveAtHand } from "./supplies.js";
import { ALL_FIELDS, readForm, showFields } from "./job_form.js";
import { filledIn, nameOf } from "./fields.js";

async function begin() {
  await loadTexts(new URLSearchParams(window.location.search).get("lang") ?? "en");
  loadSettings();
  fillTexts();
  showSettings(["units", "theme"]);
  document.title = `${say("new_job.title")} · ${say("app.name")}`;
  const benches = await benchesOf();
  let values = { bench: askedBench(benches) };
  const draw = () => showFields(byId("form"), values, benches, settings().units);
  onSettings(() => {
    values = { ...values, ...readForm(byId("form"), lastUnits) };
    lastUnits = settings().units;
    draw();
  });
  let lastUnits = settings().units;
  draw();
  if (benches.length === 0) put(byId("answer"), say("new_job.no_bench"));
  byId("form").addEventListener("submit", (event) => {
    event.preventDefault();
    send(readForm(byId("form"), lastUnits));
  });
  const plan = async () =>
    put(byId("supplies"), await haveAtHand(byId("f-model").value, lastUnits));
  byId("form").addEventListener("change", (event) => event.target.id === "f-model" && plan());
  showTemplates(await earlierJobs(), (template) => {
    values = { ...readForm(byId("form"), lastUnits), ...template };
    draw();
    plan();
  });
}

async function benchesOf() {
  try {
    const answer = await fetch("/api/v1/benches");
    const told = await answer.json();
    return Array.isArray(told) ? told : (told.benches ?? told.items ?? []);
  } catch {
    return [];
  }
}

function askedBench(benches) {
  const asked = new URLSearchParams(window.location.search);
  const names = benches.map((bench) => `${bench.site}/${bench.bench}`);
  const wanted = `${asked.get("site")}/${asked.get("bench")}`;
  return names.includes(wanted) ? wanted : (names[0] ?? "");
}

function showTemplates(templates, take) {
  const list = byId("template-list");
  if (templates.length === 0) {
    list.replaceChildren(el("p", {}, say("new_job.template_none")));
    return;
  }
  list.replaceChildren(
    ...templates.map((template) => {
      const button = el(
        "button",
        { type: "button", class: "template", "aria-pressed": "false" },
        template.title,
      );
      button.addEventListener("click", () => {
        for (const other of list.children) mark(other, "aria-pressed", other === button);
        take(template.values);
      });
      return button;
    }),
  );
}

/** Send the job; what is missing is told first, all at once. */
async function send(values) {
  const missing = ALL_FIELDS.filter((field) => field.isNeeded && !filledIn(values[field.name]));
  for (const field of ALL_FIELDS) {
    const input = byId(`f-${field.name}`);
    if (input instanceof HTMLInputElement)
      mark(input, "aria-invalid", missing.includes(field) ? "true" : null);
  }
  if (missing.length) {
    const what = missing.map((field) => nameOf(field, settings().units)).join(", ");
    put(byId("answer"), say("new_job.missing", { what }));
    byId(`f-${missing[0].name}`)?.focus();
    return;
  }
  put(byId("answer"), say("new_job.sending"));
  const [site, bench] = values.bench.split("/");
  try {
    const job = await posted(orderOf(values, site, bench));
    const board = `/board/${encodeURIComponent(site)}/${encodeURIComponent(bench)}`;
    byId("answer").replaceChildren(
      say("new_job.sent", { job, bench }),
      " ",
      el("a", { class: "action", href: board }, say("new_job.to_board")),
    );
  } catch (error) {
    put(byId("answer"), say("new_job.refused", { reason: error.message }));
  }
}

async function posted(order) {
  const answer = await fetch("/api/v1/jobs", {
    method: "POST",
    headers: { "Content-Type": "application/json" },
    body: JSON.stringify(order),
  });
  const told = await answer.json();
  if (!answer.ok) throw new Error(told.detail ?? told.title ?? String(answer.status));
  return told.job;
}

function orderOf(values, site, bench) {
  const window_C = [values.window_low, values.window_high];
  return {
    site,
    bench,
    label: [values.vehicle, values.model].filter(Boolean).join(" · ").slice(0, 80),
    job_file: jobFile({
      procedure: {
        level_method: values.method,
        fill_via: values.fill,
        window_C,
        allowance_L: values.allowance,
        close_flow_mL_per_min: values.close_flow,
        drip_flow_mL_per_min: values.drip_flow,
      },
      fluid: {
        density_kg_per_m3: values.density,
        density_C: values.density_at,
        density_u_kg_per_m3: values.density_u,
        viscosity_40C_mm2_per_s: numberOf(values.viscosity_40),
        viscosity_100C_mm2_per_s: numberOf(values.viscosity_100),
      },
    }),
    record: said({
      vehicle: values.vehicle,
      model: values.model,
      plate: values.plate,
      mileage_km: values.mileage,
      fluid_name: values.fluid,
      fluid_lot: values.lot,
      unit: values.unit,
      old_fluid: values.old_fluid,
      technician: values.technician,
    }),
  };
}

begin();
