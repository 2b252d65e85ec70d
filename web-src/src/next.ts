// Question 3: which order of further pulls would show the gain, what it takes, and a card to run it by.
import { actions, csvOf, head, table } from "./actions";
import { byId, fill, h } from "./dom";
import { above, absent, verdict } from "./state";
import { axis, axisNumber, endLabels, Figure, line, px, text, ticks, token, unitLabel, xName, yAxis } from "./plot";
import { compared, S, studies } from "./store";
import type uPlot from "uplot";

const NB = "\u00a0";
let figure: Figure | null = null;

export function renderNext(): void {
  const place = byId("next-body"), study = studies.plan, view = study.view;
  place.classList.toggle("old", study.working);
  if (!view) {
    figure = null;
    fill(place, absent(study, { working: "Ranking orders of pulls", none: "No plan yet.", why: compared() || studies.compare.faults.length ? "It follows the comparison." : "It begins with the range of the claim, which question 1 asks for." }));
    return;
  }
  const focused = document.activeElement?.id ?? "", { page } = view;
  fill(place,
    above(study.working ? null : study, "Ranking orders of pulls"),
    h("figure", { class: "fig" },
      h("figcaption", { class: "say", id: "next-say" }, verdict(page.headline)),
      h("p", { class: "read", id: "rd-next" }, page.so_far),
      h("div", { id: "f-plan", class: "plot", role: "img", "aria-label": "Gain that each order of pulls would show, against the time it takes.", "aria-describedby": "next-say rd-next" }),
      actions("next", { csv: planCsv, table: planTable })),
    h("div", { class: "card" }, runCard()),
    h("form", { class: "range wide", id: "plan-form", "aria-label": "What a session costs", onsubmit: event => event.preventDefault() },
      number("aim_percent", "Gain to be shown", page.aim_percent, "%", 0.1, 50, 0.1), number("pull_min", "One pull takes", page.pull_min, "min", 0.5, 240, 0.5), number("change_min", "a change of setup", page.change_min, "min", 0.5, 2880, 0.5)));
  figure = new Figure(byId("f-plan"), 250, false, buildPlan, 116);
  figure.draw();
  if (focused.startsWith("p-")) document.getElementById(focused)?.focus();
}

function number(key: string, words: string, value: number, unit: string, min: number, max: number, step: number): HTMLElement {
  return h("label", { class: "unit" }, h("span", {}, words), h("input", { type: "number", id: `p-${key}`, min, max, step, value: String(value), onchange: event => {
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
  const made = table("Orders of pulls", [["Order"], ["Takes"], ["Changes"], head("Would show", "%"), head("Known to", "± %"), ["Can carry a claim"]],
    rows().map(row => [row.order, row.takes, row.changes_of_setup, row.detectable_gain, row.half_width, row.carries_claim ? "yes" : "no"]));
  [...made.querySelectorAll("tbody tr")].forEach((tr, i) => { if (rows()[i]!.is_suggested) { tr.classList.add("pick"); tr.querySelector("th")!.append(h("em", {}, "suggested")); } });
  return made;
}
const planCsv = (): string => csvOf([["order", "duration_h", "changes_of_setup", "detectable_gain_percent", "half_width_percent"], ...rows().map(row => [row.order.replaceAll(NB, ""), row.duration_h, row.changes_of_setup, row.detectable_gain_percent, row.half_width])]);

function buildPlan() {
  const { page } = studies.plan.view!, b = token("cand"), X = page.rows.map(row => row.duration_h), Y = page.rows.map(row => row.detectable_gain_percent);
  const y: [number, number] = [0, 1.12 * Math.max(...Y, page.aim_percent)], x: [number, number] = [0, 1.04 * (X.at(-1) ?? 1)];
  return {
    data: [X, Y] as uPlot.AlignedData,
    options: {
      scales: { x: { time: false, range: x }, y: { range: y } }, series: [{}, line(b, 2)],
      axes: [axis({ size: 30, splits: () => ticks(...x, 6), values: (_: uPlot, v: number[]) => v.map(t => axisNumber(t)) }), yAxis(ticks(...y, 5))],
      hooks: { draw: [unitLabel("gain that would be shown, %"), xName("hours"), (u: uPlot) => drawOrders(u, page.aim_percent)] },
    },
  };
}

// A filled square can carry a claim, a ring cannot; the suggested order is named.
function drawOrders(u: uPlot, aim: number): void {
  const c = u.ctx, r = px(), b = token("cand"), y = u.valToPos(aim, "y", true);
  c.save();
  c.setLineDash([2 * r, 4 * r]);
  c.strokeStyle = token("ink");
  c.lineWidth = 1.5 * r;
  c.beginPath(); c.moveTo(u.bbox.left, y); c.lineTo(u.bbox.left + u.bbox.width, y); c.stroke();
  c.setLineDash([]);
  const at = rows().map(row => ({ row, x: u.valToPos(row.duration_h, "x", true), y: u.valToPos(row.detectable_gain_percent, "y", true) }));
  for (const { row, x, y: top } of at) {
    const size = (row.is_suggested ? 6.5 : 4.5) * r;
    c.beginPath();
    if (row.carries_claim) c.rect(x - size, top - size, 2 * size, 2 * size); else c.arc(x, top, size, 0, 7);
    c.fillStyle = row.carries_claim ? b : token("sheet");
    c.fill();
    c.strokeStyle = b;
    c.lineWidth = 2 * r;
    c.stroke();
  }
  c.restore();
  for (const { row, x, y: top } of at) if (row.is_suggested) text(u, `${row.order}, ${row.takes}`, x + 2 * r, top - 18 * r, { colour: b, weight: 600 });
  const open = at.find(({ row }) => !row.carries_claim);
  if (open) text(u, "ring: carries no claim", open.x + 12 * r, open.y - 2 * r, { size: 13, colour: token("ink-3") });
  endLabels(u, [{ words: "asked for", at: aim, colour: token("ink") }]);
}

export const nextAnswer = (): string => studies.plan.view?.page.answer ?? (studies.plan.working ? "Working …" : "No plan yet");
