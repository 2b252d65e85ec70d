// Question 2: did it gain, where, how sure? Verdict, reading at the hand, overlay, gain with its band, three-state strip.
import { actions, head, table } from "./actions";
import { api } from "./api";
import { byId, coloured, fill, h, type Child } from "./dom";
import { axisNumber, edge, endLabels, Figure, ghost, hatch, line, none, px, speedTicks, text, ticks, token, unitLabel, xAxis, xName, yAxis, zeroLine } from "./plot";
import { above, absent, verdict } from "./state";
import { compared, compareRow, loadCompare, S, speed, studies, within } from "./store";
import type uPlot from "uplot";

const NB = "\u00a0";
export const rpm = (n: number): string => `${axisNumber(n)}${NB}rev/min`;
const values = (all: (number | null)[]): number[] => all.filter((v): v is number => v !== null);
const nice = (all: number[], room = 0.08): [number, number] => { const low = Math.min(...all), high = Math.max(...all), more = (high - low || 1) * room; return [low - more, high + more]; };

// "gain +9 ± 4 kW (+3.5 ± 1.5 %)", from the words of the row.
export function gainWords(): string {
  const row = compareRow(), page = compared()?.page;
  if (!row || !page) return "";
  const amount = `${row.gain}${NB}±${NB}${row.half_width}${NB}${page.unit}`;
  return page.is_relative ? `${row.percent}${NB}±${NB}${row.percent_half_width}${NB}%` : amount;
}

const plot = (id: string, label: string, describedBy: string): HTMLElement => h("div", { id, class: "plot", role: "img", "aria-label": label, "aria-describedby": describedBy });
let over: Figure | null = null;
let gain: Figure | null = null;

export function renderGain(): void {
  const place = byId("gain-body"), view = compared(), study = studies.compare;
  place.classList.toggle("old", study.working);
  if (!view) { over = gain = null; fill(place, absent(study, { working: "Comparing the pulls", none: "No verdict yet.", why: missing() })); return; }
  const { result, page } = view;
  fill(place,
    above(study, "Comparing the pulls again"),
    h("figure", { class: "fig" },
      h("figcaption", { class: "say", id: "verdict" }, verdict(coloured(result.headline))),
      h("p", { class: "read", id: "rd-gain" }),
      plot("f-over", `${page.words} of ${result.baseline} and ${result.candidate} over engine speed.`, "verdict rd-gain"),
      plot("f-gain", `${result.headline} ${page.crossing_words.join(". ")}`, "verdict rd-gain"),
      actions("gain", { csv: () => api.csv(S.quantity, S.units), table: gainTable, zoom: true, lines: [["A", `${result.baseline} (A)`], ["B", `${result.candidate} (B)`], ["pulls", "Single pulls"], ["band", "Band"]] })),
    h("div", { class: "range" }, h("span", {}, `Average over ${axisNumber(result.range.from_rpm)}–${rpm(result.range.to_rpm)}:`), h("output", { class: "v" }, page.average),
      h("label", { class: "field inline" }, h("span", {}, "Compare"), quantityChoice())),
    result.warnings.length > 0 && h("ul", { class: "rests" }, result.warnings.map(warning => h("li", {}, warning))));
  over = new Figure(byId("f-over"), 264, true, buildOver);
  gain = new Figure(byId("f-gain"), 262, true, buildGain);
  drawGain();
}
export function drawGain(): void { over?.draw(); gain?.draw(); }

function missing(): string {
  const state = S.campaign?.state;
  if (state === "fault") return "Question 1 shows what has to be mended first.";
  return state === "empty" ? "It begins with the logs of question 1." : "Say in question 1 which pulls belong to which setup.";
}

function quantityChoice(): HTMLSelectElement {
  const select = h("select", { id: "quantity", onchange: () => { S.quantity = select.value; void loadCompare(); } },
    S.campaign!.quantities.map(quantity => h("option", { value: quantity }, quantity.replaceAll("_", " "))));
  select.value = S.quantity;
  return select;
}

function gainTable(): HTMLElement {
  const { result, page } = compared()!;
  const amount: Child[][] = page.is_relative ? [head("Gain", "%")] : [];
  return table(`${page.words} and gain by speed`, [["rev/min"], head(result.baseline, page.unit), head(result.candidate, page.unit), head("Gain", page.unit), ...amount, ["Shown?"]],
    page.table.map(row => [row.engine_speed, row.baseline, row.candidate, `${row.gain}${NB}±${NB}${row.half_width}`, ...(page.is_relative ? [`${row.percent}${NB}±${NB}${row.percent_half_width}`] : []), row.state]));
}

// The value at which a line leaves the figure on the right, for its label.
export function endOf(X: (number | null)[], Y: (number | null)[]): number | null {
  const end = S.zoom?.[1] ?? Infinity, k = X.findLastIndex(x => x !== null && x <= end), a = Y[k], b = Y[k + 1];
  if (typeof a !== "number") return Y.findLast(y => y !== null) ?? null;
  return typeof b === "number" ? a + (b - a) * (end - X[k]!) / (X[k + 1]! - X[k]!) : a;
}
const range = (): [number, number] => { const { from_rpm, to_rpm } = compared()!.result.range; return within(from_rpm, to_rpm); };

function buildOver() {
  const { result, page } = compared()!, { curve } = result;
  const a = token("base"), b = token("cand"), isB = (setup: string) => setup === result.candidate;
  const pulls = S.off.has("pulls") ? [] : page.pulls.filter(pull => pull.used), shows = { a: !S.off.has("A"), b: !S.off.has("B") };
  const [low, high] = nice(values([...curve.baseline, ...curve.candidate, ...page.pulls.filter(pull => pull.used).flatMap(pull => pull.values)]));
  const at = ticks(low, high, 5);
  return {
    data: [curve.engine_speed_rpm, ...pulls.map(pull => pull.values), curve.baseline, curve.candidate] as uPlot.AlignedData,
    options: {
      scales: { x: { time: false, range: range() }, y: { range: [low, high] as [number, number] } },
      series: [{}, ...pulls.map(pull => ghost(isB(pull.setup) ? b : a, isB(pull.setup) ? undefined : [3, 3])), shows.a ? line(a, 2.25, [8, 5]) : none(), shows.b ? line(b) : none()],
      axes: [xAxis(speedTicks(...range(), over!.element.clientWidth), false), yAxis(at)],
      hooks: { draw: [unitLabel(`${page.words}, ${page.unit}`), (u: uPlot) => endLabels(u, [
        { words: `${result.candidate} (B)`, at: shows.b ? endOf(curve.engine_speed_rpm, curve.candidate) : null, colour: b }, { words: `${result.baseline} (A)`, at: shows.a ? endOf(curve.engine_speed_rpm, curve.baseline) : null, colour: a }]),
        (u: uPlot) => pulls.length && text(u, "thin lines: single pulls", u.bbox.left + u.bbox.width - 8 * px(), u.bbox.top + u.bbox.height - 14 * px(), { colour: token("ink-3"), size: 13, align: "right" })] },
    },
  };
}

function buildGain() {
  const { result, page } = compared()!, { curve } = result, b = token("cand"), relative = page.is_relative, shows = !S.off.has("band");
  const [mid, lower, upper] = relative ? [curve.gain_percent, curve.lower_percent, curve.upper_percent] : [curve.gain, curve.lower, curve.upper];
  const [low, high] = nice([0, ...values(lower), ...values(upper)], 0.1);
  const floor = low - 0.22 * (high - low);
  return {
    data: [curve.engine_speed_rpm, upper, lower, mid] as uPlot.AlignedData,
    options: {
      scales: { x: { time: false, range: range() }, y: { range: [floor, high] as [number, number] } },
      series: [{}, shows ? edge(b) : none(), shows ? edge(b) : none(), line(b)],
      bands: shows ? [{ series: [1, 2] as [number, number], fill: token("cand-tint") }] : [],
      axes: [xAxis(speedTicks(...range(), gain!.element.clientWidth)), yAxis(ticks(low, high, 5), true)],
      hooks: { draw: [unitLabel(`gain of ${result.candidate} over ${result.baseline}, ${relative ? "%" : page.unit}`), xName("rev/min"), (u: uPlot) => { crossings(u, zeroLine(u)); endLabels(u, [{ words: "gain", at: endOf(curve.engine_speed_rpm, mid), colour: b, sub: shows ? "95 % band" : undefined }]); strip(u); }] },
    },
  };
}

function crossings(u: uPlot, y: number): void {
  const { result, page } = compared()!, c = u.ctx, r = px();
  result.crossovers.forEach((crossing, i) => {
    if (crossing.engine_speed_rpm < u.scales.x!.min! || crossing.engine_speed_rpm > u.scales.x!.max!) return;
    const [x, x1, x2] = [crossing.engine_speed_rpm, crossing.lower_rpm, crossing.upper_rpm].map(n => u.valToPos(n, "x", true)) as [number, number, number];
    c.save();
    c.beginPath(); c.rect(u.bbox.left, u.bbox.top, u.bbox.width, u.bbox.height); c.clip();
    c.strokeStyle = token("ink");
    c.lineWidth = 3.5 * r;
    c.beginPath(); c.moveTo(x1, y); c.lineTo(x2, y); c.stroke();
    c.beginPath(); c.arc(x, y, 4.5 * r, 0, 7); c.fillStyle = token("sheet"); c.fill(); c.lineWidth = 2 * r; c.stroke();
    c.restore();
    text(u, page.crossing_words[i] ?? "", x2 + 10 * r, y + 15 * r, { size: 13 });
  });
}

function strip(u: uPlot): void {
  const c = u.ctx, r = px(), top = u.bbox.top + u.bbox.height - 11 * r, tall = 9 * r;
  for (const stretch of compared()!.result.stretches) {
    const ends = [u.bbox.left, u.bbox.left + u.bbox.width] as const;
    const a = Math.max(u.valToPos(stretch.from_rpm, "x", true), ends[0]), b = Math.min(u.valToPos(stretch.to_rpm, "x", true), ends[1]);
    if (b <= a) continue;
    const colour = token(stretch.state === "gain shown" ? "cand" : stretch.state === "loss shown" ? "loss" : "ink-2");
    c.save();
    c.beginPath();
    c.rect(a, top, b - a, tall);
    if (stretch.state === "gain shown") { c.fillStyle = colour; c.fill(); }
    else if (stretch.state === "loss shown") { c.fillStyle = hatch(c, colour); c.fill(); c.strokeStyle = colour; c.lineWidth = 1.5 * r; c.stroke(); }
    else { c.strokeStyle = token("open"); c.setLineDash([3 * r, 3 * r]); c.lineWidth = 1.2 * r; c.stroke(); }
    c.font = `600 ${Math.round(13 * r)}px "BW Sans", sans-serif`;
    const fits = c.measureText(stretch.state).width < b - a + 12 * r;
    c.restore();
    if (fits) text(u, stretch.state, (a + b) / 2, top - 9 * r, { align: "center", colour, weight: 600, size: 13 });
  }
}

export function followGain(): void {
  const row = compareRow(), view = compared(), place = document.getElementById("rd-gain");
  if (!row || !view || !place) return;
  const { result, page } = view, b = (words: string) => h("b", {}, words);
  fill(place, "At ", b(rpm(speed())), `: ${result.baseline} `, b(`${row.baseline}${NB}${page.unit}`), `, ${result.candidate} `, b(`${row.candidate}${NB}${page.unit}`), ", gain ",
    b(`${row.gain}${NB}±${NB}${row.half_width}${NB}${page.unit}`), page.is_relative && [" (", b(`${row.percent}${NB}±${NB}${row.percent_half_width}${NB}%`), ")"], `, ${row.state}.`);
  over?.hand();
  gain?.hand();
}
