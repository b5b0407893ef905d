/* The live feed: one stream a tab, none in a hidden one, and it comes back by itself.

   Whoever listens is told two things: the state, and whether it can still be believed. A stream
   can break without a word (a cable pulled half-way), so silence counts: the server says something
   each second. */

import { goIn } from "./session.js";

const SILENT_MS = 3500;
const DEAD_MS = 10000; // a stream so long silent is opened anew
const AGAIN_MS = [500, 1000, 2000, 4000];
const ASKED_IN = 2; // tries; then at each one: the server may be away for the first of them
const TREND_S = 600;

export class Feed {
  /** @param url  the bench's feed  @param onChange  called with this feed after each change */
  constructor(url, onChange) {
    this.url = url;
    this.onChange = onChange;
    this.state = null;
    this.link = "connecting"; // live, lost, hidden
    this.heardAt = null; // this display's clock, ms since 1970
    this._heard = 0;
    this._tries = 0;
    this._source = null;
    this._timer = null;
    document.addEventListener("visibilitychange", () => this._seen());
    window.addEventListener("online", () => this._reopen());
    window.setInterval(() => this._watch(), 500);
    this._seen();
  }

  get isLive() {
    return this.link === "live";
  }

  _seen() {
    if (document.visibilityState === "hidden") {
      this._close();
      this._is("hidden");
    } else {
      this._reopen();
    }
  }

  /** The server ends each stream after a while: nothing is lost by that, so nothing is said. */
  _again(source) {
    if (source === this._source) this._open();
  }

  _reopen() {
    if (document.visibilityState === "hidden") return;
    this._open();
    if (this.link !== "lost") this._is(this.state === null ? "connecting" : "lost");
  }

  _open() {
    this._close();
    this._heard = performance.now();
    const source = new EventSource(this.url);
    this._source = source;
    source.addEventListener("snapshot", (event) => this._take(source, event, (data) => data));
    source.addEventListener("change", (event) =>
      this._take(source, event, (data) => this._merged(data)),
    );
    source.addEventListener("beat", (event) => this._take(source, event, () => this.state));
    source.addEventListener("again", () => this._again(source));
    source.addEventListener("error", () => this._broke(source));
  }

  _close() {
    window.clearTimeout(this._timer);
    this._source?.close();
    this._source = null;
  }

  _take(source, event, take) {
    if (source !== this._source) return;
    const state = take(JSON.parse(event.data));
    this._heard = performance.now();
    this._tries = 0;
    if (state === null) return; // a beat before the snapshot
    this.state = state;
    this.heardAt = Date.now();
    this.link = "live";
    this.onChange(this);
  }

  _merged(change) {
    if (this.state === null) return null;
    const { trend_add: more, ...sections } = change;
    const state = { ...this.state, ...sections };
    if (more) state.trend = joined(state.trend, more);
    return state;
  }

  _broke(source) {
    if (source !== this._source) return;
    this._close();
    this._is("lost");
    if (this._tries >= ASKED_IN) goIn(); // somebody may have logged all out
    const pause = AGAIN_MS[Math.min(this._tries, AGAIN_MS.length - 1)];
    this._tries += 1;
    this._timer = window.setTimeout(() => this._reopen(), pause);
  }

  _watch() {
    if (this._source === null) return;
    const silent = performance.now() - this._heard;
    if (silent > DEAD_MS) {
      this._is("lost");
      this._reopen();
    } else if (silent > SILENT_MS && this.link !== "lost") {
      this._is("lost");
    }
  }

  _is(link) {
    if (this.link === link) return;
    this.link = link;
    this.onChange(this);
  }
}

function joined(trend, more) {
  if (!trend || !trend.t) return more;
  const all = {};
  for (const name of Object.keys(trend)) all[name] = [...trend[name], ...(more[name] ?? [])];
  const from = all.t.findIndex((t) => t >= all.t[all.t.length - 1] - TREND_S);
  for (const name of Object.keys(all)) all[name] = all[name].slice(from);
  return all;
}
