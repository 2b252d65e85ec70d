// Question 7: the sentence that may be claimed, or why there is none, and the report.
import { copy } from "./actions";
import { reportAddress } from "./api";
import { byId, fill, h, type Child } from "./dom";
import { axisNumber } from "./plot";
import { oneFault, working } from "./state";
import { compared, paper, published, S, staleReason, studies } from "./store";

export function renderClaim(): void {
  const focused = document.activeElement?.closest("#claim-body") ? document.activeElement.id : "";
  render();
  if (focused) document.getElementById(focused)?.focus();
}

function render(): void {
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

const KINDS: [string, string, string][] = [["pdf", "Report as PDF", "report"], ["html", "Report as one web page", "report-html"], ["zip", "Bundle that verifies", "bundle"]];

function buttons(reason: string): HTMLElement {
  const study = studies.publish, off = reason !== "", kept = off || study.working;
  const sizes = h("select", { id: "paper", disabled: kept, onchange: event => { S.paper = (event.target as HTMLSelectElement).value; study.clear(); } }, [["a4", "A4"], ["letter", "Letter"]].map(([value, words]) => h("option", { value }, words)));
  sizes.value = paper();
  return h("div", {},
    h("div", { class: "acts big" },
      KINDS.map(([kind, words, id]) => h("button", { type: "button", class: kind === "pdf" ? "main" : undefined, id, disabled: kept, onclick: () => void download(kind) }, words)),
      h("button", { type: "button", id: "copy-claim", disabled: off, onclick: () => void copy(compared()!.page.claim.sentence, "Sentence copied") }, "Copy sentence"),
      h("label", { class: "paper" }, "Paper ", sizes)),
    off ? h("p", { class: "kick", id: "off-because" }, reason) : made());
}

// How far the report is, what was wrong with it, or what was made.
function made(): Child {
  const { view, working: isUnderWay, stopped, faults } = studies.publish;
  if (isUnderWay) return working(studies.publish, "Writing the report");
  if (faults.length) return oneFault(faults, "The report cannot be written.");
  if (stopped) return h("p", { class: "kick", id: "published" }, "The report was stopped before it was done; nothing is kept of it.");
  if (!view) return h("p", { class: "kick", id: "published" }, "Written as boostwright publish writes it: the report with causes and limits; the bundle holds it with every log, so that anybody can make it again.");
  const sizes = KINDS.map(([kind]) => `${kind === "zip" ? "bundle" : kind.toUpperCase()} ${axisNumber(Math.ceil(view.file_bytes[kind]! / 1000))}\u00a0kB`).join(", ");
  return h("p", { class: "kick", id: "published" }, h("b", {}, `Check code ${view.check_code}. `), `${view.standing} ${sizes}. The bundle is not signed; boostwright verify claim-${S.quantity}.zip makes all of it again.`);
}

async function download(kind: string): Promise<void> {
  await studies.publish.load();
  if (!studies.publish.view || studies.publish.stopped || studies.publish.working) return;
  const link = h("a", { href: reportAddress({ ...published(), kind }), download: "" });
  document.body.append(link);
  link.click();
  link.remove();
}

export function claimAnswer(): string {
  const claim = compared()?.page.claim;
  if (!claim) return "Nothing yet";
  return claim.is_allowed ? /at least [\d.]+\u00a0%/.exec(claim.sentence)?.[0].replace("at", "At") ?? "" : "No claim";
}
