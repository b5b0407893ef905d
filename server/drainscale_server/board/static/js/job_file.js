/* What the form says, as the order for the kit (a job file's [procedure] and [fluid]) and as the
   entries of the record. All metric; empty entries are left out. */

const NUMBER = /^-?\d+(\.\d+)?$/;

/** Read a number as it was typed, comma or point; null where there is none. */
export function numberOf(text) {
  const plain = String(text ?? "")
    .trim()
    .replace(",", ".");
  return NUMBER.test(plain) ? Number(plain) : null;
}

/** Write the order as TOML. `values`: procedure and fluid with the keys of a job file. */
export function jobFile({ procedure, fluid }) {
  return ["format = 1", ...table("procedure", procedure), ...table("fluid", fluid), ""].join("\n");
}

function table(name, entries) {
  const lines = Object.entries(entries)
    .filter(([, value]) => value !== null && value !== undefined && value !== "")
    .map(([key, value]) => `${key} = ${written(value)}`);
  return [`[${name}]`, ...lines];
}

function written(value) {
  if (Array.isArray(value)) return `[${value.map(written).join(", ")}]`;
  return typeof value === "number" ? float(value) : JSON.stringify(value);
}

/** A TOML float has a point; nine digits are more than a form can say. */
function float(value) {
  const text = String(Number(value.toPrecision(9)));
  return /[.e]/.test(text) ? text : `${text}.0`;
}

/** Leave out what was not said. */
export const said = (entries) =>
  Object.fromEntries(Object.entries(entries).filter(([, value]) => value !== null && value !== ""));
