/* The few things done to the page's tree. Nothing here writes HTML: texts go in as text. */

const SVG = "http://www.w3.org/2000/svg";

export const byId = (id) => document.getElementById(id);

/** Make an element: el("li", {class: "past"}, "text", child). */
export function el(tag, attributes = {}, ...children) {
  return filled(document.createElement(tag), attributes, children);
}

/** Make an element of a drawing. */
export function svg(tag, attributes = {}, ...children) {
  return filled(document.createElementNS(SVG, tag), attributes, children);
}

function filled(node, attributes, children) {
  for (const [name, value] of Object.entries(attributes)) {
    if (value !== null && value !== undefined && value !== false) node.setAttribute(name, value);
  }
  node.append(...children.filter((child) => child !== null && child !== undefined));
  return node;
}

/** Write a text, if it is another one: a live region would speak it again. */
export function put(node, text) {
  if (node.textContent !== text) node.textContent = text;
}

/** Set or take an attribute, if that changes anything. */
export function mark(node, name, value) {
  if (value === null || value === false || value === undefined) node.removeAttribute(name);
  else if (node.getAttribute(name) !== String(value)) node.setAttribute(name, value);
}

/** Make children anew only where what they are made of has changed. */
export function renew(node, key, make) {
  if (node.dataset.key === key) return;
  node.dataset.key = key;
  node.replaceChildren(...make());
}
