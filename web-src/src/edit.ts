// The campaign as a form: every text is what campaign.toml will say, checked by the server when it is saved.
import { api, Refusal, type CampaignDraft, type Fault, type PullDraft } from "./api";
import { byId, fill, h, say, type Child, type Props } from "./dom";
import { faultList } from "./measured";
import { emit, S, takeCampaign } from "./store";

let draft: CampaignDraft | null = null;
let basis = "";
const CORRECTIONS = ["none", "sae-j1349", "sae-j1349-jun90", "iso-1585", "din-70020", "jis-d1001", "sae-j607"];

export function discard(): void { draft = null; }
function current(): CampaignDraft {
  const view = S.campaign!;
  const files = view.inspection.logs.map(log => log.file);
  for (const setup of draft?.setups ?? []) setup.build ||= view.builds.find(build => build === `builds/${setup.name}.toml`) ?? "";
  if (!draft || basis !== view.version) {
    draft = structuredClone(view.campaign);
    basis = view.version;
    if (draft.setups.length < 2) draft.setups = [{ name: "first", build: "" }, { name: "second", build: "" }];
  }
  for (const file of files) if (!draft.pulls.some(pull => pull.file === file))
    draft.pulls.push({ file, setup: "", started: "", barometer: "", air_temperature: "", relative_humidity: "", soak_temperature: "", installation: null, session: "" });
  return draft;
}
function touched(): void { if (!S.dirty) { S.dirty = true; emit("stale"); } isDraftReady(); }

function field(words: string, key: string, value: string, set: (said: string) => void, more: Props = {}): HTMLElement {
  return h("label", { class: "field" }, h("span", {}, words), input(words, key, value, set, { ...more, "aria-label": undefined }));
}
function input(words: string, key: string, value: string, set: (said: string) => void, more: Props = {}): HTMLInputElement {
  return h("input", { type: "text", "data-key": key, value, "aria-label": words, autocomplete: "off", spellcheck: "false", ...more, oninput: event => { set((event.target as HTMLInputElement).value); touched(); } });
}
function choice(words: string, key: string, value: string, choices: string[], set: (said: string) => void): HTMLSelectElement {
  const all = choices.includes(value) ? choices : [value, ...choices];
  const select = h("select", { "data-key": key, "aria-label": words, onchange: event => { set((event.target as HTMLSelectElement).value); touched(); } },
    all.map(said => h("option", { value: said }, said || "choose")));
  select.value = value;
  return select;
}

export function editForm(): HTMLElement {
  const d = current();
  const names = d.setups.map(setup => setup.name).filter(Boolean);
  return h("form", { class: "edit", id: "edit-form", "aria-label": "The campaign", onsubmit: event => { event.preventDefault(); void save(); } },
    h("div", { id: "save-faults" }),
    h("div", { class: "fields" }, field("What the campaign asks", "title", d.title, said => { d.title = said; }, { class: "wide" })),
    h("h3", {}, "Setups"),
    h("div", { class: "setups" }, d.setups.map((setup, i) => h("div", { class: "fields" },
      field(`Setup ${i + 1}`, `setups.${i}`, setup.name, said => rename(i, said), { onchange: () => emit("editing") }),
      field("Its build file, if it has one", `setups.${setup.name}.build`, setup.build, said => { setup.build = said; }, { placeholder: "builds/cast.toml", list: "builds" }))),
      h("datalist", { id: "builds" }, S.campaign!.builds.map(build => h("option", { value: build }))),
      h("button", { type: "button", onclick: () => { d.setups.push({ name: `setup ${d.setups.length + 1}`, build: "" }); emit("editing"); } }, "Another setup")),
    h("div", { class: "fields" },
      h("label", { class: "field" }, h("span", {}, "Baseline (A)"), choice("Baseline", "baseline", d.baseline, ["", ...names], said => { d.baseline = said; })),
      h("label", { class: "field" }, h("span", {}, "Candidate (B)"), choice("Candidate", "candidate", d.candidate, ["", ...names], said => { d.candidate = said; })),
      field("Claim from, rev/min", "speed_range_rpm", String(d.speed_range_rpm[0] ?? ""), said => { d.speed_range_rpm[0] = Number(said); }, { type: "number", step: 50, min: 100 }),
      field("to, rev/min", "speed_range_rpm", String(d.speed_range_rpm[1] ?? ""), said => { d.speed_range_rpm[1] = Number(said); }, { type: "number", step: 50, min: 100 }),
      h("label", { class: "field" }, h("span", {}, "Correction"), choice("Correction", "correction", d.correction, CORRECTIONS, said => { d.correction = said; })),
      h("label", { class: "field" }, h("span", {}, "Units of results"), choice("Units", "units", d.units, ["metric", "us"], said => { d.units = said; })),
      field("Stand", "stand.name", d.stand.name, said => { d.stand.name = said; }, { placeholder: "bench 2" }),
      h("label", { class: "field" }, h("span", {}, "Kind of stand"), choice("Kind of stand", "stand.kind", d.stand.kind || "engine", ["engine", "hub", "roller"], said => { d.stand.kind = said; })),
      field("Rotating inertia, if the stand leaves it in", "stand.rotating_inertia", d.stand.rotating_inertia, said => { d.stand.rotating_inertia = said; }, { placeholder: "0.45 kg*m**2" })),
    h("h3", {}, "Columns"), h("div", { id: "columns" }, columnRows(d)),
    h("h3", {}, "Pulls and their weather"), pullRows(d, names),
    h("div", { class: "acts big" },
      h("button", { type: "submit", class: "main", id: "save" }, S.campaign?.state === "logs" ? "Write campaign.toml" : "Save and work it out again"),
      S.campaign?.state !== "logs" && h("button", { type: "button", onclick: () => { discard(); S.editing = S.dirty = false; emit("editing"); emit("stale"); } }, "Discard changes")),
    h("p", { class: "kick", id: "save-why" }));
}

// A new name goes along to everything that carries the old one.
function rename(i: number, said: string): void {
  const d = current(), setup = d.setups[i]!, before = setup.name;
  setup.name = said;
  for (const pull of d.pulls) if (pull.setup === before && before) pull.setup = said;
  if (d.baseline === before && before) d.baseline = said;
  if (d.candidate === before && before) d.candidate = said;
}

// The ways to say it that a remedy names: … = "boost [psi gauge]" or "manifold_pressure [psi abs]".
function ways(fault: Fault): string[] {
  const said = /" = (".*)/.exec(fault.remedy)?.[1] ?? "";
  return [...said.matchAll(/"([^"]+)"/g)].map(match => match[1]!);
}

type ColumnRow = { header: string; is: string; faults: Map<string, Fault> };
let opened = false;
function columnTable(d: CampaignDraft, rows: ColumnRow[]): HTMLElement {
  return h("div", { class: "tablewrap", tabindex: 0, role: "region", "aria-label": "Columns, scrolls sideways" },
    h("table", { class: "columns" }, h("caption", { class: "vh" }, "Columns of the logs"),
      h("thead", {}, h("tr", {}, ["Column", "Is", "Say otherwise"].map(head => h("th", { scope: "col" }, head)))),
      h("tbody", {}, rows.map(({ header, is, faults }) => h("tr", { "data-header": header, class: faults.size ? "wrong" : undefined },
        h("th", { scope: "row" }, header),
        h("td", {}, is, [...faults.values()].map(fault => h("div", { class: "columnfault" }, h("p", {}, [fault.row === null ? "" : `Row ${fault.row}:`, fault.value, fault.problem].filter(Boolean).join(" ")),
          h("div", { class: "ways" }, ways(fault).map(way => h("button", { type: "button", onclick: () => { d.columns[header] = way; touched(); void tryColumns(d); } }, way)))))),
        h("td", {}, input(`What ${header} is`, `columns.${header}`, d.columns[header] ?? "", said => { if (said.trim()) d.columns[header] = said; else delete d.columns[header]; },
          { list: "quantities", placeholder: "torque [N*m]", onchange: () => void tryColumns(d) })))))));
}

function columnRows(d: CampaignDraft): Child {
  const { logs } = S.campaign!.inspection;
  const headers = new Map<string, ColumnRow>();
  const at = (header: string) => { const row = headers.get(header) ?? { header, is: "", faults: new Map<string, Fault>() }; headers.set(header, row); return row; };
  for (const log of logs) {
    for (const column of log.columns) at(column.header).is ||= `${column.quantity.replaceAll("_", " ")}, ${column.unit}`;
    for (const column of log.ignored) at(column.header).is ||= `left out: ${column.reason}`;
    for (const fault of log.faults) if (fault.column) at(fault.column).faults.set(`${fault.problem}`, fault);
  }
  const all = [...headers.values()], isWrong = (row: ColumnRow) => row.faults.size > 0 || row.header in d.columns;
  const wrong = all.filter(isWrong), plain = all.filter(row => !isWrong(row));
  const other = logs.flatMap(log => log.faults.filter(fault => !fault.column));
  return [
    wrong.length > 0 && columnTable(d, wrong),
    plain.length > 0 && h("details", { class: "more", open: opened, ontoggle: event => { opened = (event.target as HTMLDetailsElement).open; } },
      h("summary", {}, `${plain.length} columns are understood; see them, or say otherwise`), columnTable(d, plain)),
    h("datalist", { id: "quantities" }, S.campaign!.known_quantities.map(quantity => h("option", { value: quantity }))),
    other.length > 0 && h("div", { class: "slot fault" }, faultList(other)),
    h("div", { id: "column-faults" }),
  ];
}

async function tryColumns(d: CampaignDraft): Promise<void> {
  try {
    S.campaign!.inspection = await api.inspect(d.columns);
    fill(byId("columns"), columnRows(d));
  } catch (wrong) {
    if (!(wrong instanceof Refusal)) throw wrong;
    fill(byId("column-faults"), h("div", { class: "slot fault", role: "alert" }, faultList(wrong.faults)));
  }
  isDraftReady();
}

const WEATHER = ["barometer", "air_temperature", "relative_humidity", "soak_temperature"] as const;
const HEADS: Record<(typeof WEATHER)[number], [string, string]> = { barometer: ["Barometer", "1006 hPa"], air_temperature: ["Air", "24 degC"], relative_humidity: ["Humidity", "0.52"], soak_temperature: ["Soak", "31 degC"] };

function pullRows(d: CampaignDraft, names: string[]): Child {
  const there = new Set(S.campaign!.inspection.logs.map(log => log.file));
  const set = (pull: PullDraft, name: (typeof WEATHER)[number]) => (said: string): void => { pull[name] = said; };
  return [
    h("p", { class: "kick" }, "Barometer is the station pressure at the stand, not reduced to sea level. Soak is the temperature of inlet casting or coolant just before the pull; it may stay empty."),
    h("div", { class: "tablewrap", tabindex: 0, role: "region", "aria-label": "Pulls, scrolls sideways" },
      h("table", { class: "editpulls" }, h("caption", { class: "vh" }, "Pulls and their weather"),
        h("thead", {}, h("tr", {}, ["Log", "Setup", "Started", ...WEATHER.map(name => HEADS[name][0]), ""].map(head => h("th", { scope: "col" }, head || h("span", { class: "vh" }, "Take out"))))),
        h("tbody", {}, d.pulls.map((pull, i) => h("tr", {},
          h("th", { scope: "row" }, pull.file.replace(/^pulls\//, ""), !there.has(pull.file) && h("small", { class: "warn" }, " not there")),
          h("td", {}, choice(`Setup of ${pull.file}`, `pulls[${i + 1}].setup`, pull.setup, ["", ...names], said => { pull.setup = said; })),
          h("td", {}, input(`Start of ${pull.file}`, `pulls[${i + 1}].started`, pull.started.slice(0, 19), said => { pull.started = said; }, { type: "datetime-local", step: 1 })),
          WEATHER.map(name => h("td", {}, input(`${HEADS[name][0]} of ${pull.file}`, `pulls[${i + 1}].${name}`, pull[name], set(pull, name), { placeholder: HEADS[name][1], size: 9 }))),
          h("td", {}, h("button", { type: "button", "aria-label": `Take ${pull.file} out`, onclick: () => { d.pulls.splice(i, 1); touched(); emit("editing"); } }, "×"))))))),
    h("div", { class: "acts" },
      h("button", { type: "button", id: "fill-down", onclick: () => fillDown(d) }, "Fill empty weather from the row above")),
  ];
}

function fillDown(d: CampaignDraft): void {
  d.pulls.forEach((pull, i) => { const above = d.pulls[i - 1]; if (above) for (const name of WEATHER.slice(0, 3)) pull[name] ||= above[name]; });
  touched();
  emit("editing");
}

export function isDraftReady(): void {
  const d = current(), why = document.getElementById("save-why");
  if (!why) return;
  const open = [
    (!d.baseline || !d.candidate) && "baseline and candidate", !(d.speed_range_rpm[0] && d.speed_range_rpm[1]) && "the range of the claim",
    d.pulls.some(pull => !pull.setup) && "the setup of each pull", d.pulls.some(pull => !pull.started) && "the start of each pull",
  ].filter(Boolean) as string[];
  why.textContent = open.length ? `Still open: ${open.join(", ")}.` : "";
}

async function save(): Promise<void> {
  const d = current();
  try {
    const view = await api.write(basis, { ...d, pulls: d.pulls.filter(pull => pull.file) });
    discard();
    S.editing = S.dirty = false;
    say("campaign.toml written");
    takeCampaign(view);
    byId("measured").querySelector("h2")?.focus();
  } catch (wrong) {
    if (!(wrong instanceof Refusal)) throw wrong;
    const place = byId("save-faults");
    fill(place, h("div", { class: "slot fault", role: "alert", tabindex: -1 }, h("p", {}, h("b", {}, "Not written.")), faultList(wrong.faults)));
    markWrong(wrong.faults);
    place.scrollIntoView({ block: "center" });
  }
}

function markWrong(faults: Fault[]): void {
  const keys = faults.map(fault => fault.key.replace(/ \(.*\)$/, ""));
  for (const field of byId("edit-form").querySelectorAll<HTMLElement>("[data-key]"))
    if (keys.includes(field.dataset.key!)) field.setAttribute("aria-invalid", "true"); else field.removeAttribute("aria-invalid");
}
