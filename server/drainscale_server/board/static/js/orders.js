/* Orders to the kit: one at a time, none within a second of another, each with its answer. */

import { put, byId } from "./dom.js";
import { say } from "./texts.js";

const PAUSE_MS = 1000;
const PATIENCE_MS = 8000;

export class Orders {
  /** @param url  where commands go  @param onChange  called when busy begins and ends */
  constructor(url, onChange) {
    this.url = url;
    this.onChange = onChange;
    this.isBusy = false;
    this._pressed = -Infinity;
  }

  /** Whether a press counts now. */
  get isReady() {
    return !this.isBusy && performance.now() - this._pressed >= PAUSE_MS;
  }

  /** Send one; `body` as the route takes it, `name` for the line of the answer. */
  async send(body, name) {
    if (!this.isReady) return;
    this._pressed = performance.now();
    this._busy(true);
    this.tell(say("dock.sending", { what: name }));
    try {
      this.tell(await this._answer(body, name));
    } catch (error) {
      this.tell(say("dock.failed", { what: name, reason: reasonOf(error) }));
    } finally {
      // not before the second is over
      const rest = PAUSE_MS - (performance.now() - this._pressed);
      window.setTimeout(() => this._busy(false), Math.max(rest, 0));
    }
  }

  async _answer(body, name) {
    const answer = await fetch(this.url, {
      method: "POST",
      headers: { "Content-Type": "application/json" },
      body: JSON.stringify(body),
      signal: AbortSignal.timeout(PATIENCE_MS),
    });
    const told = await answer.json();
    if (!answer.ok) throw new Error(told.detail ?? told.title ?? String(answer.status));
    if (told.verdict === "accepted") return say("dock.accepted", { what: name });
    return say("dock.refused", { what: name, reason: told.reason ?? "" });
  }

  tell(text) {
    put(byId("answer"), text);
  }

  _busy(isBusy) {
    this.isBusy = isBusy;
    this.onChange();
  }
}

const reasonOf = (error) =>
  error.name === "TimeoutError" || error instanceof TypeError ? "" : error.message;
