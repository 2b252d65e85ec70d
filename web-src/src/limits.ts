// Question 6: what gives first, in the setting of question 5, least margin first.
import { actions, csvOf } from "./actions";
import type { Limit } from "./api";
import { byId, fill, h } from "./dom";
import { verdict, above } from "./state";
import { isTurned, S, speed } from "./store";

const FULL = 80; // percent of the bar's width at which 100 % of a limit stands
const place100 = (share: number): string => `${Math.max(0, Math.min(share, 124)) * FULL / 100}%`;

export function renderLimits(): void {
  const place = byId("limits-body"), page = S.whatIf?.page;
  if (!page) { fill(place, h("div", { class: "slot" }, h("p", { class: "say" }, "No limit is known."), h("p", {}, "Limits follow from the build of a setup; name one in question 1."))); return; }
  const known = page.limits.filter(limit => limit.share_percent !== null), unknown = page.limits.filter(limit => limit.share_percent === null);
  fill(place, above(null, ""), h("figure", { class: "fig" },
    h("figcaption", { class: "say", id: "limits-say" }, verdict(page.limits_headline)),
    h("p", { class: "read" }, `${isTurned() ? "In the setting of question 5" : "As tested"}, setup ${S.whatIf!.setup}.`),
    h("div", { class: "tablewrap", tabindex: 0, role: "region", "aria-label": "Limits, scrolls sideways" },
      h("table", { class: "lims" }, h("caption", { class: "vh" }, "Limits, smallest margin first"),
        h("thead", {}, h("tr", {}, h("th", { scope: "col" }, "Part"), h("th", { scope: "col", class: "barh" }, h("span", {}, "0"), h("span", {}, "50"), h("span", {}, "100\u00a0% of limit")),
          ["Highest", "Limit", "Left", "At"].map(head => h("th", { scope: "col", class: "r" }, head)))),
        h("tbody", {}, known.map(limit => h("tr", { "data-status": limit.status }, h("th", { scope: "row" }, limit.name), h("td", { class: "bar" }, bar(limit)),
          [limit.value, limit.limit].map(words => h("td", { class: "r" }, words)), h("td", { class: limit.status === "over" ? "r over" : "r" }, limit.left, limit.status === "may give" && h("small", { class: "warn" }, h("br"), "may give")), h("td", { class: "r" }, limit.at)))))),
    actions("limits", { csv: limitsCsv })),
    unknown.length > 0 && h("details", { class: "more" }, h("summary", {}, `Not known: ${unknown.length} limits`),
      h("ul", { class: "rests" }, unknown.map(limit => h("li", {}, `${limit.name}${limit.needs.length ? `: give ${limit.needs.join(", ")}` : ""}`)))));
  followLimits();
}

function bar(limit: Limit): HTMLElement {
  const piece = (name: string): HTMLElement => h("i", { class: name }), line = piece("line"), box = piece("box"), mark = piece("mk");
  line.style.width = mark.style.left = place100(limit.share_percent!);
  box.style.left = place100(limit.lower_percent!);
  box.style.width = `${Math.max(0.6, parseFloat(place100(limit.upper_percent!)) - parseFloat(place100(limit.lower_percent!)))}%`;
  const all = h("div", { class: "lb", "aria-hidden": "true" }, piece("zone"), line, box, mark, piece("hd"));
  all.style.setProperty("--c", limit.status === "over" ? "var(--limit)" : "var(--ink)");
  return all;
}

// The triangle stands at the value of the speed in hand.
export function followLimits(): void {
  const page = S.whatIf?.page;
  if (!page) return;
  const X = page.engine_speed_rpm, n = speed(), j = Math.min(Math.max(X.findIndex(x => x > n) - 1, 0), X.length - 2), share = (n - X[j]!) / (X[j + 1]! - X[j]!);
  const known = page.limits.filter(limit => limit.share_percent !== null);
  byId("limits-body").querySelectorAll<HTMLElement>(".hd").forEach((mark, i) => {
    const a = known[i]?.shares_percent[j], b = known[i]?.shares_percent[j + 1];
    mark.hidden = typeof a !== "number" || typeof b !== "number" || share < 0 || share > 1;
    if (!mark.hidden) mark.style.left = place100(a! + (b! - a!) * share);
  });
}
const limitsCsv = (): string => csvOf([["part", "highest", "limit", "share_percent", "lower_percent", "upper_percent", "at", "status"], ...S.whatIf!.page.limits.map(l => [l.name, l.value, l.limit, l.share_percent, l.lower_percent, l.upper_percent, l.at, l.status])]);

export const limitsAnswer = (): string => S.whatIf ? S.whatIf.page.limits_headline.replace(/ at [\d\u202f]+ rev\/min\.$/, "").replace("No known limit gives. ", "") : "No build is named";
