// What the daemon's own sources demand of a request, so that the stand-in refuses what the daemon would.
import { readFile } from "node:fs/promises";

const source = (path) => readFile(new URL(`../../${path}`, import.meta.url), "utf8");

export const daemonsDescription = async () => JSON.parse(await source("daemon/web/openapi.json"));

/** The first parameter or member that the description demands and that is not there. */
export function lacking(description, method, path, query, body = {}) {
  const matches = (template) => new RegExp(`^${template.replaceAll(/\{\w+\}/g, "[^/]+")}$`).test(path);
  const [, methods] = Object.entries(description.paths).find(([template]) => matches(template)) ?? [];
  const { parameters = [], requestBody } = methods?.[method.toLowerCase()] ?? {};
  const all = [...(methods?.parameters ?? []), ...parameters];
  const asked = all.filter((one) => one.in === "query" && one.required).map((one) => one.name);
  const members = requestBody?.content["application/json"].schema.required ?? [];
  return asked.find((name) => !query[name]) ?? members.find((name) => !(name in body));
}

/** The names that `oxherd explain` knows, from its own source. */
export async function explainNames() {
  const text = await source("daemon/cli/explain_options.cpp");
  const values = [...text.matchAll(/\{"([a-z-]+)", D::/g)].map(([, name]) => name);
  const others = [...text.matchAll(/\{"--([a-z-]+)", /g)].map(([, name]) => name);
  return new Set([...values.flatMap((name) => [name, `u-${name}`]), ...others]);
}
