/* Earlier jobs as templates, the latest of each transmission: one touch fills the form. */

const MOST = 6;
const ASKED = 40;

/** Ask for earlier jobs; none where the server does not tell. */
export async function earlierJobs() {
  try {
    const answer = await fetch(`/api/v1/jobs?limit=${ASKED}`);
    if (!answer.ok) return [];
    const told = await answer.json();
    const jobs = Array.isArray(told) ? told : (told.jobs ?? told.items ?? []);
    return await filled(distinct(jobs));
  } catch {
    return [];
  }
}

const nameOf = (job) => job.record?.model || job.label || "";

function distinct(jobs) {
  const seen = new Map();
  for (const job of jobs) {
    const name = nameOf(job).toLowerCase();
    if (name && !seen.has(name)) seen.set(name, job);
  }
  return [...seen.values()].slice(0, MOST);
}

async function filled(jobs) {
  const specs = await Promise.all(jobs.map(specOf));
  const whole = jobs.map((job, n) => (specs[n] === null ? null : { ...job, ...specs[n] }));
  return whole
    .filter((job) => job !== null)
    .map((job) => ({ title: titleOf(job), values: valuesOf(job) }));
}

/** The limits and the fluid of a job: in the list, or asked for. */
async function specOf(job) {
  const there = job.procedure ? job : (job.ordered ?? job.spec ?? null);
  if (there?.procedure && there?.fluid) return { procedure: there.procedure, fluid: there.fluid };
  const answer = await fetch(`/api/v1/jobs/${encodeURIComponent(job.job)}`);
  if (!answer.ok) return null;
  const told = await answer.json();
  const found = told.procedure ? told : (told.ordered ?? told.spec ?? null);
  return found?.procedure && found?.fluid
    ? { procedure: found.procedure, fluid: found.fluid, record: told.record ?? job.record }
    : null;
}

const titleOf = (job) =>
  [job.record?.vehicle, job.record?.model].filter(Boolean).join(" · ") || job.label;

function valuesOf({ procedure: p, fluid: f, record: r = {} }) {
  return {
    vehicle: r.vehicle ?? "",
    model: r.model ?? "",
    method: p.level_method,
    fill: p.fill_via,
    window_low: p.window_C[0],
    window_high: p.window_C[1],
    allowance: p.allowance_L,
    close_flow: p.close_flow_mL_per_min,
    drip_flow: p.drip_flow_mL_per_min,
    fluid: r.fluid_name ?? "",
    density: f.density_kg_per_m3,
    density_at: f.density_C,
    density_u: f.density_u_kg_per_m3,
    viscosity_40: f.viscosity_40C_mm2_per_s ?? null,
    viscosity_100: f.viscosity_100C_mm2_per_s ?? null,
  };
}
