/* What to do now: word, sentence, symbol, and the kit's lamps in small. */

import { byId, el, mark, put, renew, svg } from "./dom.js";
import { has, say } from "./texts.js";
import { clockOf } from "./units.js";
import { CUES, LAMPS } from "./cues.js";
import { symbol } from "./symbols.js";

/** What the band says at this moment: {key, word, text, band, cue}. */
export function saidNow(view) {
  if (view.job?.state === "done") return said("done", say("result." + verdictOf(view)), "white");
  if (view.job?.state === "aborted") return said("aborted", say("now.aborted"), "calm");
  if (view.stale.link) return said("no-link", lostText(view), "lost");
  if (view.job === null) return said("no-job", say("now.no_job"), "calm");
  if (view.job.state !== "open")
    return said("no-job", say("now.planned", { label: view.job.label || view.job.job }), "calm");
  if (view.cue === null || !view.hasFigures)
    return said("wait", say("now.waiting_for_kit"), "calm");
  const cue = view.cue.cue;
  return { ...said(cue, view.cue.text, CUES[cue]?.band ?? "calm"), cue };
}

const said = (key, text, band) => ({ key, word: say(`word.${key}`), text, band, cue: null });

function verdictOf(view) {
  const verdict = view.state.result?.verdict ?? "";
  return has(`result.${verdict}`) ? verdict : "not-measured";
}

function lostText(view) {
  if (view.since_s === null) return say(view.isLost ? "link.connecting" : "now.never_heard");
  const clock = clockOf(view.since_s);
  if (view.isLost) return say("now.no_link", { clock });
  if (view.state.link?.reason === "stopped") return say("now.kit_stopped");
  return say("now.kit_off", { clock });
}

export function showNow(view) {
  const now = saidNow(view);
  mark(byId("now"), "data-band", now.band);
  mark(byId("now"), "data-cue", now.key);
  put(byId("word"), now.word);
  showText(view, now);
  renew(byId("symbol"), now.key, () => symbol(now.key));
  showMast(now.cue);
}

function showText(view, now) {
  const isFree = view.job === null && !view.stale.link;
  const isFinished = view.isEnded && !view.isLost;
  renew(byId("text"), `${now.text}|${isFree}|${isFinished}`, () => {
    const { site, bench } = view.state.bench ?? {};
    const link = el(
      "a",
      { class: "action", href: `/new-job?site=${site}&bench=${bench}` },
      say("now.new_job"),
    );
    return isFree || isFinished ? [el("span", {}, now.text), " ", link] : [now.text];
  });
}

/** Draw the four lamps; only the lit one moves. */
function showMast(cue) {
  const look = CUES[cue] ?? null;
  const words = look
    ? `${say(`lamp.${look.lamp}`)}, ${say(`pattern.${look.pattern}`)}`
    : say("lamp.none");
  const mast = byId("mast");
  mark(mast, "aria-label", `${say("lamp.mast")}: ${words}`);
  renew(mast, `${look?.lamp} ${look?.pattern}`, () => [
    svg(
      "svg",
      { viewBox: "0 0 50 194", focusable: "false", "aria-hidden": "true" },
      ...LAMPS.map((lamp, place) => {
        const state = lamp === look?.lamp ? `lit ${lamp} ${look.pattern}` : "";
        return svg("circle", { cx: 25, cy: 25 + place * 48, r: 20, class: `lamp ${state}` });
      }),
    ),
  ]);
}
