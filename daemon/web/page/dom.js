// Building elements, and bringing what stands on the page in line with what should stand there. Text is always text:
// nothing here reads markup.

const SVG = "http://www.w3.org/2000/svg";
const SVG_TAGS = new Set([
  "svg",
  "path",
  "circle",
  "rect",
  "line",
  "polyline",
  "text",
  "g",
  "title",
  "pattern",
  "defs",
]);

/** h("p", {class: "x"}, "text", otherElement, null, [more]). A tag may carry classes: "p.large.old". */
export function h(tag, attributes, ...children) {
  const [name, ...classes] = tag.split(".");
  const isAttributes =
    attributes && typeof attributes === "object" && !Array.isArray(attributes) && !attributes.nodeType;
  if (!isAttributes) children.unshift(attributes);
  const element = SVG_TAGS.has(name) ? document.createElementNS(SVG, name) : document.createElement(name);
  const all = isAttributes ? { ...attributes } : {};
  if (classes.length) all.class = [...classes, all.class].filter(Boolean).join(" ");
  for (const [key, value] of Object.entries(all))
    if (value !== null && value !== undefined && value !== false)
      element.setAttribute(key, value === true ? "" : value);
  append(element, children);
  return element;
}

function append(element, children) {
  for (const child of children.flat(Infinity))
    if (child !== null && child !== undefined && child !== false) element.append(child);
}

const keyOf = (node) => node.nodeType === 1 && node.getAttribute("data-key");
const alike = (a, b) => a.nodeType === b.nodeType && a.nodeName === b.nodeName && keyOf(a) === keyOf(b);

/** Makes the children of `here` those of `wanted`, keeping elements (and so focus and open dialogs) where it can. */
export function patchChildren(here, wanted) {
  const focused = document.activeElement;
  patchInside(here, wanted);
  if (focused !== document.activeElement && here.contains(focused)) focused.focus({ preventScroll: true });
}

function patchInside(here, wanted) {
  const keyed = new Map();
  for (const child of here.childNodes) if (keyOf(child)) keyed.set(keyOf(child), child);
  let cursor = here.firstChild;
  for (const want of [...wanted.childNodes]) {
    const key = keyOf(want);
    const named = key ? keyed.get(key) : cursor;
    const match = named && alike(named, want) ? named : null;
    if (!match) {
      here.insertBefore(want, cursor);
    } else {
      if (match === cursor) cursor = cursor.nextSibling;
      else here.insertBefore(match, cursor);
      patch(match, want);
    }
  }
  while (cursor) {
    const next = cursor.nextSibling;
    cursor.remove();
    cursor = next;
  }
}

function patch(here, wanted) {
  if (here.nodeType !== 1) {
    if (here.data !== wanted.data) here.data = wanted.data;
    return;
  }
  for (const { name } of [...here.attributes])
    if (!wanted.hasAttribute(name) && !isPersons(here, name)) here.removeAttribute(name);
  for (const { name, value } of [...wanted.attributes])
    if (here.getAttribute(name) !== value) here.setAttribute(name, value);
  if (!here.hasAttribute("data-keep")) patchInside(here, wanted); // a chart draws its own inside
}

/** What a person has opened stays open. */
const isPersons = (element, name) => element.nodeName === "DETAILS" && name === "open";

export const byId = (id) => document.getElementById(id);

/** Fields of a form as an object; empty ones are left out. */
export function fieldsOf(form) {
  const out = {};
  for (const [key, value] of new FormData(form))
    if (typeof value === "string" && value.trim() !== "") out[key] = value.trim();
  return out;
}
