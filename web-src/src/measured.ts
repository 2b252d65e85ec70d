// Question 1: what was measured, as it lies in the folder; logs are dropped here, and the campaign is written here.
import { api, Refusal, type Fault, type Log, type PullDraft } from "./api";
import { byId, fill, h, say, type Child } from "./dom";
import { editForm, isDraftReady } from "./edit";
import { compared, emit, loadCampaign, S } from "./store";

export const count = (n: number, one: string, many = `${one}s`): string => `${n}\u00a0${n === 1 ? one : many}`;

export function measuredSay(): string {
  const view = S.campaign;
  if (!view || view.state === "empty") return "Nothing measured yet.";
  const logs = count(view.inspection.logs.length || view.campaign.pulls.length, "log");
  if (view.state === "logs") return `${logs}; the campaign is still to be said.`;
  const faults = view.faults.length + view.inspection.logs.reduce((n, log) => n + log.faults.length, 0);
  if (faults) return `${count(view.campaign.pulls.length, "pull")}, ${count(faults, "fault")} to mend.`;
  const pulls = compared()?.result.pulls;
  if (!pulls) return `${count(view.campaign.pulls.length, "pull")}.`;
  const out = pulls.filter(pull => !pull.used).length;
  return `${count(pulls.length, "pull")}${out ? `; ${out} left out` : ", all of them used"}.`;
}

export function pvr(fault: Fault, ...more: Child[]): HTMLElement {
  const place = [fault.file, fault.row === null ? "" : `row ${fault.row}`, fault.column && `column “${fault.column}”`, fault.key && `key ${fault.key}`].filter(Boolean).join(", ");
  return h("dl", { class: "pvr" },
    place && [h("dt", {}, "Place"), h("dd", {}, place)],
    h("dt", {}, "Value"), h("dd", {}, [fault.value, fault.problem].filter(Boolean).join(" ")),
    fault.remedy && [h("dt", {}, "Remedy"), h("dd", {}, fault.remedy, ...more)]);
}

export function faultList(faults: Fault[]): HTMLElement {
  return h("ul", { class: "faults" }, faults.map(fault => h("li", {}, pvr(fault))));
}

const key = (setup: string): HTMLElement => h("span", { class: `key ${setup === S.campaign?.campaign.candidate ? "B" : setup === S.campaign?.campaign.baseline ? "A" : "C"}`, "aria-hidden": "true" });

// What was done with a pull, in a word, and its faults, which open in a row of their own beneath.
function used(pull: PullDraft, log: Log | undefined): { words: string; faults: Fault[] } {
  const row = compared()?.result.pulls.find(p => p.file === pull.file), faults = log?.faults ?? [];
  if (faults.length) return { words: count(faults.length, "fault"), faults };
  if (!row?.fault) return { words: row ? "used" : "", faults: [] };
  const remedy = row.used ? "" : "find its cause and run the pull again; the answer stands without it";
  return { words: row.used ? "used, with a remark" : "left out", faults: [{ problem: row.fault, remedy, file: pull.file, row: null, column: "", key: "", value: "", said: "" }] };
}

function pullRow(pull: PullDraft, log: Log | undefined, i: number): HTMLElement[] {
  const { words, faults } = used(pull, log), id = `fault-${i}`;
  const beneath = h("tr", { id, class: "faultrow", hidden: true }, h("td", { colspan: 8 }, faults.map(fault => pvr(fault))));
  const button = h("button", { type: "button", class: "fault", "aria-expanded": "false", "aria-controls": id, onclick: () => {
    beneath.hidden = !beneath.hidden;
    button.setAttribute("aria-expanded", String(!beneath.hidden));
  } }, words);
  const row = h("tr", { "data-file": pull.file },
    h("th", { scope: "row" }, pull.file.replace(/^pulls\//, "")), h("td", {}, key(pull.setup), pull.setup), h("td", { class: "nb" }, clock(pull.started)),
    [pull.barometer, pull.air_temperature, pull.relative_humidity, pull.soak_temperature].map(text => h("td", { class: "r nb" }, short(text) || "–")),
    h("td", {}, faults.length ? button : words));
  return faults.length ? [row, beneath] : [row];
}

const short = (text: string): string => text.replace(/ degC$/, "\u00a0°C").replace(/ (?=\S+$)/, "\u00a0");
const clock = (text: string): string => text.replace("T", " ").replace(/:00$/, "");

function pullsTable(): HTMLElement {
  const view = S.campaign!;
  const heads: Child[][] = [["Pull"], ["Setup"], ["Started"], ["Barometer"], ["Air"], ["Humidity"], ["Soak"], ["Used"]];
  const log = (file: string) => view.inspection.logs.find(found => found.file === file);
  return h("div", { class: "tablewrap", tabindex: 0, role: "region", "aria-label": "Pulls, scrolls sideways" },
    h("table", { class: "pulls" }, h("caption", { class: "vh" }, "Pulls, weather and faults"),
      h("thead", {}, h("tr", {}, heads.map((head, i) => h("th", { scope: "col", class: i > 2 && i < 7 ? "r" : undefined }, ...head)))),
      h("tbody", {}, view.campaign.pulls.map((pull, i) => pullRow(pull, log(pull.file), i)))));
}

function columnsTable(): HTMLElement {
  const rows = new Map<string, Child[]>();
  for (const log of S.campaign!.inspection.logs) {
    for (const c of log.columns) if (!rows.has(c.header)) rows.set(c.header, [c.quantity.replaceAll("_", " "), c.unit, c.conversion]);
    for (const c of log.ignored) if (!rows.has(c.header)) rows.set(c.header, ["left out", "", c.reason]);
  }
  return h("details", { class: "more" }, h("summary", {}, `What was understood of ${count(rows.size, "column")}`),
    h("div", { class: "tablewrap", tabindex: 0, role: "region", "aria-label": "Columns, scrolls sideways" },
      h("table", {}, h("caption", { class: "vh" }, "Columns of the logs"),
        h("thead", {}, h("tr", {}, ["Column", "Is", "Unit", "Becomes"].map(head => h("th", { scope: "col" }, head)))),
        h("tbody", {}, [...rows].map(([header, cells]) => h("tr", {}, h("th", { scope: "row" }, header), cells.map(cell => h("td", {}, cell))))))));
}

export async function drop(files: File[]): Promise<void> {
  if (!files.length) return;
  const place = byId("dropped");
  fill(place, h("div", { class: "slot", "aria-busy": "true" }, h("p", { class: "say" }, `Reading ${count(files.length, "file")} …`), h("progress", { "aria-label": "Reading" })));
  let faults: Fault[] = [];
  try {
    const answer = await api.drop(files);
    faults = answer.faults;
    if (answer.kept.length) say(`${count(answer.kept.length, "file")} kept in the folder`);
  } catch (wrong) {
    if (!(wrong instanceof Refusal)) throw wrong;
    faults = wrong.faults;
  }
  await loadCampaign();
  fill(byId("dropped"), faults.length && h("div", { role: "alert" }, faultList(faults)));
}

function dropZone(): HTMLElement {
  const input = h("input", { type: "file", multiple: true, id: "files", class: "vh", accept: [...(S.campaign?.log_suffixes ?? []), ".toml"].join(","), tabindex: -1, "aria-label": "Log and build files", onchange: event => void drop([...((event.target as HTMLInputElement).files ?? [])]) });
  const zone: HTMLElement = h("div", {
    class: "drop", id: "drop",
    ondragover: event => { event.preventDefault(); zone.classList.add("over"); },
    ondragleave: () => zone.classList.remove("over"),
    ondrop: event => { event.preventDefault(); zone.classList.remove("over"); void drop([...(event.dataTransfer?.files ?? [])]); },
  },
    h("p", {}, S.campaign?.state === "empty" ? "Drop the stand's log files here. Two pulls of each setup give the first band; six give a firm one." : "Drop further logs or builds here."),
    h("div", { class: "acts big" }, h("button", { type: "button", class: S.campaign?.state === "empty" ? "main" : undefined, onclick: () => input.click() }, "Choose files"), input,
      h("span", { class: "kick" }, `${S.campaign?.log_suffixes.join(" ") ?? ""}; builds as .toml; up to 64\u00a0MB each`)));
  return zone;
}

export function renderMeasured(): void {
  const view = S.campaign;
  const place = byId("measured-body");
  if (!view) { fill(place, h("p", { class: "say" }, "Reading the folder …")); return; }
  const faults = view.faults;
  byId("measured").classList.toggle("editing", S.editing && view.state !== "empty");
  fill(place,
    h("p", { class: "say" }, measuredSay()),
    faults.length > 0 && view.state !== "logs" && h("div", { class: "slot fault", role: "alert" }, h("p", {}, h("b", {}, "The campaign cannot be used as it is.")), faultList(faults)),
    view.state === "empty" ? null : S.editing ? editForm() : [pullsTable(), columnsTable()],
    !S.editing && view.state !== "empty" && h("div", { class: "acts" }, h("button", { type: "button", id: "edit", onclick: () => { S.editing = true; emit("editing"); } }, "Edit pulls, weather and columns")),
    dropZone(), h("div", { id: "dropped" }));
  if (S.editing) isDraftReady();
}
