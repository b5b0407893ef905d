/* The gates, grouped before and after: what is asked now has its buttons, the rest is shown. */

import { byId, el, renew, svg } from "./dom.js";
import { has, say } from "./texts.js";
import { duration } from "./units.js";
import { canAnswer } from "./view.js";

const GROUPS = ["before-drain", "at-step", "after-seal"];
const LIST_OF_STEP = { prepare: ["before-drain"], seal: ["at-step", "after-seal"] };

/** @param press  called with (gate id or id=answer, name for the answer line) */
export function showTicks(view, press, isBusy) {
  const gates = (view.state.procedure?.gates ?? []).filter((gate) => isShown(view, gate));
  const isOpen = canAnswer(view) && !isBusy;
  const key = JSON.stringify([gates, isOpen, gates.map((gate) => coldText(view, gate))]);
  renew(byId("tick-groups"), key, () => {
    const groups = GROUPS.map((group) =>
      groupNode(
        group,
        gates.filter((g) => g.group === group),
        view,
        press,
        isOpen,
      ),
    );
    const shown = groups.filter((node) => node !== null);
    return shown.length ? shown : [el("p", {}, say("ticks.none"))];
  });
}

/** Only what can be answered now, or belongs to the list that is being worked through. */
function isShown(view, gate) {
  if (gate.is_asked) return true;
  return (
    gate.kind !== "measured" &&
    (LIST_OF_STEP[view.step] ?? []).includes(gate.group) &&
    !isFarOff(view, gate)
  );
}

const isFarOff = (view, gate) =>
  gate.group === "at-step" && gate.moment !== "stop-engine" && view.step === "seal";

function groupNode(group, gates, view, press, isOpen) {
  if (gates.length === 0) return null;
  return el(
    "div",
    { "data-group": group },
    el("h3", {}, say(`ticks.${group}`)),
    el("ul", {}, ...gates.map((gate) => gateNode(gate, view, press, isOpen))),
  );
}

function gateNode(gate, view, press, isOpen) {
  const isTicked = gate.answer !== null;
  const isPlain = gate.kind === "tick" && !isTicked;
  const when = coldText(view, gate);
  const inside = [markNode(isTicked), el("span", { class: "text", lang: "en" }, gate.text)];
  if (isTicked) inside.push(el("span", { class: "by" }, tickedBy(gate)));
  else if (when) inside.push(el("span", { class: "by" }, when));
  const name = has(`gate.${gate.id}`) ? say(`gate.${gate.id}`) : gate.id;
  const row = isPlain
    ? button(inside, "row choice", isOpen, () => press(gate.id, say("dock.tick", { gate: name })))
    : el("div", { class: "row" }, ...inside);
  const kind = isTicked ? "ticked" : isPlain ? "asked" : "asked question";
  const node = el("li", { class: `gate ${kind}`, "data-gate": gate.id }, row);
  if (!isTicked && !isPlain)
    node.append(el("div", { class: "choices" }, ...choices(gate, name, press, isOpen)));
  return node;
}

/** When the gate that waits for the fluid to be cold enough will open by itself. */
function coldText(view, gate) {
  const { t, cold_enough_s: at } = view.figures;
  if (gate.id !== "cold-enough" || at == null || at <= t) return "";
  return `${say("forecast.cold_in")} ${duration(Math.ceil((at - t) / 60) * 60)}`;
}

function markNode(isTicked) {
  const box = "M8 8h84v84H8z";
  const mark = svg("svg", {
    class: "mark",
    viewBox: "0 0 100 100",
    "aria-hidden": "true",
    focusable: "false",
  });
  mark.append(svg("path", { d: isTicked ? `${box}M26 50 44 70 76 28` : box }));
  return mark;
}

function tickedBy(gate) {
  const by = has(`by.${gate.by}`) ? say(`by.${gate.by}`) : "";
  const answer =
    gate.answer !== "yes" && has(`answer.${gate.answer}`)
      ? `${say(`answer.${gate.answer}`)}; `
      : "";
  return answer + say("ticks.ticked_by", { by });
}

function choices(gate, name, press, isOpen) {
  if (gate.kind === "measured") {
    const text = say("ticks.anyway");
    return [button([text], "choice", isOpen, () => press(gate.id, `${name}: ${text}`))];
  }
  return gate.answers.map((answer) => {
    const text = has(`answer.${answer.key}`) ? say(`answer.${answer.key}`) : answer.text;
    return button([text], "choice", isOpen, () =>
      press(`${gate.id}=${answer.key}`, `${name}: ${text}`),
    );
  });
}

function button(inside, kind, isOpen, act) {
  const node = el(
    "button",
    { type: "button", class: kind, "aria-disabled": isOpen ? null : "true" },
    ...inside,
  );
  node.addEventListener("click", () => {
    if (node.getAttribute("aria-disabled") !== "true") act();
  });
  return node;
}
