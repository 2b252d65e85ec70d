// The frame: lead, sections, answer list, the hand, keys, themes.
import { claimAnswer } from "./claim";
import { byId, coloured, fill, h, say, type Child } from "./dom";
import { gainWords, rpm } from "./gain";
import { limitsAnswer } from "./limits";
import { measuredSay } from "./measured";
import { axisNumber, Figure, ticks } from "./plot";
import { compareRow, isTurned, readings, S, setPin, speed, whatIfIndex } from "./store";

const NB = "\u00a0";
// A question with a command is not in this page yet: it names the command, or is left out if there is none.
type Question = { id: string; n: number; words: string; short: string; answer: () => string; notes: [string, string][]; command?: string; does?: string };
const notHere = (): string => "Not in this page yet";
const QUESTIONS: Question[] = [
  { id: "measured", n: 1, words: "What did we measure?", short: "Measured", answer: measuredSay, notes: [
    ["Order", "Change the setup more than once, such as A B B A: a steady drift then cancels, and the scatter of re-fitting is in the band."],
    ["Weather", "is station pressure, air and humidity at the stand just before each pull."],
    ["Left out", "A pull with a fault is left out and stays in the table with its reason."]] },
  { id: "gain", n: 2, words: "Did it gain, where, how sure?", short: "Gain", answer: () => gainAnswer(), notes: [
    ["The band", "covers the whole curve at once with 95 % confidence. Where it clears zero, the sign is shown at every speed of that stretch."],
    ["Open", "does not mean no effect. It means that these pulls cannot tell."]] },
  { id: "next", n: 3, words: "What next?", short: "Next", answer: notHere, notes: [], command: "plan", does: "it ranks the orders of further pulls by what they would show per hour" },
  { id: "why", n: 4, words: "Why?", short: "Why", answer: notHere, notes: [], command: "explain", does: "it splits the gain into more air, pressure and parts, each with its interval" },
  { id: "elsewhere", n: 5, words: "Elsewhere?", short: "Elsewhere", answer: () => elsewhereAnswer(), notes: [
    ["The tint", "is the 95 % range of what the build file leaves open. What the model itself gets wrong is not in it."],
    ["The difference", "is surer than either curve: what nobody knows of the build acts on both."]] },
  { id: "limits", n: 6, words: "What gives first?", short: "Limits", answer: limitsAnswer, notes: [
    ["Bar:", "the highest value over the range, as a share of its limit. It follows the settings of question 5."],
    ["Without a ±:", "these are values of the build as its file says it; the spread of what it leaves open is not drawn here."],
    ["Not known", "is never taken for well."]] },
  { id: "claim", n: 7, words: "What may we claim?", short: "Claim", answer: claimAnswer, notes: [
    ["Not to be claimed:", "a gain on another engine, outside the declared range, or the highest point without its range."]] },
];
const asked = (): Question[] => QUESTIONS.filter(question => !question.command || S.campaign?.commands.includes(question.command));

function gainAnswer(): string { return S.compare ? `${S.compare.page.average} on average` : "No verdict yet"; }
function elsewhereAnswer(): string {
  const i = whatIfIndex();
  if (!S.whatIf || i < 0) return "No build is named";
  return isTurned() ? `${S.whatIf.page.curves[0]!.differences[i]} at ${rpm(speed())}` : "As tested";
}

export function frame(): void {
  fill(byId("main"),
    h("section", { class: "lead", id: "top", "aria-labelledby": "h-top" },
      h("p", { class: "kick", id: "kick" }), h("h1", { id: "h-top" }, "Reading the folder …"), h("p", { class: "sub", id: "sub" })),
    asked().map(question => h("section", { class: "q", id: question.id, "aria-labelledby": `h-${question.id}` },
      h("h2", { id: `h-${question.id}`, tabindex: -1 }, h("span", { class: "n" }, question.n), question.words),
      h("div", { class: "body", id: `${question.id}-body` }, question.command ? elsewhereAsked(question) : null),
      h("div", { class: "aside" }, question.notes.map(([head, words]) => h("p", {}, h("b", {}, head), ` ${words}`))))));
  fill(byId("rail"), asked().map(question => h("li", {}, h("a", { href: `#${question.id}`, onclick: event => { event.preventDefault(); goTo(question.id); } },
    h("span", { class: "n" }, question.n), h("span", { class: "qq" }, question.words), h("span", { class: "short" }, question.short), h("span", { class: "ans", id: `ans-${question.id}` })))));
}

const elsewhereAsked = (question: Question): Child => [h("p", { class: "say" }, "Not in this page yet."),
  h("p", {}, "Run ", h("code", { class: "code" }, `boostwright ${question.command}`), ` on this folder: ${question.does}.`)];

export function goTo(id: string): void {
  const section = byId(id);
  section.scrollIntoView();
  section.querySelector<HTMLElement>("h2")?.focus({ preventScroll: true });
  history.replaceState(null, "", `${location.pathname}${location.search}#${id}`);
}

export function renderLead(): void {
  const view = S.campaign, title = view?.campaign.title || "A new campaign";
  document.title = `${title} · boostwright`;
  const stand = view?.campaign.stand.name;
  fill(byId("job"), h("b", {}, title), h("span", {}, stand ? ` · ${stand}` : ""));
  const { compare } = S;
  byId("kick").textContent = view?.state === "ready" ? `Back-to-back test: ${view.campaign.baseline} (A) against ${view.campaign.candidate} (B)` : "";
  fill(byId("h-top"), compare ? S.dirty ? h("s", {}, compare.result.headline) : coloured(compare.result.headline)
    : S.working ? "Comparing the pulls …" : view?.state === "ready" ? "No verdict yet." : measuredSay());
  fill(byId("sub"), compare ? compare.result.sentence : view?.state === "empty" ? "Drop the logs of a back-to-back test below; the page asks for what only you know and writes it as campaign.toml into this folder." : "");
}

export function renderAnswers(): void { for (const question of asked()) byId(`ans-${question.id}`).textContent = question.answer(); }

export function renderHand(): void {
  const hand = byId("hand"), all = readings();
  hand.hidden = all.length === 0;
  document.body.classList.toggle("nohand", hand.hidden);
  if (hand.hidden) return;
  const first = all[0]!, last = all.at(-1)!, place = (n: number): string => `${100 * (Math.min(Math.max(n, first), last) - first) / (last - first)}%`;
  const segs = h("div", { class: "segs", "aria-hidden": "true" }), marks = h("div", { class: "ticks", "aria-hidden": "true" });
  for (const stretch of S.compare?.result.stretches ?? []) {
    const seg = h("i", { class: { "gain shown": "p", "loss shown": "m" }[stretch.state] ?? "o" });
    seg.style.width = `${parseFloat(place(stretch.to_rpm)) - parseFloat(place(stretch.from_rpm))}%`;
    segs.append(seg);
  }
  for (const n of ticks(first, last, Math.max(3, Math.min(9, Math.floor(innerWidth / 130))))) { const mark = h("span", {}, axisNumber(n)); mark.style.left = place(n); marks.append(mark); }
  const slider = h("input", { type: "range", id: "speed", min: first, max: last, step: 10, value: String(speed()), "aria-label": "Engine speed", oninput: () => setPin(Number(slider.value)) });
  fill(hand, h("div", { class: "track" }, segs, slider, marks), h("p", { class: "now", id: "now" }));
  followHand();
}

export function followHand(): void {
  const slider = document.getElementById("speed") as HTMLInputElement | null, row = compareRow();
  if (!slider) return;
  const at = rpm(speed());
  slider.value = String(speed());
  if (!row || !S.compare) { slider.setAttribute("aria-valuetext", at); fill(byId("now"), h("span", {}, "in hand", h("b", {}, at))); return; }
  const { result, page } = S.compare, words = gainWords();
  slider.setAttribute("aria-valuetext", `${at}: gain ${words}, ${row.state}`);
  fill(byId("now"), h("span", {}, "in hand", h("b", {}, at)),
    h("span", {}, `${result.baseline} → ${result.candidate}`, h("b", {}, `${row.baseline} → ${row.candidate}${NB}${page.unit}`)),
    h("span", { class: row.state === "gain shown" ? "gain" : row.state === "loss shown" ? "loss" : "" }, row.state, h("b", {}, words)));
}

export function markCurrent(): void {
  const all = asked();
  let current = all.filter(question => byId(question.id).getBoundingClientRect().top < 220).at(-1)?.id;
  if (innerHeight + scrollY > document.body.scrollHeight - 4) current = all.at(-1)?.id;
  for (const link of byId("rail").querySelectorAll("a")) {
    if (link.getAttribute("href") === `#${current}`) link.setAttribute("aria-current", "location"); else link.removeAttribute("aria-current");
  }
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
  if (!far) Figure.redraw();
}

const KEYS: [string, string][] = [["1 … 7", "go to a question"], [", .", "speed down, up by 50 rev/min"], ["[ ]", "previous, next turning point: ends, band edges, sign change, best"], ["f", "read from 2 m"], ["t", "light or dark"], ["?", "this list"]];
export function tools(): void {
  const dialog = byId("keys") as HTMLDialogElement;
  const single = h("input", { type: "checkbox", id: "keys-on", checked: kept.get("boostwright-keys") !== "off", onchange: () => kept.set("boostwright-keys", single.checked ? "on" : "off") });
  fill(dialog, h("h2", { id: "keys-h" }, "Keys"), h("dl", {}, KEYS.map(([keys, words]) => h("div", {}, h("dt", {}, keys.split(" ").map(k => k === "…" ? " … " : [h("kbd", {}, k), " "])), h("dd", {}, words)))),
    h("label", { class: "sw" }, single, " Single keys act"), h("form", { method: "dialog" }, h("button", { class: "main" }, "Close")));
  byId("b-keys").addEventListener("click", () => dialog.showModal());
  byId("b-theme").addEventListener("click", turnTheme);
  byId("b-far").addEventListener("click", turnFar);
  byId("b-print").addEventListener("click", () => print());
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
  const question = asked().find(q => String(q.n) === event.key), stops = S.compare?.page.turning_points_rpm ?? [], n = speed();
  if (question) goTo(question.id);
  else if (event.key === ",") setPin(n - 50);
  else if (event.key === ".") setPin(n + 50);
  else if (event.key === "]") setPin(stops.find(stop => stop > n + 4) ?? n);
  else if (event.key === "[") setPin(stops.findLast(stop => stop < n - 4) ?? n);
  else if (event.key === "f") turnFar();
  else if (event.key === "t") turnTheme();
  else if (event.key === "?") byId("b-keys").click();
  else return false;
  return true;
}

export function lost(words: string): void {
  say(words);
  fill(byId("h-top"), words);
  fill(byId("sub"), "Start it again in its terminal, then load this page again. Nothing that was saved is lost.");
}
