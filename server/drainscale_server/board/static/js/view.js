/* What the panels are shown: the state with what can be believed of it, in this display's units. */

import { units } from "./units.js";

const SCALE_S = 3; // bench time; design of the board, see docs/how-to/the-bay-board.md
const PAN_S = 5;
const ENDED = ["done", "aborted"];

/** Make the view of one moment. */
export function viewOf(feed, settings, sizes) {
  const state = feed.state ?? {};
  const figures = state.figures ?? null;
  const job = state.job ?? null;
  const isEnded = ENDED.includes(job?.state);
  const isLost = !feed.isLive;
  const isHere = (state.link?.state ?? "online") === "online";
  const isSilent = !isEnded && (!isHere || figures?.link_is_stale === true);
  const isOld = !isEnded && (isLost || isSilent);
  return {
    feed,
    state,
    job,
    isEnded,
    isLost,
    isSilent,
    figures: figures ?? {},
    hasFigures: figures !== null,
    step: figures?.step ?? state.procedure?.step ?? null,
    cue: state.cue ?? null,
    units: units(settings.units),
    settings,
    sizes,
    stale: {
      link: isOld,
      scale: isOld || isScaleStale(figures),
      pan: isOld || isPanStale(figures),
    },
    since_s: sinceOf(feed, state, isLost),
  };
}

const isScaleStale = (figures) =>
  figures?.scale_is_stale === true || (figures?.scale_age_s ?? 0) > SCALE_S;

const isPanStale = (figures) => figures?.pan_is_stale === true || (figures?.pan_age_s ?? 0) > PAN_S;

/** Since when nothing came, s since 1970, by this display's clock. */
function sinceOf(feed, state, isLost) {
  if (isLost || !state.link) return feed.heardAt === null ? null : feed.heardAt / 1000;
  return state.link.last_message_s ?? null;
}

/** Whether a person's answer can reach the kit. */
export const canAnswer = (view) => view.job?.state === "open" && !view.stale.link;

/** The gates that are asked now and not answered. */
export const askedGates = (view) =>
  (view.state.procedure?.gates ?? []).filter((gate) => gate.is_asked && gate.answer === null);

/** What the middle of the page is about: figure, fluid, ticks, result, none. */
export function focusOf(view) {
  if (view.isEnded) return "result";
  if (view.job === null || view.job.state !== "open") return "none";
  const asked = askedGates(view);
  const isList = asked.some((gate) => gate.group !== "at-step");
  const isHolding = asked.some((gate) => gate.id === view.cue?.reason);
  const { step } = view;
  if ((isList && (step === "prepare" || step === "seal")) || isHolding) return "ticks";
  return step === "circulate" || step === "warm" ? "fluid" : "figure";
}
