// Question 6: what gives first, in the setting of question 5, least margin first.
import { byId, fill, h } from "./dom";
import { isTurned, S } from "./store";

const FULL = 80; // percent of the bar's width at which 100 % of a limit stands

export function renderLimits(): void {
  const place = byId("limits-body"), page = S.whatIf?.page;
  if (!page) { fill(place, h("p", { class: "say" }, "No limit is known."), h("p", {}, "Limits follow from the build of a setup; name one in question 1.")); return; }
  const known = page.limits.filter(limit => limit.share_percent !== null), unknown = page.limits.filter(limit => limit.share_percent === null);
  fill(place, h("figure", { class: "fig" },
    h("figcaption", { class: "say" }, page.limits_headline),
    h("p", { class: "read" }, `${isTurned() ? "In the setting of question 5" : "As tested"}, setup ${S.whatIf!.setup}.`),
    h("div", { class: "tablewrap", tabindex: 0, role: "region", "aria-label": "Limits, scrolls sideways" },
      h("table", { class: "lims" }, h("caption", { class: "vh" }, "Limits, smallest margin first"),
        h("thead", {}, h("tr", {}, h("th", { scope: "col" }, "Part"), h("th", { scope: "col", class: "barh" }, h("span", {}, "0"), h("span", {}, "50"), h("span", {}, "100\u00a0% of limit")),
          ["Highest", "Limit", "Left", "At"].map(head => h("th", { scope: "col", class: "r" }, head)))),
        h("tbody", {}, known.map(limit => h("tr", {}, h("th", { scope: "row" }, limit.name), h("td", { class: "bar" }, bar(limit.share_percent!, limit.status === "over")),
          [limit.value, limit.limit].map(words => h("td", { class: "r" }, words)), h("td", { class: limit.status === "over" ? "r over" : "r" }, limit.left), h("td", { class: "r" }, limit.at)))))),
    unknown.length > 0 && h("details", { class: "more" }, h("summary", {}, `Not known: ${unknown.length} limits`),
      h("ul", { class: "rests" }, unknown.map(limit => h("li", {}, `${limit.name}${limit.needs.length ? `: give ${limit.needs.join(", ")}` : ""}`))))));
}

function bar(share: number, over: boolean): HTMLElement {
  const wide = `${Math.max(0, Math.min(share, 124)) * FULL / 100}%`;
  const line = h("i", { class: "line" }), mark = h("i", { class: "mk" });
  line.style.width = wide;
  mark.style.left = wide;
  const all = h("div", { class: "lb", "aria-hidden": "true" }, h("i", { class: "zone" }), line, mark);
  all.style.setProperty("--c", over ? "var(--limit)" : "var(--ink)");
  return all;
}

export const limitsAnswer = (): string => S.whatIf ? S.whatIf.page.limits_headline.replace(/ at [\d\u202f]+ rev\/min\.$/, "") : "No build is named";
