// Question 7: the sentence that may be claimed, or why there is none, and the report.
import { copy } from "./actions";
import { reportAddress } from "./api";
import { byId, fill, h } from "./dom";
import { axisNumber } from "./plot";
import { compared, S, staleReason } from "./store";

export function renderClaim(): void {
  const place = byId("claim-body"), view = compared();
  if (!view) { fill(place, h("p", { class: "claim" }, "Nothing may be claimed yet."), buttons("Off because: there is no verdict.")); return; }
  const { result, page } = view, { claim } = page, stale = staleReason();
  fill(place,
    h("blockquote", { class: "claim", id: "claim-text" }, stale ? h("s", {}, claim.sentence) : claim.sentence),
    buttons(S.dirty ? "Off because: changes are not saved yet." : stale ? "Off because: the folder has changed since." : claim.is_allowed ? "" : `Off because: ${claim.sentence.charAt(0).toLowerCase()}${claim.sentence.slice(1)}`),
    h("h3", {}, "The sentence rests on"),
    h("ul", { class: "rests" },
      h("li", {}, result.sentence),
      h("li", {}, `Grade ${result.grade}${result.grade_reason ? `: ${result.grade_reason}` : ""}.`),
      h("li", {}, result.correction === "none" ? "Nothing is restated to a reference atmosphere." : `Restated by ${result.correction}, once, before anything else.`),
      h("li", {}, `What the ± is made of: ${Object.entries(result.uncertainty_shares).map(([name, share]) => `${name} ${axisNumber(100 * share)}\u00a0%`).join(", ")}.`),
      h("li", {}, "Nothing beyond this engine, this drive, this fuel and this range of speed.")));
}

function buttons(reason: string): HTMLElement {
  const off = reason !== "";
  return h("div", {}, h("div", { class: "acts big" },
    h("button", { type: "button", id: "copy-claim", disabled: off, onclick: () => void copy(compared()!.page.claim.sentence, "Sentence copied") }, "Copy sentence"),
    h("button", { type: "button", class: "main", id: "report", disabled: off, onclick: () => { const link = h("a", { href: reportAddress(S.quantity), download: `report-${S.quantity}.html` }); document.body.append(link); link.click(); link.remove(); } }, "Download report")),
    off && h("p", { class: "kick", id: "off-because" }, reason));
}

export function claimAnswer(): string {
  const claim = compared()?.page.claim;
  if (!claim) return "Nothing yet";
  return claim.is_allowed ? /at least [\d.]+\u00a0%/.exec(claim.sentence)?.[0].replace("at", "At") ?? "" : "No claim";
}
