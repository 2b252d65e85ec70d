// Question 3: which order of further pulls would show the gain, what it takes, and a card to run it by.
import { actions, csvOf, head, table } from "./actions";
import { byId, fill, h } from "./dom";
import { above, absent, verdict } from "./state";
import { axis, axisNumber, decimalsOf, endLabels, Figure, line, px, text, ticks, token, unitLabel, xName, yAxis } from "./plot";
import { S, studies } from "./store";
import type uPlot from "uplot";

const NB = "\u00a0";
let figure: Figure | null = null;

export function renderNext(): void {
  const place = byId("next-body"), study = studies.plan, view = study.view;
  place.classList.toggle("old", study.working);
  if (!view) {
    figure = null;
    fill(place, absent(study, { working: "Ranking orders of pulls", none: "No plan yet.", why: S.campaign?.state === "ready" ? "It follows the comparison." : "It begins with the range of the claim, which question 1 asks for." }));
    return;
  }
  const focused = document.activeElement?.id ?? "", { page } = view;
  fill(place,
    above(study.working ? null : study, "Ranking orders of pulls"),
    h("figure", { class: "fig" },
      h("figcaption", { class: "say", id: "next-say" }, verdict(page.headline)),
      h("p", { class: "read", id: "rd-next" }, page.so_far),
      h("div", { id: "f-plan", class: "plot", role: "img", "aria-label": "What further pulls would make the average gain known to, against the time they take.", "aria-describedby": "next-say rd-next" }),
      actions("next", { csv: planCsv, table: planTable })),
    h("div", { class: "card" }, runCard()),
    h("ul", { class: "rests" }, page.notes.map(note => h("li", {}, note))),
    h("form", { class: "range wide", id: "plan-form", "aria-label": "What a session costs", onsubmit: event => event.preventDefault() },
      number("gain_percent", "Gain that matters", page.gain_percent, "%", 0.1, 50, 0.1), number("pull_min", "one pull", page.pull_min, "min", 0.5, 240, 0.5),
      number("change_min", "change of setup", page.change_min, "min", 0.5, 2880, 0.5), number("hours_left", "left today", page.hours_left, "h", 0.05, 24, 0.05)));
  figure = new Figure(byId("f-plan"), 250, false, buildPlan, 116);
  figure.draw();
  if (focused.startsWith("p-")) document.getElementById(focused)?.focus();
}

function number(key: string, words: string, value: number | null, unit: string, min: number, max: number, step: number): HTMLElement {
  return h("label", { class: "unit" }, h("span", {}, words), h("input", { type: "number", id: `p-${key}`, min, max, step, value: value === null ? "" : String(value), placeholder: value === null ? "–" : undefined, onchange: event => {
    const input = event.target as HTMLInputElement;
    if (!input.checkValidity()) { input.reportValidity(); return; }
    if (input.value === "") delete S.plan[key]; else S.plan[key] = Number(input.value);
    void studies.plan.load();
  } }), h("span", {}, unit));
}

// Ticks stay when the page is loaded again, as long as the card is the same.
function runCard(): (HTMLElement | false)[] {
  const { page } = studies.plan.view!;
  if (!page.steps.length) return [h("h3", {}, "Run card"), h("p", { class: "kick" }, "None: ask for a larger gain, or give the stand more time.")];
  const key = `boostwright-run:${S.campaign?.campaign.title}:${page.steps.map(step => step.name).join()}`;
  let done: string[] = [];
  try { done = JSON.parse(localStorage.getItem(key) ?? "[]") as string[]; } catch { /* storage is switched off, or holds something else */ }
  const turn = (name: string, is: boolean): void => {
    done = is ? [...done, name] : done.filter(other => other !== name);
    try { localStorage.setItem(key, JSON.stringify(done)); } catch { /* switched off */ }
  };
  const list = h("ol", { class: "steps" }, page.steps.map(step => h("li", {}, h("label", {},
    h("input", { type: "checkbox", checked: done.includes(step.name), onchange: event => turn(step.name, (event.target as HTMLInputElement).checked) }),
    h("span", {}, h("b", {}, step.name), ` ${step.words}`)))));
  list.style.setProperty("--rows", String(Math.ceil(page.steps.length / 2)));
  return [h("h3", {}, "Run card ", h("small", {}, page.takes)), list];
}

const rows = () => studies.plan.view!.page.rows;
function planTable(): HTMLElement {
  const made = table("Orders of further pulls", [["Order"], ["Takes"], ["Changes"], head("Would show", "%"), head("Known to", "± %")], rows().map(row => [row.order, row.takes, row.changes_of_setup, row.detectable_gain, row.half_width]));
  [...made.querySelectorAll("tbody tr")].forEach((tr, i) => { if (rows()[i]!.is_chosen) { tr.classList.add("pick"); tr.querySelector("th")!.append(h("em", {}, "on the card")); } });
  return made;
}
const planCsv = (): string => csvOf([["order", "duration_h", "changes_of_setup", "detectable_gain_percent", "half_width_percent"], ...rows().map(row => [row.order.replaceAll(NB, ""), row.duration_h, row.changes_of_setup, row.detectable_gain, row.half_width_percent])]);

function buildPlan() {
  const { page } = studies.plan.view!, b = token("cand"), now = page.half_width_percent;
  const X = page.rows.map(row => row.duration_h), Y = page.rows.map(row => row.half_width_percent), at = now === null ? { X, Y } : { X: [0, ...X], Y: [now, ...Y] };
  const y: [number, number] = [0, 1.12 * Math.max(...at.Y, page.gain_percent)], last = at.X.at(-1) ?? 1, x: [number, number] = [-0.03 * last, 1.04 * last];
  return {
    data: [at.X, at.Y] as uPlot.AlignedData,
    options: {
      scales: { x: { time: false, range: x }, y: { range: y } }, series: [{}, line(b, 2)],
      axes: [axis({ size: 30, splits: () => ticks(0, x[1], 6), values: (_: uPlot, v: number[]) => v.map(t => t === 0 ? "now" : axisNumber(t, decimalsOf(v))) }), yAxis(ticks(...y, 5))],
      hooks: { draw: [unitLabel("half-width of the average’s 95 % range, %"), xName("hours on"), (u: uPlot) => drawOrders(u)] },
    },
  };
}

// The gain that matters is a dotted line; the order on the card is the large mark; what is known now a ring.
function drawOrders(u: uPlot): void {
  const c = u.ctx, r = px(), b = token("cand"), { page } = studies.plan.view!, y = u.valToPos(page.gain_percent, "y", true);
  c.save();
  c.setLineDash([2 * r, 4 * r]);
  c.strokeStyle = token("ink");
  c.lineWidth = 1.5 * r;
  c.beginPath(); c.moveTo(u.bbox.left, y); c.lineTo(u.bbox.left + u.bbox.width, y); c.stroke();
  c.setLineDash([]);
  const mark = (hours: number, half: number, size: number, full: boolean): [number, number] => {
    const x = u.valToPos(hours, "x", true), top = u.valToPos(half, "y", true);
    c.beginPath(); c.arc(x, top, size * r, 0, 7); c.fillStyle = full ? b : token("sheet"); c.fill(); c.strokeStyle = b; c.lineWidth = 2 * r; c.stroke();
    return [x, top];
  };
  for (const row of page.rows) if (!row.is_chosen) mark(row.duration_h, row.half_width_percent, 4, true);
  const chosen = page.rows.find(row => row.is_chosen), place = chosen && mark(chosen.duration_h, chosen.half_width_percent, 6, true);
  if (page.half_width_percent !== null) mark(0, page.half_width_percent, 4, false);
  c.restore();
  if (chosen && place) text(u, `${chosen.order}, ${chosen.takes}`, place[0] + 4 * r, place[1] - 18 * r, { colour: b, weight: 600 });
  endLabels(u, [{ words: "matters", at: page.gain_percent, colour: token("ink") }, { words: "known to", at: page.rows.at(-1)?.half_width_percent, colour: b }]);
}

export const nextAnswer = (): string => studies.plan.view?.page.answer ?? (studies.plan.working ? "Working …" : "No plan yet");
