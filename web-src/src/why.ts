// Question 4: more air, or only more pressure? Changes along the speed, shares of the gain at the hand, what the data determined.
import { actions, csvOf, table } from "./actions";
import type { Band } from "./api";
import { byId, fill, h, type Child } from "./dom";
import { endOf, rpm } from "./gain";
import { axisNumber, decimalsOf, edge, endLabels, Figure, line, none, speedTicks, ticks, token, unitLabel, xAxis, xName, yAxis, zeroLine } from "./plot";
import { above, absent, verdict } from "./state";
import { canExplain, compared, S, speed, studies, within } from "./store";
import type uPlot from "uplot";

let figure: Figure | null = null;
let scale: [number, number] = [0, 1]; // ends of the axis of the shares, for the whole job

export function renderWhy(): void {
  const place = byId("why-body"), study = studies.explain, view = study.view;
  place.classList.toggle("old", study.working);
  if (!view) { figure = null; fill(place, absent(study, { working: "Explaining the gain", none: "No explanation yet.", why: missing() })); return; }
  const { page } = view;
  fill(place,
    above(study, "Explaining the gain again"),
    h("figure", { class: "fig" },
      h("figcaption", { class: "say", id: "why-say" }, verdict(page.headline)),
      h("p", { class: "read", id: "rd-why" }),
      h("div", { id: "f-why", class: "plot", role: "img", "aria-label": "Change of power, air mass flow and absolute manifold pressure over engine speed.", "aria-describedby": "why-say rd-why" }),
      actions("why", { csv: changesCsv, table: changesTable, zoom: true, lines: [["power", "Power"], ["air", "Air mass"], ["pressure", "Pressure"]] })),
    h("div", { class: "parts figure", role: "group", "aria-labelledby": "parts-h" },
      h("h3", { id: "parts-h" }), h("p", { class: "read" }, page.because, page.notes.map(note => ` ${note}`)),
      h("div", { id: "parts" }, partsHead(), sharesOf().map(part)),
      actions("why", { csv: sharesCsv, table: sharesTable })),
    h("div", { class: "figure" }, h("h3", { id: "derived-h" }), h("div", { id: "derived" }, derivedTable())),
    page.warnings.length > 0 && h("ul", { class: "rests" }, page.warnings.map(warning => h("li", {}, warning))),
    details(page.determined, () => table("What the data determined", [["Unknown"], ["Before: 95 % range"], ["After"], ["Unit"], ["Variance removed"]],
      page.unknowns.map(row => [row.is_determined ? h("b", {}, row.words) : row.words, row.before, row.after, row.unit, row.share_removed]))),
    page.channels.length > 0 && details("What another channel would tell", () => table("Width that would be left of the intervals", [["Channel, if it were logged"], ["Gain in air"], ["All causes"]],
      page.channels.map(row => [row.words, ...row.cells]))),
    details("What a standard’s weather correction would have done", () => table("Weather factors of the baseline", [["Rule"], ["Its factor"], ["This engine’s"], ["Reads high by"]], page.weather.map(row => [row.words, ...row.cells]))));
  figure = new Figure(byId("f-why"), 270, true, buildWhy);
  figure.draw();
  const limits = scale = axisEnds();
  for (const box of place.querySelectorAll<HTMLElement>(".iv .z")) box.style.left = place100(0, limits);
  followWhy();
}
function derivedTable(): HTMLElement {
  const { baseline, candidate } = studies.explain.view!.result;
  return table("What the fitted machine does at the speed in hand", [["Quantity"], [h("span", { class: "key A", "aria-hidden": "true" }), baseline], [h("span", { class: "key B", "aria-hidden": "true" }), candidate], ["Unit"]],
    page().derived.map(row => [row.words, "", "", row.unit]));
}
const details = (words: string, make: () => HTMLElement): HTMLElement => h("details", { class: "more" }, h("summary", {}, words), make());
export function drawWhy(): void { figure?.draw(); }

function missing(): string {
  if (!compared()) return "It follows the comparison.";
  return canExplain() ? "It follows the comparison." : "Both setups need their build file, which question 1 asks for; then the machine is fitted to the pulls.";
}

const page = () => studies.explain.view!.page;
const ends = (): [number, number] => { const X = page().engine_speed_rpm; return within(X[0]!, X.at(-1)!); };
const flat = (...bands: Band[]): number[] => bands.flatMap(band => [...band.lower, ...band.upper, ...band.values]).filter((v): v is number => v !== null);

function buildWhy() {
  const { air, pressure, measured, engine_speed_rpm: X } = page(), b = token("cand"), quiet = token("ink-2"), ink = token("ink");
  const all = flat(air, pressure, measured), room = 0.08 * (Math.max(0, ...all) - Math.min(0, ...all)), y: [number, number] = [Math.min(0, ...all) - room, Math.max(0, ...all) + room];
  const shows = { power: !S.off.has("power"), air: !S.off.has("air"), pressure: !S.off.has("pressure") };
  return {
    data: [X, air.upper, air.lower, pressure.upper, pressure.lower, measured.values, air.values, pressure.values] as uPlot.AlignedData,
    options: {
      scales: { x: { time: false, range: ends() }, y: { range: y } },
      series: [{}, ...(shows.air ? [edge(b), edge(b)] : [none(), none()]), none(), none(), shows.power ? line(ink, 1.25) : none(), shows.air ? line(b) : none(), shows.pressure ? line(quiet, 2.25, [2, 4]) : none()],
      bands: [...(shows.air ? [{ series: [1, 2] as [number, number], fill: token("cand-tint") }] : []), ...(shows.pressure ? [{ series: [3, 4] as [number, number], fill: `${token("ink-3")}22` }] : [])],
      axes: [xAxis(speedTicks(...ends(), figure!.element.clientWidth)), yAxis(ticks(...y, 5), true)],
      hooks: { draw: [unitLabel(`change of ${studies.explain.view!.result.candidate} against ${studies.explain.view!.result.baseline}, %`), xName("rev/min"), (u: uPlot) => {
        zeroLine(u);
        endLabels(u, [{ words: "power", at: shows.power ? endOf(X, measured.values) : null, colour: ink }, { words: "air mass", at: shows.air ? endOf(X, air.values) : null, colour: b }, { words: figure!.element.clientWidth < 520 ? "pressure" : "pressure (abs.)", at: shows.pressure ? endOf(X, pressure.values) : null, colour: quiet }]);
      }] },
    },
  };
}

// Shares: one axis for the whole job, so that the eye compares places while the hand moves.
const sharesOf = (): { band: Band; kind: string }[] => {
  const { causes, interaction, unexplained, measured } = page();
  return [...causes.map(band => ({ band, kind: "" })), { band: interaction, kind: "" }, { band: unexplained, kind: "ne" }, { band: measured, kind: "su" }];
};
function axisEnds(): [number, number] {
  const all = flat(...sharesOf().map(share => share.band)), room = 0.06 * (Math.max(0, ...all) - Math.min(0, ...all));
  return [Math.min(0, ...all) - room, Math.max(0, ...all) + room];
}
const place100 = (v: number, [low, high]: [number, number]): string => `${Math.max(0, Math.min(100, 100 * (v - low) / (high - low)))}%`;
function partsHead(): HTMLElement {
  const limits = axisEnds(), at = ticks(...limits, 7), scale = h("div", { class: "iv" });
  for (const v of at) { const mark = h("span", {}, axisNumber(v, decimalsOf(at), true)); mark.style.left = place100(v, limits); scale.append(mark); }
  return h("div", { class: "part head", "aria-hidden": "true" }, h("span", {}), scale, h("span", { class: "v" }, "% of power"));
}
function part({ band, kind }: { band: Band; kind: string }): HTMLElement {
  return h("div", { class: kind === "su" ? "part sum" : "part" }, h("span", {}, band.name), h("div", { class: `iv ${kind}`, "aria-hidden": "true" }, h("i", { class: "z" }), h("i", { class: "b" }), h("i", { class: "m" })), h("span", { class: "v" }));
}

const NB = "\u00a0";
function at(values: (number | null)[]): number {
  const X = page().engine_speed_rpm, n = speed(), j = Math.min(Math.max(X.findIndex(x => x > n) - 1, 0), X.length - 2), share = (n - X[j]!) / (X[j + 1]! - X[j]!);
  return (values[j] ?? 0) + share * ((values[j + 1] ?? 0) - (values[j] ?? 0));
}

export function followWhy(): void {
  if (!studies.explain.view || !document.getElementById("rd-why")) return;
  const { readings_rpm, air, pressure, measured, derived } = page(), i = readings_rpm.indexOf(speed()), words = rpm(speed());
  byId("parts-h").textContent = `Shares of the gain at ${words}`;
  byId("derived-h").textContent = `What the fitted machine does at ${words}`;
  const known = i >= 0;
  fill(byId("rd-why"), "At ", h("b", {}, words), known ? [": power ", h("b", {}, measured.readings[i]), ", air mass ", h("b", {}, air.readings[i]), ", absolute pressure ", h("b", {}, pressure.readings[i]), "."] : ": outside the speeds that were fitted.");
  const limits = scale, shares = sharesOf();
  byId("parts").querySelectorAll<HTMLElement>(".part:not(.head)").forEach((row, k) => {
    const { band } = shares[k]!, [, box, mark] = row.querySelectorAll<HTMLElement>("i");
    row.querySelector(".v")!.textContent = known ? band.readings[i]! : "–";
    box!.hidden = mark!.hidden = !known;
    if (!known) return;
    const low = place100(at(band.lower), limits), high = place100(at(band.upper), limits);
    box!.style.left = low;
    box!.style.width = `${Math.max(0.4, parseFloat(high) - parseFloat(low))}%`;
    mark!.style.left = place100(at(band.values), limits);
  });
  byId("derived").querySelectorAll("tbody tr").forEach((row, k) => {
    const [a, b] = row.querySelectorAll("td");
    a!.textContent = known ? derived[k]!.baseline[i]! : "–";
    b!.textContent = known ? derived[k]!.candidate[i]! : "–";
  });
  figure?.hand();
}

// The tables stand at round speeds, as that of question 2 does.
const round = (): number[] => { const all = page().readings_rpm, step = [100, 200, 250, 500].find(s => (all.at(-1)! - all[0]!) / s <= 16) ?? 1000; return all.filter(n => n % step === 0); };
function changesTable(): HTMLElement {
  const { air, pressure, measured, readings_rpm } = page();
  return table("Changes by speed", [["rev/min"], ["Power"], ["Air mass"], ["Pressure (abs.)"]], round().map(n => { const i = readings_rpm.indexOf(n); return [axisNumber(n), measured.readings[i], air.readings[i], pressure.readings[i]]; }));
}
function sharesTable(): HTMLElement {
  const some = round(), every = some.length > 7 ? some.filter((_, i) => i % 2 === 0) : some;
  return table("Shares of the gain by speed", [["Share"], ...every.map(n => [axisNumber(n)] as Child[]), ["Over the range"]],
    sharesOf().map(({ band }) => [band.name, ...every.map(n => band.readings[page().readings_rpm.indexOf(n)]?.replace(`${NB}%`, "")), band.average]));
}
const bandsCsv = (bands: [string, Band][]): string => csvOf([["engine_speed_rpm", ...bands.flatMap(([name]) => [`${name}_percent`, `${name}_lower_percent`, `${name}_upper_percent`])],
  ...page().engine_speed_rpm.map((n, i) => [n, ...bands.flatMap(([, band]) => [band.values[i], band.lower[i], band.upper[i]])])]);
const changesCsv = (): string => bandsCsv([["power", page().measured], ["air_mass_flow", page().air], ["manifold_pressure", page().pressure]]);
const sharesCsv = (): string => bandsCsv(sharesOf().map(({ band }) => [band.name.toLowerCase().replaceAll(/[^a-z]+/g, "_"), band]));

export const whyAnswer = (): string => studies.explain.view?.page.answer ?? (studies.explain.working ? "Working …" : canExplain() || !S.campaign ? "Not yet" : "No build is named");
