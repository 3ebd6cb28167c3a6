// Calls the service at the address given, with types made of its document by openapi-typescript.
import assert from "node:assert/strict";
import jsonPatch from "fast-json-patch";
import createClient from "openapi-fetch";
import type { components, paths } from "./schema.js";

type Schemas = components["schemas"];

// Calculations can be asked for text as well, and a batch for lines, which is not what this program wants.
const client = createClient<paths, "application/json" | "application/problem+json">({
  baseUrl: process.argv[2] ?? "http://127.0.0.1:8080",
  querySerializer: { array: { style: "form", explode: false } },
});

/** The answer of a call, or its problem thrown. */
function answered<T>({ data, error }: { data?: T; error?: Schemas["Problem"] }): T {
  assert(data !== undefined, `${error?.title}: ${error?.detail}`);
  return data;
}

async function stops(): Promise<void> {
  const query = { from: "f/8", to: "f/11" } as const;
  const asked: Schemas["Conversion"] = answered(await client.GET("/v1/stops/convert", { params: { query } }));
  const posted: Schemas["Conversion"] = answered(await client.POST("/v1/stops/convert", { body: query }));
  assert.deepEqual(asked, posted);
  assert.equal(asked.exposure_stops, -1);
  assert.equal(asked.to.mark, "f/11");
  // The kind of an answer is a word out of a few.
  const kind: "f_number" | "iso" | "distance" | undefined =
    asked.kind === "f_number" || asked.kind === "iso" || asked.kind === "distance" ? asked.kind : undefined;
  assert.equal(kind, "f_number");
  const number = answered(await client.POST("/v1/stops/convert", { body: { from: 8, to: 11, kind: "f_number" } }));
  assert.equal(number.exposure_stops, -1);
}

async function balance(): Promise<void> {
  const key: Schemas["UnitInput"] = { energy: "600 J", scale: { style: "dial", full: 9, least: 2 } };
  const fill: Schemas["UnitInput"] = { energy: 300, scale: { style: "percent", least: 5 } };
  const body: Schemas["SetRequest"] = {
    exposure: { f_number: "f/8" },
    lights: [
      { name: "key", unit: key },
      { name: "fill", unit: fill },
    ],
    ratio: { value: "3:1", key: "key", fill: "fill" },
    readings: [
      { light: "key", setting: "8", f_number: "f/11" },
      { light: "fill", setting: "100 %", f_number: "f/8" },
    ],
  };
  const answer = answered(await client.POST("/v1/ratios/balance", { body }));
  assert(answer.feasible && answer.optimality.proven);
  assert.deepEqual(answer.settings.map(({ light, setting }) => [light, setting?.label]), [["key", "6.4"], ["fill", "33 %"]]);
  assert.equal(answer.ratio?.counting, "sides");
}

/** A set whose fill is too weak for the ratio. */
const weakFill: Schemas["SetRequest"] = {
  exposure: { f_number: "f/8" },
  lights: [
    { name: "key", unit: { energy: "600 J", scale: { style: "dial", full: 9, least: 2 } } },
    { name: "fill", unit: { energy: 300, scale: { style: "percent", least: 5 } } },
  ],
  ratio: { value: "2:1", key: "key", fill: "fill" },
  readings: [
    { light: "key", setting: "8", f_number: "f/11" },
    { light: "fill", setting: "100 %", f_number: "f/4" },
  ],
};

/** What the service proposes is applied to the request and asked again. */
async function remedyFollowed(): Promise<void> {
  const answer = answered(await client.POST("/v1/ratios/balance", { body: weakFill }));
  const remedy = answer.remedies[0];
  assert(!answer.feasible && remedy);
  const body = jsonPatch.applyPatch(weakFill, remedy.patch, true, false).newDocument;
  const better = answered(await client.POST("/v1/ratios/balance", { body }));
  assert.equal(better.feasible, remedy.then.feasible);
  assert.equal(better.worst_error_stops, remedy.then.worst_error_stops);
}

/** What this program says in German, by code. */
const german: { [code in Schemas["WarningCode"]]?: string } = {
  sides_ratio_missed: "Lichtseite zu Schattenseite ergibt {achieved}:1 statt {target}:1.",
};

/** A template with its params in place. */
function filled(template: string, params: Schemas["Params"] = {}, decimal = "."): string {
  return template.replace(/\{(\w+)\}/g, (_, name: string) => {
    const value = params[name];
    return typeof value === "number" ? String(value).replace(".", decimal) : String(value);
  });
}

async function codeTranslated(): Promise<void> {
  const { codes } = answered(await client.GET("/v1/codes", {}));
  const warning = answered(await client.POST("/v1/ratios/balance", { body: weakFill })).warnings[0];
  const row = codes.find(({ kind, code }) => kind === "warning" && code === warning?.code);
  assert(warning && row);
  assert.equal(filled(row.template, warning.params), warning.text);
  const words = filled(german[warning.code] ?? row.template, warning.params, ",");
  assert.equal(words, "Lichtseite zu Schattenseite ergibt 4,03:1 statt 2:1.");
}

async function refused(): Promise<void> {
  const { data, error, response } = await client.POST("/v1/stops/convert", { body: { from: "f/0", to: "f/-2" } });
  assert.equal(data, undefined);
  const problem: Schemas["Problem"] | undefined = error;
  assert.equal(response.status, 422);
  assert.equal(problem?.status, 422);
  assert.equal(problem?.type, "/problems/invalid-request");
  assert.deepEqual(problem?.errors?.map(({ pointer }) => pointer), ["/from", "/to"]);
}

/** Answers say `unit`, `setting` and `response` as requests take them. */
async function sentBack(): Promise<void> {
  const scale: Schemas["ScaleInput"] = { style: "dial", full: 9, least: 3 };
  const readings: Schemas["UnitReadingInput"][] = [9, 8, 7].map((setting) => ({ setting, f_number: 22 / 2 ** ((9 - setting) / 2) }));
  const body: Schemas["CalibrateRequest"] = { unit: { energy: "400 J", scale }, readings, reading: "literal" };
  const unit: Schemas["UnitInput"] = answered(await client.POST("/v1/units/calibrate", { body })).unit;
  const swapped = answered(
    await client.POST("/v1/energy/equivalence", {
      body: { reference: { unit, setting: "8", exposure: { f_number: "f/8" } }, candidates: [{ unit }] },
    }),
  );
  const setting: Schemas["SettingInput"] | undefined = swapped.candidates[0]?.setting;
  assert(setting && typeof setting === "object");
  assert.equal(setting.label, "8");
  const response = answered(
    await client.POST("/v1/patches/response", { body: { frames: [{ stops: 0, level: 100 }, { stops: 1, level: 140 }] } }),
  ).response;
  const compared = await client.POST("/v1/patches/compare", {
    body: { reference: 100, readings: [{ name: "wall", level: [140, 140, 140] }], response },
  });
  assert.equal(answered(compared).readings[0]?.stops, 1);
}

async function objectsInQuery(): Promise<void> {
  const query: NonNullable<paths["/v1/lights/falloff"]["get"]["parameters"]["query"]> = {
    source: { disc_m: 0.9 },
    distances: [0.5, "1 m", 2],
  };
  const answer = answered(await client.GET("/v1/lights/falloff", { params: { query } }));
  assert.deepEqual(answer.rows.map(({ distance_m }) => distance_m), [0.5, 1, 2]);
}

async function batch(): Promise<void> {
  const question: Schemas["ConvertRequest"] = { from: "f/8", shift: -1 };
  const requests: Schemas["BatchItem"][] = [{ id: "one", path: "/v1/stops/convert", body: { ...question } }];
  const { answers } = answered(await client.POST("/v1/batch", { body: { requests } }));
  assert.deepEqual(answers.map(({ id, status }) => [id, status]), [["one", 200]]);
  const conversion = answers[0]?.body as unknown as Schemas["Conversion"];
  assert.equal(conversion.to.mark, "f/11");
}

/** What the types must not let through; never called. */
export function wrong(): unknown[] {
  return [
    // @ts-expect-error: `from` is missing
    client.POST("/v1/stops/convert", { body: { to: "f/8" } }),
    // @ts-expect-error: a path that is not there
    client.GET("/v1/stops/konvert", {}),
    // @ts-expect-error: a kind that is not known
    client.POST("/v1/stops/convert", { body: { from: 8, to: 11, kind: "aperture" } }),
    // @ts-expect-error: an aperture is a number or a text
    client.POST("/v1/stops/convert", { body: { from: ["f/8"], to: "f/11" } }),
    // @ts-expect-error: a field that is not known
    { from: "f/8", to: "f/11", stop: 1 } satisfies Schemas["ConvertRequest"],
    // @ts-expect-error: a field that may be null is told, and must be looked at
    ({} as Schemas["Balance"]).total_energy_j.toFixed(),
    // @ts-expect-error: an answer in JSON is no text
    client.GET("/v1/stops/convert", { params: { query: { from: "f/8" } } }).then(({ data }) => data?.toUpperCase()),
  ];
}

for (const call of [stops, balance, remedyFollowed, codeTranslated, refused, sentBack, objectsInQuery, batch]) {
  await call();
  console.log(`typescript: ${call.name}`);
}
