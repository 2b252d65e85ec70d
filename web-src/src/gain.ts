// Question 2: did it gain, where, how sure? Verdict, reading at the hand, overlay, gain with its band, three-state strip.
import { faultList } from "./measured";
import { byId, coloured, fill, h, type Child } from "./dom";
import { actions, table } from "./actions";
import { axisNumber, edge, endLabels, Figure, ghost, hatch, line, px, text, ticks, token, unitLabel, xAxis, xName, yAxis, zeroLine } from "./plot";
import { compareRow, loadCompare, S, speed } from "./store";
import type uPlot from "uplot";

const NB = "\u00a0";
export const rpm = (n: number): string => `${axisNumber(n)}${NB}rev/min`;
const values = (all: (number | null)[]): number[] => all.filter((v): v is number => v !== null);
const nice = (all: number[], room = 0.08): [number, number] => { const low = Math.min(...all), high = Math.max(...all), more = (high - low || 1) * room; return [low - more, high + more]; };

// "gain +9 ± 4 kW (+3.5 ± 1.5 %)", from the words of the row.
export function gainWords(): string {
  const row = compareRow(), page = S.compare?.page;
  if (!row || !page) return "";
  const amount = `${row.gain}${NB}±${NB}${row.half_width}${NB}${page.unit}`;
  return page.is_relative ? `${row.percent}${NB}±${NB}${row.percent_half_width}${NB}%` : amount;
}

const plot = (id: string, label: string, describedBy: string): HTMLElement => h("div", { id, class: "plot", role: "img", "aria-label": label, "aria-describedby": describedBy });
let over: Figure | null = null;
let gain: Figure | null = null;

export function renderGain(): void {
  const place = byId("gain-body"), view = S.compare;
  place.toggleAttribute("aria-busy", S.working);
  place.classList.toggle("old", S.working);
  if (!view) { over = gain = null; fill(place, absent()); return; }
  const { result, page } = view;
  const stale = S.dirty;
  fill(place,
    h("figure", { class: "fig" },
      h("figcaption", { class: "say", id: "verdict" }, stale ? h("s", {}, result.headline) : coloured(result.headline)),
      stale && h("p", { class: "read" }, "Made before your changes, which are not saved yet."),
      S.working && h("p", { class: "read", role: "status" }, "Working it out again; the figure below is from before."),
      h("p", { class: "read", id: "rd-gain" }),
      plot("f-over", `${page.words} of ${result.baseline} and ${result.candidate} over engine speed.`, "verdict rd-gain"),
      plot("f-gain", `${result.headline} ${page.crossing_words.join(". ")}`, "verdict rd-gain"),
      actions("gain", { csv: true, table: () => gainTable() })),
    h("div", { class: "range" }, h("span", {}, `Average over ${axisNumber(result.range.from_rpm)}–${rpm(result.range.to_rpm)}:`), h("output", { class: "v" }, page.average),
      h("label", { class: "field inline" }, h("span", {}, "Compare"), quantityChoice())),
    result.warnings.length > 0 && h("ul", { class: "rests" }, result.warnings.map(warning => h("li", {}, warning))));
  over = new Figure(byId("f-over"), 264, true, buildOver);
  gain = new Figure(byId("f-gain"), 262, true, buildGain);
  over.draw();
  gain.draw();
}

function absent(): Child {
  const state = S.campaign?.state;
  if (S.working) return h("p", { class: "say", role: "status" }, "Comparing the pulls …");
  if (S.compareFaults.length) return h("div", { class: "slot fault", role: "alert" }, h("p", { class: "say" }, "No verdict yet."), faultList(S.compareFaults), h("div", { class: "acts big" }, h("button", { type: "button", onclick: () => void loadCompare() }, "Try again")));
  if (state === "fault") return [h("p", { class: "say" }, "No verdict yet."), h("p", {}, "Question 1 shows what has to be mended first.")];
  return [h("p", { class: "say" }, "No verdict yet."), h("p", {}, state === "empty" ? "It begins with the logs of question 1." : "Say in question 1 which pulls belong to which setup.")];
}

function quantityChoice(): HTMLSelectElement {
  const select = h("select", { id: "quantity", onchange: () => { S.quantity = select.value; void loadCompare(); } },
    S.campaign!.quantities.map(quantity => h("option", { value: quantity }, quantity.replaceAll("_", " "))));
  select.value = S.quantity;
  return select;
}

export function gainTable(): HTMLElement {
  const { result, page } = S.compare!;
  const amount: Child[] = page.is_relative ? [[h("span", {}, "Gain"), h("br"), h("small", {}, "%")]] : [];
  const head = (words: string, unit: string): Child[] => [words, h("br"), h("small", {}, unit)];
  return table(`${page.words} and gain by speed`, [["rev/min"], head(result.baseline, page.unit), head(result.candidate, page.unit), head("Gain", page.unit), ...amount.map(a => [a]), ["Shown?"]],
    page.table.map(row => [row.engine_speed, row.baseline, row.candidate, `${row.gain}${NB}±${NB}${row.half_width}`, ...(page.is_relative ? [`${row.percent}${NB}±${NB}${row.percent_half_width}`] : []), row.state]));
}

const range = (): [number, number] => { const { from_rpm, to_rpm } = S.compare!.result.range; return [from_rpm, to_rpm]; };
const speedTicks = (width: number): number[] => ticks(...range(), Math.max(3, Math.min(8, Math.floor(width / 95))));

function buildOver() {
  const { result, page } = S.compare!, { curve } = result;
  const a = token("base"), b = token("cand"), isB = (setup: string) => setup === result.candidate;
  const pulls = page.pulls.filter(pull => pull.used);
  const [low, high] = nice(values([...curve.baseline, ...curve.candidate, ...pulls.flatMap(pull => pull.values)]));
  const at = ticks(low, high, 5);
  return {
    data: [curve.engine_speed_rpm, ...pulls.map(pull => pull.values), curve.baseline, curve.candidate] as uPlot.AlignedData,
    options: {
      scales: { x: { time: false, range: range() }, y: { range: [low, high] as [number, number] } },
      series: [{}, ...pulls.map(pull => ghost(isB(pull.setup) ? b : a, isB(pull.setup) ? undefined : [3, 3])), line(a, 2.25, [8, 5]), line(b)],
      axes: [xAxis(speedTicks(over!.element.clientWidth), false), yAxis(at)],
      hooks: { draw: [unitLabel(`${page.words}, ${page.unit}`), (u: uPlot) => endLabels(u, [
        { words: `${result.candidate} (B)`, at: curve.candidate.at(-1), colour: b }, { words: `${result.baseline} (A)`, at: curve.baseline.at(-1), colour: a }]),
        (u: uPlot) => text(u, "thin lines: single pulls", u.bbox.left + u.bbox.width - 8 * px(), u.bbox.top + u.bbox.height - 14 * px(), { colour: token("ink-3"), size: 13, align: "right" })] },
    },
  };
}

function buildGain() {
  const { result, page } = S.compare!, { curve } = result, b = token("cand"), relative = page.is_relative;
  const [mid, lower, upper] = relative ? [curve.gain_percent, curve.lower_percent, curve.upper_percent] : [curve.gain, curve.lower, curve.upper];
  const [low, high] = nice([0, ...values(lower), ...values(upper)], 0.1);
  const floor = low - 0.22 * (high - low);
  return {
    data: [curve.engine_speed_rpm, upper, lower, mid] as uPlot.AlignedData,
    options: {
      scales: { x: { time: false, range: range() }, y: { range: [floor, high] as [number, number] } },
      series: [{}, edge(b), edge(b), line(b)],
      bands: [{ series: [1, 2] as [number, number], fill: token("cand-tint") }],
      axes: [xAxis(speedTicks(gain!.element.clientWidth)), yAxis(ticks(low, high, 5), true)],
      hooks: { draw: [unitLabel(`gain of ${result.candidate} over ${result.baseline}, ${relative ? "%" : page.unit}`), xName("rev/min"), (u: uPlot) => { crossings(u, zeroLine(u)); endLabels(u, [{ words: "gain", at: mid.at(-1), colour: b, sub: "95 % band" }]); strip(u); }] },
    },
  };
}

function crossings(u: uPlot, y: number): void {
  const { result, page } = S.compare!, c = u.ctx, r = px();
  result.crossovers.forEach((crossing, i) => {
    const [x, x1, x2] = [crossing.engine_speed_rpm, crossing.lower_rpm, crossing.upper_rpm].map(n => u.valToPos(n, "x", true)) as [number, number, number];
    c.save();
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
  for (const stretch of S.compare!.result.stretches) {
    const a = u.valToPos(stretch.from_rpm, "x", true), b = u.valToPos(stretch.to_rpm, "x", true);
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
  const row = compareRow(), view = S.compare, place = document.getElementById("rd-gain");
  if (!row || !view || !place) return;
  const { result, page } = view, b = (words: string) => h("b", {}, words);
  fill(place, "At ", b(rpm(speed())), `: ${result.baseline} `, b(`${row.baseline}${NB}${page.unit}`), `, ${result.candidate} `, b(`${row.candidate}${NB}${page.unit}`), ", gain ",
    b(`${row.gain}${NB}±${NB}${row.half_width}${NB}${page.unit}`), page.is_relative && [" (", b(`${row.percent}${NB}±${NB}${row.percent_half_width}${NB}%`), ")"], `, ${row.state}.`);
  over?.hand();
  gain?.hand();
}
