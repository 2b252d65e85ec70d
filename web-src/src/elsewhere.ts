// Question 5: the build of a setup in another setting; curves, map and limits follow the sliders.
import { actions, csvOf, head, table } from "./actions";
import type { PageCurve, Slider } from "./api";
import { byId, fill, h } from "./dom";
import { endOf, rpm } from "./gain";
import { axis, axisNumber, edge, endLabels, Figure, line, none, px, speedTicks, text, ticks, token, unitLabel, xAxis, xName, yAxis, zeroLine } from "./plot";
import { above, oneFault, verdict } from "./state";
import { chooseSetup, emit, isTurned, loadWhatIf, S, speed, staleReason, studies, whatIfIndex, within } from "./store";
import type uPlot from "uplot";

let shown = "";
let torque: Figure | null = null;
let difference: Figure | null = null;
let map: Figure | null = null;
// Axes keep their ends while a slider moves, so that the eye compares places; a new setup begins anew.
let ends: { torque: [number, number]; difference: [number, number] } | null = null;

export function renderElsewhere(): void {
  const place = byId("elsewhere-body"), view = S.whatIf;
  if (!view) {
    shown = "";
    torque = difference = map = null;
    fill(place, S.whatIfFaults.length ? oneFault(S.whatIfFaults, "The build cannot be matched.")
      : S.setup && S.campaign?.state === "ready" ? h("div", { class: "slot", "aria-busy": "true" }, h("p", { class: "say" }, "Matching the build …"), h("p", {}, "The first match on a computer prepares its kernels, which takes half a minute."))
        : h("div", { class: "slot" }, h("p", { class: "say" }, "No build is named."), h("p", {}, "Give a setup its build file in question 1; then pulley, air and fuel can be turned here.")));
    return;
  }
  const what = [view.setup, view.page.basis, ...view.sliders.map(s => s.key)].join();
  if (shown !== what) { shown = what; ends = null; build(); }
  fitEnds();
  for (const figure of [torque, difference, map]) figure?.renew();
  follow();
}

function build(): void {
  const view = S.whatIf!, setups = S.campaign!.setups_with_build;
  const chosen = h("select", { id: "w-setup", onchange: event => chooseSetup((event.target as HTMLSelectElement).value) }, setups.map(name => h("option", { value: name }, name)));
  chosen.value = view.setup;
  const fuel = h("select", { id: "w-fuel", onchange: event => { const said = (event.target as HTMLSelectElement).value; S.fuel = said === view.tested_fuel ? "" : said; turned(); } }, view.fuels.map(name => h("option", { value: name }, name)));
  const plot = (id: string, label: string) => h("div", { id, class: "plot", role: "img", "aria-label": label, "aria-describedby": "elsewhere-say rd-elsewhere" });
  fill(byId("elsewhere-body"),
    h("div", { id: "elsewhere-above" }),
    h("figure", { class: "fig" },
      h("figcaption", { class: "say", id: "elsewhere-say" }),
      h("p", { class: "read", id: "rd-elsewhere" }),
      h("div", { class: "mapgrid" },
        h("div", {},
          plot("f-torque", "Torque over engine speed, as tested and in the what-if setting."),
          plot("f-difference", "Difference of torque, what-if less as tested, with its 95 percent range."),
          plot("f-map", "Operating line on the blower map: pressure ratio against inlet flow; tested line dashed, what-if line solid.")),
        h("form", { class: "sliders", id: "whatif", "aria-label": "What if", onsubmit: event => event.preventDefault() },
          h("p", { class: "state", id: "reach" }),
          h("label", { class: "field" }, h("span", {}, "Build of setup"), chosen),
          view.sliders.map(slider),
          h("label", { class: "field" }, h("span", {}, "Fuel"), fuel),
          h("p", { class: "was alone" }, `tested: ${view.tested_fuel}`),
          h("button", { type: "button", id: "w-reset", onclick: () => { S.asked = {}; S.fuel = ""; turned(); } }, "Back to tested"))),
      h("dl", { class: "outs", id: "outs" }),
      actions("elsewhere", { csv: whatIfCsv, table: whatIfTable, zoom: true })),
    h("div", { id: "carried" }));
  torque = new Figure(byId("f-torque"), 230, true, buildTorque, 100);
  difference = new Figure(byId("f-difference"), 190, true, buildDifference, 100);
  map = new Figure(byId("f-map"), 420, false, buildMap, 100);
}

const shownValue = (s: Slider, v: number): string => `${axisNumber(v, s.decimals)}${s.unit ? `\u00a0${s.unit}` : ""}`;
function slider(s: Slider): HTMLElement {
  const id = `w-${s.key}`;
  return h("div", { class: "sl" }, h("label", { for: id }, s.words), h("output", { for: id, id: `${id}-out` }),
    h("input", { type: "range", id, min: s.low, max: s.high, step: s.step, value: String(S.asked[s.key] ?? s.tested), oninput: event => {
      const n = Number((event.target as HTMLInputElement).value);
      if (Math.abs(n - s.tested) < s.step / 2) delete S.asked[s.key]; else S.asked[s.key] = n;
      turned();
    } }), h("span", { class: "was" }, `tested: ${shownValue(s, s.tested)}`));
}
function turned(): void { void loadWhatIf(); emit("turned"); showSettings(); }

function showSettings(): void {
  for (const s of S.whatIf?.sliders ?? []) {
    const input = byId(`w-${s.key}`) as HTMLInputElement, n = S.asked[s.key] ?? s.tested, words = shownValue(s, n);
    if (document.activeElement !== input || S.asked[s.key] === undefined) input.value = String(n);
    byId(`w-${s.key}-out`).textContent = words;
    input.setAttribute("aria-valuetext", words);
  }
  const fuel = document.getElementById("w-fuel") as HTMLSelectElement | null;
  if (fuel && S.whatIf) fuel.value = S.fuel || S.whatIf.tested_fuel;
}

const known = (all: (number | null)[]): number[] => all.filter((v): v is number => v !== null);
const widened = (all: number[], room: number): [number, number] => { const low = Math.min(...all), high = Math.max(...all), more = room * (high - low || 1); return [low - more, high + more]; };
function fitEnds(): void {
  const curve = plotted();
  const both = known([...curve.lower, ...curve.upper, ...curve.tested]), gaps = known([0, ...curve.difference_lower, ...curve.difference_upper]);
  if (!ends) {
    const size = Math.max(...known(curve.tested));
    ends = { torque: widened(both, 0.15), difference: [-0.16 * size, 0.16 * size] };
  }
  const grown = (now: [number, number], all: number[]): [number, number] => Math.min(...all) < now[0] || Math.max(...all) > now[1] ? [Math.min(now[0], widened(all, 0.1)[0]), Math.max(now[1], widened(all, 0.1)[1])] : now;
  ends = { torque: grown(ends.torque, both), difference: grown(ends.difference, gaps) };
}

const span = (): [number, number] => { const X = S.whatIf!.page.engine_speed_rpm; return within(X[0]!, X.at(-1)!); };
const speeds = (figure: Figure): number[] => speedTicks(...span(), figure.element.clientWidth);
const end = (Y: (number | null)[]): number | null => endOf(S.whatIf!.page.engine_speed_rpm, Y);
export function drawElsewhere(): void { torque?.draw(); difference?.draw(); }

function whatIfTable(): HTMLElement {
  const { page } = S.whatIf!, all = page.readings_rpm, step = [100, 200, 250, 500].find(s => (all.at(-1)! - all[0]!) / s <= 16) ?? 1000, [first] = page.curves as [PageCurve];
  return table("What if, by speed", [["rev/min"], ...page.curves.map(curve => head(curve.words, curve.unit)), head("Difference", `${first.words.toLowerCase()}, against tested`)],
    all.flatMap((n, i) => n % step ? [] : [[axisNumber(n), ...page.curves.map(curve => curve.readings[i]!.replace(`\u00a0${curve.unit}`, "")), page.differences[i]!]]));
}
function whatIfCsv(): string {
  const { page } = S.whatIf!, columns = page.curves.map(curve => `${curve.words}, ${curve.unit}`);
  return csvOf([["engine_speed_rpm", ...columns.flatMap(name => [`${name} tested`, name, `${name} lower`, `${name} upper`])], ...page.engine_speed_rpm.map((n, i) => [n, ...page.curves.flatMap(curve => [curve.tested[i], curve.asked[i], curve.lower[i], curve.upper[i]])])]);
}

// The plots are kept while a slider moves: scales and marks read the newest answer.
const plotted = (): PageCurve => S.whatIf!.page.curves[0]!;
function buildTorque() {
  const { page } = S.whatIf!, curve = plotted(), a = token("base"), b = token("cand");
  return {
    data: [page.engine_speed_rpm, curve.upper, curve.lower, curve.tested, curve.asked] as uPlot.AlignedData,
    options: {
      scales: { x: { time: false, range: span }, y: { range: () => ends!.torque } },
      series: [{}, edge(b), edge(b), line(a, 2.25, [8, 5]), line(b)], bands: [{ series: [1, 2] as [number, number], fill: token("cand-tint") }],
      axes: [xAxis(() => speeds(torque!), false), yAxis(() => ticks(...ends!.torque, 5))],
      hooks: { draw: [unitLabel(`torque, ${curve.unit}`), (u: uPlot) => endLabels(u, isTurned()
        ? [{ words: "what if", at: end(plotted().asked), colour: b }, { words: "as tested", at: end(plotted().tested), colour: a }]
        : [{ words: "as tested", at: end(plotted().asked), colour: b, sub: "95 % range" }])] },
    },
  };
}

function buildDifference() {
  const { page } = S.whatIf!, curve = plotted(), b = token("cand");
  return {
    data: [page.engine_speed_rpm, curve.difference_upper, curve.difference_lower, curve.difference] as uPlot.AlignedData,
    options: {
      scales: { x: { time: false, range: span }, y: { range: () => ends!.difference } },
      series: [{}, edge(b), edge(b), line(b)], bands: [{ series: [1, 2] as [number, number], fill: token("cand-tint") }],
      axes: [xAxis(() => speeds(difference!)), yAxis(() => ticks(...ends!.difference, 5), true)],
      hooks: { draw: [unitLabel(`what if less as tested, ${curve.unit}`), xName("rev/min"), (u: uPlot) => { zeroLine(u); endLabels(u, [{ words: "difference", at: end(plotted().difference), colour: b, sub: "95 % range" }]); }] },
    },
  };
}

function buildMap() {
  if (!S.map) return null;
  const x = (): [number, number] => [0, S.map!.map.highest_flow], y = (): [number, number] => [1, S.map!.map.highest_pressure_ratio];
  return {
    data: [x(), [1, 1]] as uPlot.AlignedData,
    options: {
      scales: { x: { time: false, range: x }, y: { range: y } }, series: [{}, none()],
      axes: [axis({ size: 30, splits: () => ticks(...x(), 7), values: (_: uPlot, v: number[]) => v.map(t => axisNumber(t)) }), yAxis(() => ticks(...y(), 6))],
      hooks: { draw: [unitLabel("pressure ratio over the blower; faint lines: rotor, rev/min; contours: isentropic efficiency"), xName(`${S.whatIf!.page.flow_unit}, inlet`), drawMap] },
    },
  };
}

function drawMap(u: uPlot): void {
  const { page } = S.whatIf!, lines = S.map!.map, c = u.ctx, r = px();
  const stroke = (flow: (number | null)[], ratio: (number | null)[], colour: string, width: number, dash: number[] = []): [number, number][] => {
    const points: [number, number][] = [];
    flow.forEach((q, i) => { const p = ratio[i]; if (q !== null && typeof p === "number") points.push([u.valToPos(q, "x", true), u.valToPos(p, "y", true)]); });
    c.beginPath();
    points.forEach(([x, y], i) => { if (i) c.lineTo(x, y); else c.moveTo(x, y); });
    c.setLineDash(dash.map(v => v * r));
    c.strokeStyle = colour;
    c.lineWidth = width * r;
    c.stroke();
    c.setLineDash([]);
    return points;
  };
  const labels: { words: string; x: number; y: number }[] = [];
  c.save();
  c.beginPath();
  c.rect(u.bbox.left, u.bbox.top, u.bbox.width, u.bbox.height);
  c.clip();
  for (const l of lines.speeds) {
    const end = stroke(l.volume_flow, l.pressure_ratio, token("rule"), 1.2).at(-1);
    if (end) labels.push({ words: l.label, x: end[0], y: u.bbox.top + 12 * r });
  }
  for (const l of lines.contours) {
    const points = stroke(l.volume_flow, l.pressure_ratio, token("edge"), 1);
    const middle = points[Math.floor(points.length / 2)];
    if (middle && points.length > 12) labels.push({ words: l.label, x: middle[0], y: middle[1] });
  }
  c.restore();
  const tested = stroke(page.tested_volume_flow, page.tested_pressure_ratio, token("base"), 2.25, [8, 5]);
  const asked = stroke(page.volume_flow, page.pressure_ratio, token("cand"), 2.75);
  const name = (words: string, at: [number, number] | undefined, colour: string, dy = 0): void => { if (at) text(u, words, Math.min(at[0] + 9 * r, u.bbox.left + u.bbox.width + 6 * r), at[1] + dy * r, { colour, weight: 600 }); };
  if (!isTurned()) name("as tested", asked.at(-1), token("cand"));
  else {
    const above = (asked.at(-1)?.[1] ?? 0) < (tested.at(-1)?.[1] ?? 0) ? 1 : -1;
    name("what if", asked.at(-1), token("cand"), -9 * above);
    name("as tested", tested.at(-1), token("base"), 9 * above);
  }
  const hand = point(u, asked);
  const taken = [hand, ...[asked.at(-1), tested.at(-1)].flatMap(end => end ? [{ x: end[0] + 40 * r, y: end[1] }] : [])];
  const clear: typeof labels = [];
  for (const l of labels) {
    const free = [...taken, ...clear].every(o => Math.abs(o.x - l.x) > 52 * r || Math.abs(o.y - l.y) > 19 * r);
    if (free && l.x < u.bbox.left + u.bbox.width - 18 * r) clear.push(l);
  }
  for (const l of clear) text(u, l.words, l.x, l.y, { align: "center", size: 13, colour: token("ink-3") });
}

// The point at the hand, between the computed speeds.
function point(u: uPlot, points: [number, number][]): { x: number; y: number } {
  const X = S.whatIf!.page.engine_speed_rpm, n = speed(), c = u.ctx, r = px();
  const j = Math.min(Math.max(X.findIndex(x => x > n) - 1, 0), X.length - 2), share = (n - X[j]!) / (X[j + 1]! - X[j]!), a = points[j], b = points[j + 1];
  if (!a || !b) return { x: 0, y: 0 };
  const x = a[0] + share * (b[0] - a[0]), y = a[1] + share * (b[1] - a[1]);
  c.save();
  c.beginPath(); c.arc(x, y, 7 * r, 0, 7); c.fillStyle = token("sheet"); c.fill(); c.strokeStyle = token("ink"); c.lineWidth = 2.5 * r; c.stroke();
  c.beginPath(); c.arc(x, y, 2.5 * r, 0, 7); c.fillStyle = token("ink"); c.fill();
  c.restore();
  text(u, rpm(n), x, y - 18 * r, { align: "center", weight: 600 });
  return { x, y: y - 18 * r };
}

export function followElsewhere(): void {
  if (!S.whatIf || !document.getElementById("elsewhere-say")) return;
  follow();
  torque?.hand();
  difference?.hand();
  map?.plot?.redraw(false, false);
}

function follow(): void {
  const view = S.whatIf!, i = whatIfIndex(), { page } = view, first = page.curves[0]!;
  showSettings();
  const reach = byId("reach");
  reach.dataset.s = page.is_far ? "far" : "";
  reach.textContent = page.is_far ? "Far from what was tested. Treat as a first guess; test before quoting." : isTurned() ? "Near what was tested." : "As tested. Move a slider.";
  reach.append(h("br"), page.basis === "pulls" ? "Ranges: the machine that fits the pulls." : studies.explain.working ? "Ranges: the build file alone, while the pulls are being explained." : "Ranges: what the build file leaves open.");
  fill(byId("elsewhere-above"), above(null, ""));
  byId("elsewhere-above").hidden = staleReason() === "";
  if (i < 0) { fill(byId("elsewhere-say"), `Nothing is computed at ${rpm(speed())}.`); fill(byId("rd-elsewhere")); fill(byId("outs")); return; }
  const at = `At ${rpm(speed())}`, change = h("span", { class: "v" }, page.differences[i]);
  const state = page.states[i];
  fill(byId("elsewhere-say"), verdict(!isTurned() ? `As tested, the model gives ${first.readings[i]} ${at.toLowerCase()}.`
    : state === "gain shown" ? [`${at} this would `, h("span", { class: "gain" }, "gain"), ": ", change, " against the build as tested."]
      : state === "loss shown" ? [`${at} this would `, h("span", { class: "loss" }, "give away"), ": ", change, " against the build as tested."]
        : [`${at} no difference is shown against the build as tested: `, change, "."]));
  fill(byId("rd-elsewhere"), `${at}: `, page.curves.map((curve, k) => [k ? ", " : "", curve.words.toLowerCase(), " ", h("b", {}, curve.readings[i])]), ".", page.warnings.map(warning => ` ${warning}`));
  fill(byId("outs"), page.curves.map(curve => h("div", {}, h("dt", {}, curve.words), h("dd", {}, curve.readings[i], h("small", {}, `tested: ${curve.tested_readings[i]}`)))));
}
