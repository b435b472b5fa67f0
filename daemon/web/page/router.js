// Which view an address such as "#/room/cryo-annexe" or "#/history?room=bay-3" asks for. Pure, but for `go`.

/** {view, parts, query}; an empty address is the overview. */
export function parseHash(hash) {
  const [path, query = ""] = hash.replace(/^#\/?/, "").split("?");
  const [view, ...parts] = path.split("/").filter(Boolean).map(decode);
  return { view: view ?? "rooms", parts, query: Object.fromEntries(new URLSearchParams(query)) };
}

function decode(text) {
  try {
    return decodeURIComponent(text);
  } catch {
    return text; // a stray "%": no room has such a name, and the view will say so
  }
}

/** The address of a view, with the parameters that have a value. */
export function hashOf(view, parts = [], query = {}) {
  const path = ["#", view, ...parts.map(encodeURIComponent)].join("/");
  const given = Object.entries(query).filter(([, value]) => value !== undefined && value !== null && value !== "");
  return given.length ? `${path}?${new URLSearchParams(given)}` : path;
}

export const go = (...where) => {
  location.hash = hashOf(...where);
};
