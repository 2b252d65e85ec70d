// The states of a figure: a sentence in the place of its verdict, the reason, and what can be done; never a box over it.
import type { Fault } from "./api";
import { byId, fill, h, type Child } from "./dom";
import { faultList } from "./measured";
import { loadCampaign, S, staleReason, studies, type Study } from "./store";

const left = (seconds: number | null | undefined): string => seconds === null || seconds === undefined ? "" : `: about ${seconds < 1 ? "1" : Math.round(seconds)}\u00a0s left`;

// How far long work is; the place is filled anew whenever more is told, the rest of the page is left alone.
export function working(study: Study<unknown>, words: string): HTMLElement {
  const place = h("div", { class: "slot work", "data-work": study.kind, "data-words": words, "aria-busy": "true" });
  fill(place, progress(study, words));
  return place;
}
function progress(study: Study<unknown>, words: string): Child {
  const { told } = study, since = told && told.elapsed_s >= 1 ? ` Working for ${Math.round(told.elapsed_s)}\u00a0s.` : "";
  return [
    h("p", { class: "say" }, `${words}${left(told?.left_s)} …`),
    h("p", { class: "read" }, `${told?.words ?? "Asking the server"}.${since}${study.view ? " The figure below is from before." : ""}`),
    h("progress", { max: 100, value: told?.percent ?? undefined, "aria-label": words }, told?.percent === null || told?.percent === undefined ? "" : `${told.percent} %`),
    h("div", { class: "acts big" }, h("button", { type: "button", class: "stop", onclick: () => study.stop() }, "Stop")),
  ];
}
export function followWork(): void {
  for (const study of Object.values(studies)) {
    for (const place of document.querySelectorAll<HTMLElement>(`[data-work="${study.kind}"]`)) {
      const bar = place.querySelector("progress"), { told } = study;
      if (!told) continue;
      const words = place.dataset.words!, fresh = h("div", {}, progress(study as Study<unknown>, words));
      place.querySelector(".say")!.replaceWith(fresh.querySelector(".say")!);
      place.querySelector(".read")!.replaceWith(fresh.querySelector(".read")!);
      if (bar) { if (told.percent === null) bar.removeAttribute("value"); else bar.value = told.percent; }
    }
  }
}

// What stands in place of a figure that is not there; nothing if it is.
export function absent(study: Study<unknown>, words: { working: string; none: string; why: Child }): Child {
  if (study.view) return null;
  const again = h("div", { class: "acts big" }, h("button", { type: "button", onclick: () => void study.load() }, study.stopped ? "Work it out" : "Try again"));
  if (study.working) return working(study, words.working);
  if (study.stopped) return h("div", { class: "slot" }, h("p", { class: "say" }, words.none), h("p", {}, "It was stopped before its answer."), again);
  if (study.faults.length) return h("div", { class: "slot fault", role: "alert" }, h("p", { class: "say" }, words.none), faultList(study.faults), again);
  return h("div", { class: "slot" }, h("p", { class: "say" }, words.none), h("p", {}, words.why));
}

export const againButton = (): HTMLElement => h("button", { type: "button", class: "main again", onclick: () => void loadCampaign() }, "Work it out again");

// On top of a figure that is there: it is being made anew, was stopped, or was made before something changed.
export function above(study: Study<unknown> | null, words: string): Child {
  if (study?.working) return working(study, words);
  const stale = staleReason();
  if (stale) return h("div", { class: "slot stale" }, h("p", { class: "read why-stale" }, stale),
    !S.dirty && h("div", { class: "acts big" }, againButton()));
  if (study?.stopped) return h("div", { class: "slot" }, h("p", { class: "read" }, "The last work was stopped; this is from before."),
    h("div", { class: "acts big" }, h("button", { type: "button", onclick: () => void study.load() }, "Work it out")));
  return null;
}
export const verdict = (words: Child): Child => staleReason() ? h("s", {}, words) : words;

export function renderLost(): void {
  const place = byId("lost");
  place.hidden = !S.lost;
  fill(place, S.lost && [h("p", {}, h("b", {}, "The server does not answer.")), h("p", {}, "Start boostwright serve again in its terminal; this page then goes on by itself. What it shows stays; nothing that was saved is lost.")]);
}
export const oneFault = (faults: Fault[], words: string): HTMLElement => h("div", { class: "slot fault", role: "alert" }, h("p", { class: "say" }, words), faultList(faults));
