// Question 6: what gives first, in the setting of question 5, least margin first.
import { actions, csvOf, table } from "./actions";
import type { Limit, LimitsView } from "./api";
import { byId, fill, h, type Child } from "./dom";
import { above, oneFault, verdict } from "./state";
import { isTurned, S, speed, studies } from "./store";

const FULL = 80; // percent of the bar's width at which 100 % of a limit stands
const place100 = (share: number): string => `${Math.max(0, Math.min(share, 124)) * FULL / 100}%`;

// As tested, the study of the machine that fits the pulls speaks; in another setting, the what-if.
const chances = () => { const view = studies.limits.view; return view && !isTurned() && view.page.setup === S.setup ? view.page : null; };
const shown = () => chances() ?? S.whatIf?.page;

export function renderLimits(): void {
  const place = byId("limits-body"), page = shown(), study = chances(), wants = isTurned() ? null : studies.limits;
  if (!page) { fill(place, h("div", { class: "slot" }, h("p", { class: "say" }, "No limit is known."), h("p", {}, "Limits follow from the build of a setup; name one in question 1."))); return; }
  const known = page.limits.filter(limit => limit.share_percent !== null), unknown = page.limits.filter(limit => limit.share_percent === null);
  fill(place, above(wants, "Working out the chance of each limit"), wants && wants.faults.length > 0 && oneFault(wants.faults, "The chances are not known."),
    h("figure", { class: "fig" },
      h("figcaption", { class: "say", id: "limits-say" }, verdict(page.limits_headline)),
      h("p", { class: "read", id: "rd-limits" }, study ? `As tested, setup ${study.setup}. ${study.chance}` : `${isTurned() ? "In the setting of question 5" : "As tested"}, setup ${S.setup}.${studies.limits.view && isTurned() ? " The chances are those of the tested setting and are left out." : ""}`),
      h("div", { class: "tablewrap", tabindex: 0, role: "region", "aria-label": "Limits, scrolls sideways" },
        h("table", { class: study ? "lims chances" : "lims" }, h("caption", { class: "vh" }, study ? "Limits with the chance that each is exceeded, likeliest first" : "Limits, smallest margin first"),
          h("thead", {}, h("tr", {}, h("th", { scope: "col" }, "Part"), h("th", { scope: "col", class: "barh" }, h("span", {}, "0"), h("span", {}, "50"), h("span", {}, "100\u00a0% of limit")),
            ["Highest", "Limit", "Left", "At", ...(study ? ["Chance"] : [])].map(head => h("th", { scope: "col", class: "r" }, head)))),
          h("tbody", {}, known.map(limit => h("tr", { "data-status": limit.status }, h("th", { scope: "row" }, limit.name), h("td", { class: "bar" }, bar(limit)),
            [limit.value, limit.limit].map(words => h("td", { class: "r" }, words)), h("td", { class: limit.status === "over" ? "r over" : "r" }, limit.left, limit.status === "may give" && h("small", { class: "warn" }, h("br"), "may give")), h("td", { class: "r" }, limit.at), study && h("td", { class: "r" }, limit.chance)))))),
      actions("limits", { csv: limitsCsv })),
    study && room(study),
    unknown.length > 0 && h("details", { class: "more" }, h("summary", {}, `Not known: ${unknown.length} limits`),
      h("ul", { class: "rests" }, unknown.map(limit => h("li", {}, `${limit.name}${limit.needs.length ? `: give ${limit.needs.join(", ")}` : ""}`)))));
  followLimits();
}

// One thing changed at a time, with what it costs.
function room(page: LimitsView["page"]): Child {
  const rests = h("ul", { class: "rests" }, page.notes.map(note => h("li", {}, note)), page.warnings.map(warning => h("li", {}, warning)));
  if (!page.changes.length) return [h("p", { class: "read", id: "room" }, page.room), rests];
  return [h("h3", { id: "room" }, page.room), h("p", { class: "read" }, page.changes_note),
    h("div", { class: "ways" }, table("What would give it room", [["Limit"], ["Change"], ["Now"], ["Needed"], ["Power"], ["Enough in"]],
      page.changes.map(c => [c.limit, c.is_enough ? h("b", {}, c.change) : c.change, c.present, c.needed, c.power, c.enough]))), rests];
}

function bar(limit: Limit): HTMLElement {
  const piece = (name: string): HTMLElement => h("i", { class: name }), line = piece("line"), box = piece("box"), mark = piece("mk");
  line.style.width = mark.style.left = place100(limit.share_percent!);
  box.style.left = place100(limit.lower_percent!);
  box.style.width = `${Math.max(0.6, parseFloat(place100(limit.upper_percent ?? 124)) - parseFloat(place100(limit.lower_percent!)))}%`;
  const all = h("div", { class: "lb", "aria-hidden": "true" }, piece("zone"), line, box, mark, piece("hd"));
  all.style.setProperty("--c", limit.status === "over" ? "var(--limit)" : "var(--ink)");
  return all;
}

// The triangle stands at the value of the speed in hand.
export function followLimits(): void {
  const page = shown();
  if (!page) return;
  const X = page.engine_speed_rpm, n = speed(), j = Math.min(Math.max(X.findIndex(x => x > n) - 1, 0), X.length - 2), share = (n - X[j]!) / (X[j + 1]! - X[j]!);
  const known = page.limits.filter(limit => limit.share_percent !== null);
  byId("limits-body").querySelectorAll<HTMLElement>(".hd").forEach((mark, i) => {
    const a = known[i]?.shares_percent[j], b = known[i]?.shares_percent[j + 1];
    mark.hidden = typeof a !== "number" || typeof b !== "number" || share < 0 || share > 1;
    if (!mark.hidden) mark.style.left = place100(a! + (b! - a!) * share);
  });
}
const limitsCsv = (): string => csvOf([["part", "highest", "limit", "share_percent", "lower_percent", "upper_percent", "at", "status", "chance"], ...shown()!.limits.map(l => [l.name, l.value, l.limit, l.share_percent, l.lower_percent, l.upper_percent, l.at, l.status, l.chance])]);

export const limitsAnswer = (): string => shown()?.limits_headline.replace(/\s\d+\slimits?\s(is|are)\snot\sknown\.$/, "").replace(/ at [\d\u202f]+ rev\/min\.$/, "").replace("No known limit gives. ", "") ?? "No build is named";
