// The frame: lead, sections, answer list, the hand, keys, themes.
import { claimAnswer } from "./claim";
import { byId, coloured, fill, h } from "./dom";
import { gainWords, rpm } from "./gain";
import { limitsAnswer } from "./limits";
import { measuredSay } from "./measured";
import { axisNumber, Figure, ticks } from "./plot";
import { nextAnswer } from "./next";
import { againButton, verdict } from "./state";
import { compared, compareRow, isTurned, readings, S, setPin, speed, staleReason, studies, turnUnits, units, whatIfIndex, wholeRange, zoomBy } from "./store";
import { whyAnswer } from "./why";

const NB = "\u00a0";
type Question = { id: string; n: number; words: string; short: string; answer: () => string; notes: [string, string][] };
const QUESTIONS: Question[] = [
  { id: "measured", n: 1, words: "What did we measure?", short: "Measured", answer: measuredSay, notes: [
    ["Order", "Change the setup more than once, such as A B B A: a steady drift then cancels, and the scatter of re-fitting is in the band."],
    ["Weather", "is station pressure, air and humidity at the stand just before each pull."],
    ["Left out", "A pull with a fault is left out and stays in the table with its reason."]] },
  { id: "gain", n: 2, words: "Did it gain, where, how sure?", short: "Gain", answer: () => gainAnswer(), notes: [
    ["The band", "covers the whole curve at once with 95 % confidence. Where it clears zero, the sign is shown at every speed of that stretch."],
    ["Open", "does not mean no effect. It means that these pulls cannot tell."]] },
  { id: "next", n: 3, words: "What next?", short: "Next", answer: nextAnswer, notes: [
    ["Settle", "means: with 90 % probability the answer is there at 95 % confidence, about the average over the range."],
    ["The sizes", "of drift and scatter are what the pulls so far make likely."],
    ["While it runs,", "say what is left of the session; the card then holds what fits."]] },
  { id: "why", n: 4, words: "Why?", short: "Why", answer: whyAnswer, notes: [
    ["Only pressure?", "If the manifold pressure rises without more air, the charge has only become hotter."],
    ["Shares", "come of a machine that is fitted to the curves of both setups. Causes that the logged channels cannot tell apart are given as one."],
    ["Not explained", "is kept as a share of its own. If its box leaves zero out, the explanation misses something."]] },
  { id: "elsewhere", n: 5, words: "Elsewhere?", short: "Elsewhere", answer: () => elsewhereAnswer(), notes: [
    ["The tint", "is the 95 % range of the machines that fit the pulls, or, before they are explained, of what the build file leaves open. What the model itself gets wrong is not in it."],
    ["The difference", "is surer than either curve: what nobody knows of the build acts on both."]] },
  { id: "limits", n: 6, words: "What gives first?", short: "Limits", answer: limitsAnswer, notes: [
    ["Bar and box:", "the highest value over the range as a share of its limit, with its 95 % range. It follows the settings of question 5."],
    ["Small triangle:", "the value at the speed in hand."],
    ["Chance:", "how many of the machines that fit the pulls exceed the limit. It is there for the tested setting, once the gain is explained."],
    ["Not known", "is never taken for well."]] },
  { id: "claim", n: 7, words: "What may we claim?", short: "Claim", answer: claimAnswer, notes: [
    ["Not to be claimed:", "a gain on another engine, outside the declared range, or the highest point without its range."]] },
];

function gainAnswer(): string { const c = compared(); return c ? `${c.page.average} on average` : studies.compare.working ? "Working …" : "No verdict yet"; }
function elsewhereAnswer(): string {
  const i = whatIfIndex();
  if (!S.whatIf || i < 0) return "No build is named";
  return isTurned() ? `${S.whatIf.page.differences[i]} at ${rpm(speed())}` : "As tested";
}

export function frame(): void {
  fill(byId("main"),
    h("div", { class: "slot fault lost", id: "lost", role: "alert", hidden: true }),
    h("section", { class: "lead", id: "top", "aria-labelledby": "h-top" },
      h("p", { class: "kick", id: "kick" }), h("h1", { id: "h-top" }, "Reading the folder …"), h("p", { class: "sub", id: "sub" }), h("div", { class: "acts big", id: "lead-acts" })),
    QUESTIONS.map(question => h("section", { class: "q", id: question.id, "aria-labelledby": `h-${question.id}` },
      h("h2", { id: `h-${question.id}`, tabindex: -1 }, h("span", { class: "n" }, question.n), question.words),
      h("div", { class: question.id === "next" ? "body two" : "body", id: `${question.id}-body` }),
      h("div", { class: "aside" }, question.notes.map(([head, words]) => h("p", {}, h("b", {}, head), ` ${words}`))))));
  fill(byId("rail"), QUESTIONS.map(question => h("li", {}, h("a", { href: `#${question.id}`, onclick: event => { event.preventDefault(); goTo(question.id); } },
    h("span", { class: "n" }, question.n), h("span", { class: "qq" }, question.words), h("span", { class: "short" }, question.short), h("span", { class: "ans", id: `ans-${question.id}` })))));
}

export function goTo(id: string): void {
  const section = byId(id);
  section.scrollIntoView();
  section.querySelector<HTMLElement>("h2")?.focus({ preventScroll: true });
  history.replaceState(null, "", `${location.pathname}${location.search}#${id}`);
}

export function renderLead(): void {
  byId("b-units").textContent = units() === "us" ? "Metric" : "US units";
  const view = S.campaign, title = view?.campaign.title || "A new campaign";
  document.title = `${title} · boostwright`;
  const stand = view?.campaign.stand.name;
  fill(byId("job"), h("b", {}, title), h("span", {}, stand ? ` · ${stand}` : ""));
  const compare = compared(), stale = staleReason();
  byId("kick").textContent = view?.state === "ready" ? `Back-to-back test: ${view.campaign.baseline} (A) against ${view.campaign.candidate} (B)` : "";
  fill(byId("h-top"), compare ? verdict(coloured(compare.result.headline))
    : studies.compare.working ? "Comparing the pulls …" : view?.state === "ready" ? "No verdict yet." : measuredSay());
  fill(byId("lead-acts"), stale && !S.dirty && againButton());
  fill(byId("sub"), compare ? stale || compare.result.sentence : view?.state === "empty" ? "Drop the logs of a back-to-back test below; the page asks for what only you know and writes it as campaign.toml into this folder." : "");
}

export function renderAnswers(): void {
  for (const part of [byId("rail"), byId("hand")]) part.classList.toggle("struck", staleReason() !== "");
  for (const question of QUESTIONS) byId(`ans-${question.id}`).textContent = question.answer();
}

export function renderHand(): void {
  const hand = byId("hand"), all = readings();
  hand.hidden = all.length === 0;
  document.body.classList.toggle("nohand", hand.hidden);
  if (hand.hidden) return;
  const first = all[0]!, last = all.at(-1)!, place = (n: number): string => `${100 * (Math.min(Math.max(n, first), last) - first) / (last - first)}%`;
  const segs = h("div", { class: "segs", "aria-hidden": "true" }), marks = h("div", { class: "ticks", "aria-hidden": "true" });
  for (const stretch of compared()?.result.stretches ?? []) {
    const seg = h("i", { class: { "gain shown": "p", "loss shown": "m" }[stretch.state] ?? "o" });
    seg.style.width = `${parseFloat(place(stretch.to_rpm)) - parseFloat(place(stretch.from_rpm))}%`;
    segs.append(seg);
  }
  const room = document.documentElement.dataset.read === "far" ? 260 : 130;
  for (const n of ticks(first, last, Math.max(2, Math.min(9, Math.floor(innerWidth / room))))) { const mark = h("span", {}, axisNumber(n)); mark.style.left = place(n); marks.append(mark); }
  const slider = h("input", { type: "range", id: "speed", min: first, max: last, step: 10, value: String(speed()), "aria-label": "Engine speed", oninput: () => setPin(Number(slider.value)) });
  fill(hand, h("div", { class: "track" }, segs, slider, marks), h("p", { class: "now", id: "now" }));
  followHand();
}

export function followHand(): void {
  const slider = document.getElementById("speed") as HTMLInputElement | null, row = compareRow();
  if (!slider) return;
  const at = rpm(speed());
  slider.value = String(speed());
  const compare = compared();
  if (!row || !compare) { slider.setAttribute("aria-valuetext", at); fill(byId("now"), h("span", {}, "in hand", h("b", {}, at))); return; }
  const { result, page } = compare, words = gainWords();
  slider.setAttribute("aria-valuetext", `${at}: gain ${words}, ${row.state}`);
  fill(byId("now"), h("span", {}, "in hand", h("b", {}, at)),
    h("span", {}, `${result.baseline} → ${result.candidate}`, h("b", {}, `${row.baseline} → ${row.candidate}${NB}${page.unit}`)),
    h("span", { class: row.state === "gain shown" ? "gain" : row.state === "loss shown" ? "loss" : "" }, row.state, h("b", {}, words)));
}

let marked = "";
export function markCurrent(): void {
  const all = QUESTIONS;
  let current = all.filter(question => byId(question.id).getBoundingClientRect().top < 220).at(-1)?.id;
  if (innerHeight + scrollY > document.body.scrollHeight - 4) current = all.at(-1)?.id;
  for (const link of byId("rail").querySelectorAll("a")) {
    if (link.getAttribute("href") === `#${current}`) link.setAttribute("aria-current", "location"); else link.removeAttribute("aria-current");
  }
  if (marked === (marked = current ?? "")) return;
  const rail = document.querySelector<HTMLElement>(".rail")!, link = rail.querySelector<HTMLElement>("[aria-current]");
  if (link && rail.scrollWidth > rail.clientWidth) rail.scrollLeft = link.offsetLeft - (rail.clientWidth - link.clientWidth) / 2;
}

const root = document.documentElement;
const kept = { get: (name: string): string | null => { try { return localStorage.getItem(name); } catch { return null; } }, set: (name: string, said: string): void => { try { localStorage.setItem(name, said); } catch { /* switched off */ } } };
function showTheme(): void { byId("b-theme").textContent = root.dataset.theme === "dark" ? "Light" : "Dark"; }
function turnTheme(): void {
  root.dataset.theme = root.dataset.theme === "dark" ? "light" : "dark";
  kept.set("boostwright-theme", root.dataset.theme);
  showTheme();
  Figure.redraw();
}
function turnFar(): void {
  const far = root.dataset.read !== "far";
  if (far) root.dataset.read = "far"; else delete root.dataset.read;
  byId("b-far").setAttribute("aria-pressed", String(far));
  scrollTo(0, 0);
  renderHand();
  if (!far) Figure.redraw();
}

const KEYS: [string, string][] = [["1 … 7", "go to a question"], [", .", "speed down, up by 50 rev/min"], ["[ ]", "previous, next turning point: ends, band edges, sign change, best"], ["+ − 0", "zoom in, out around the hand; the whole range"], ["f", "read from 2 m"], ["t", "light or dark"], ["u", "metric or US units"], ["?", "this list"]];
export function tools(): void {
  const dialog = byId("keys") as HTMLDialogElement;
  const single = h("input", { type: "checkbox", id: "keys-on", checked: kept.get("boostwright-keys") !== "off", onchange: () => kept.set("boostwright-keys", single.checked ? "on" : "off") });
  fill(dialog, h("h2", { id: "keys-h" }, "Keys"), h("dl", {}, KEYS.map(([keys, words]) => h("div", {}, h("dt", {}, keys.split(" ").map(k => k === "…" ? " … " : [h("kbd", {}, k), " "])), h("dd", {}, words)))),
    h("label", { class: "sw" }, single, " Single keys act"), h("form", { method: "dialog" }, h("button", { class: "main" }, "Close")));
  byId("b-keys").addEventListener("click", () => dialog.showModal());
  byId("b-theme").addEventListener("click", turnTheme);
  byId("b-far").addEventListener("click", turnFar);
  byId("b-print").addEventListener("click", () => print());
  byId("b-units").addEventListener("click", turnUnits);
  showTheme();
  let before = root.dataset.theme;
  addEventListener("beforeprint", () => { before = root.dataset.theme; root.dataset.theme = "print"; Figure.frozen = true; Figure.redraw(655); });
  addEventListener("afterprint", () => { root.dataset.theme = before; Figure.frozen = false; Figure.redraw(); });
  addEventListener("keydown", event => { if (single.checked && !dialog.open && press(event)) event.preventDefault(); });
  addEventListener("beforeunload", event => { if (S.dirty) event.preventDefault(); });
}

function press(event: KeyboardEvent): boolean {
  const target = event.target as HTMLElement;
  if (event.ctrlKey || event.metaKey || event.altKey || (/INPUT|SELECT|TEXTAREA/.test(target.tagName) && (target as HTMLInputElement).type !== "range")) return false;
  const question = QUESTIONS.find(q => String(q.n) === event.key), stops = compared()?.page.turning_points_rpm ?? [], n = speed();
  if (question) goTo(question.id);
  else if (event.key === ",") setPin(n - 50);
  else if (event.key === ".") setPin(n + 50);
  else if (event.key === "]") setPin(stops.find(stop => stop > n + 4) ?? n);
  else if (event.key === "[") setPin(stops.findLast(stop => stop < n - 4) ?? n);
  else if (event.key === "+" || event.key === "=") zoomBy(0.5);
  else if (event.key === "-") zoomBy(2);
  else if (event.key === "0") wholeRange();
  else if (event.key === "u") turnUnits();
  else if (event.key === "f") turnFar();
  else if (event.key === "t") turnTheme();
  else if (event.key === "?") byId("b-keys").click();
  else return false;
  return true;
}
