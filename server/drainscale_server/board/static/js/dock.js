/* The buttons: confirm, take back, stop. What a press says stands on the button. */

import { byId, mark, put } from "./dom.js";
import { has, say } from "./texts.js";
import { askedGates, canAnswer } from "./view.js";

const STEADY_MS = 500; // a button whose meaning is younger is not what the finger aimed at

export class Dock {
  constructor(orders) {
    this.orders = orders;
    this._view = null;
    this._meaning = "";
    this._since = -Infinity;
    byId("confirm").addEventListener("click", () => this._confirm());
    byId("back").addEventListener("click", () => this._order("back", say("dock.back")));
    byId("stop").addEventListener("click", () => this._ask(true));
    byId("stop-no").addEventListener("click", () => this._ask(false));
    byId("stop-yes").addEventListener("click", () => this._stop());
  }

  show(view) {
    this._view = view;
    const isOpen = canAnswer(view) && !this.orders.isBusy;
    for (const id of ["confirm", "back", "stop", "stop-yes"]) {
      mark(byId(id), "aria-disabled", isOpen ? null : "true");
    }
    const meaning = canAnswer(view) ? meaningOf(view) : say("dock.no_link");
    if (meaning !== this._meaning) {
      this._meaning = meaning;
      this._since = performance.now();
      put(byId("confirm").querySelector(".sub"), meaning);
    }
    byId("confirm").classList.toggle("asked", canAnswer(view) && isAsked(view));
    if (!canAnswer(view)) this._ask(false);
  }

  /** Answer one gate, from its own button. */
  tick(gate, name) {
    this._order("confirm", name, gate);
  }

  _confirm() {
    if (performance.now() - this._since < STEADY_MS) {
      this.orders.tell(say("dock.changed"));
      return;
    }
    this._order("confirm", say("dock.confirm"));
  }

  _stop() {
    this._order("abort", say("dock.stop"));
    this._ask(false);
  }

  _ask(isAsked) {
    if (isAsked && !(canAnswer(this._view) && this.orders.isReady)) return;
    const wasAsked = !byId("really").hidden;
    byId("really").hidden = !isAsked;
    byId("keys").hidden = isAsked;
    if (isAsked) byId("stop-no").focus();
    else if (wasAsked) byId("stop").focus();
  }

  _order(command, name, gate = null) {
    if (!canAnswer(this._view)) return;
    const { step, job } = this._view;
    this.orders.send({ command, step, job: job.job, gate }, name);
  }
}

/** Whether a press is due, rather than merely possible. */
const isAsked = (view) => meaningOf(view) !== say("dock.nothing") && view.cue?.cue !== "wait";

/** What a press says, in a few words: as at the foot switch. */
export function meaningOf(view) {
  const key = startsOver(view) ? "starts-over" : null;
  const ticks = askedGates(view).filter((gate) => gate.kind === "tick");
  if (key === null && ticks.length) {
    const what = ticks
      .map((gate) => (has(`gate.${gate.id}`) ? say(`gate.${gate.id}`) : gate.id))
      .join(", ");
    return say("dock.says", { what });
  }
  const meant = key ?? confirmOf(view.step, view.cue?.cue, view.job?.level_method);
  return meant ? say("dock.says", { what: say(`confirm.${meant}`) }) : say("dock.nothing");
}

/** A failed attempt, its plug shut and torqued: a press begins the wait for the fluid to cool. */
function startsOver(view) {
  if (!["start-over", "window-missed"].includes(view.cue?.reason)) return false;
  if (view.step !== "seal") return true;
  const moments = askedGates(view).map((gate) => gate.moment);
  return moments.includes("end") && !moments.includes("stop-engine");
}

/** What a press confirms where no gate is asked; a test holds it to the kit's foot switch. */
export function confirmOf(step, cue, method) {
  if (cue === "go-on" && step === "drain" && method === "standpipe") return "standpipe-out";
  if (cue === "go-on" && (step === "drain" || step === "drain-pan")) return "outlet-closed";
  if (cue === "open" && ["circulate", "warm", "refill"].includes(step)) return "plug-open";
  if ((cue === "shut" || cue === "stop") && step === "level") return "plug-shut";
  return step === "seal" ? "job-complete" : null;
}
