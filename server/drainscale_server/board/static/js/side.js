/* Beside the stage: faults, cautions of the step, what happened. */

import { byId, el, mark, renew, svg } from "./dom.js";
import { has, say } from "./texts.js";
import { duration } from "./units.js";
import { symbol } from "./symbols.js";

const GRAVE = ["nobody-under", "burn"];
const EVENTS_SHOWN = 8;

export function showFaults(view) {
  const all = [...(view.figures.faults ?? []), ...(view.state.bench?.kit_faults ?? [])];
  const kit = [...new Set(all)].map((fault) =>
    has(`fault.${fault}`) ? say(`fault.${fault}`) : say("fault.kit", { text: fault }),
  );
  const server = (view.state.server?.faults ?? []).map((text) => say("fault.server", { text }));
  // what ails the kit is known only while it is heard
  const isHeard = !view.isEnded && !view.stale.link;
  const texts = [...(isHeard ? kit : []), ...(view.isLost ? [] : server)];
  byId("faults").hidden = texts.length === 0;
  renew(byId("fault-list"), texts.join("|"), () => texts.map(faultNode));
}

function faultNode(text) {
  const sign = svg("svg", { viewBox: "0 0 100 100", "aria-hidden": "true", focusable: "false" });
  sign.append(...symbol("fault"));
  return el("li", {}, sign, el("span", {}, text));
}

export function showCautions(view) {
  const cautions = view.state.procedure?.cautions ?? [];
  byId("strip").hidden = cautions.length === 0;
  byId("cautions").hidden = cautions.length === 0;
  const key = cautions.map((caution) => caution.key).join(" ");
  const grave = cautions.filter((caution) => GRAVE.includes(caution.key));
  byId("grave").hidden = grave.length === 0;
  renew(byId("grave"), key, () => grave.map(shortNode));
  const rest = cautions.filter(
    (caution) => !GRAVE.includes(caution.key) && caution.key !== "defer",
  );
  renew(byId("strip-list"), key, () => rest.map(shortNode));
  renew(byId("caution-list"), key, () => cautions.map((caution) => el("li", {}, caution.text)));
}

function shortNode(caution) {
  const text = has(`caution.${caution.key}`) ? say(`caution.${caution.key}`) : caution.text;
  return el("li", {}, text);
}

export function showEvents(view) {
  const events = (view.state.events ?? []).slice(-EVENTS_SHOWN).reverse();
  byId("story").hidden = events.length === 0;
  renew(byId("events"), JSON.stringify(events), () => events.map(eventNode));
}

function eventNode(event) {
  const sensor =
    event.sensor && has(`sensor.${event.sensor}`)
      ? say(`sensor.${event.sensor}`)
      : (event.sensor ?? "");
  const text = has(`event.${event.event}`) ? say(`event.${event.event}`, { sensor }) : event.event;
  return el("li", {}, el("span", { class: "at" }, duration(event.t)), el("span", {}, text));
}

const STEPS = [
  "prepare",
  "drain",
  "drain-pan",
  "refit",
  "refill",
  "circulate",
  "warm",
  "level",
  "seal",
  "done",
];

/** The steps as a path; only the present one has its name. */
export function showPath(view) {
  const hasStandpipe = view.job?.level_method !== "check-plug";
  const steps = STEPS.filter((step) => hasStandpipe || step !== "drain-pan");
  const present = view.job?.state === "done" ? "done" : view.step;
  const place = steps.indexOf(present);
  const mode = view.state.procedure?.mode;
  const more = !view.isEnded && has(`mode.${mode}`) ? `: ${say(`mode.${mode}`)}` : "";
  byId("path").hidden = view.job === null;
  renew(byId("path"), `${steps.length} ${present} ${more}`, () =>
    steps.map((step, n) => {
      const kind = n < place ? "past" : n === place ? "present" : null;
      const item = el(
        "li",
        { class: kind },
        el("span", {}, say(`step.${step}`), n === place ? more : null),
      );
      mark(item, "aria-current", n === place ? "step" : null);
      return item;
    }),
  );
}
