/* What to have at hand for a model of transmission, from the shop's own jobs. */

import { say } from "./texts.js";
import { QUART_L, units } from "./units.js";

const BOTTLE_L = { metric: 1.0, us: QUART_L };

/** Ask for it; an empty text where the shop has no history of the model. */
export async function haveAtHand(model, system) {
  if (!model.trim()) return "";
  try {
    const asked = new URLSearchParams({ model: model.trim(), bottle_L: BOTTLE_L[system] });
    const answer = await fetch(`/api/v1/planning?${asked}`);
    const told = await answer.json();
    return answer.ok && told.basis === "history" ? written(told, units(system)) : "";
  } catch {
    return ""; // an extra, not worth an error
  }
}

function written(told, u) {
  return say("new_job.supplies", {
    low: u.text("volume_L", told.litres.low_L),
    high: u.text("volume_L", told.litres.high_L),
    bottles: String(told.bottles),
    bottle: u.text("volume_L", told.bottle_L),
    n: String(told.jobs_n),
  });
}
