import "./dpr";
import "uplot/dist/uPlot.min.css";
import "./css/tokens.css";
import "./css/page.css";
import "./css/print.css";
import { followZoom } from "./actions";
import { Refusal } from "./api";
import { renderClaim } from "./claim";
import { byId, fill } from "./dom";
import { renderCarried } from "./carried";
import { drawElsewhere, followElsewhere, renderElsewhere } from "./elsewhere";
import { drawGain, followGain, renderGain } from "./gain";
import { followLimits, renderLimits } from "./limits";
import { renderMeasured } from "./measured";
import { renderNext } from "./next";
import { followHand, frame, markCurrent, renderAnswers, renderHand, renderLead, tools } from "./page";
import { followWork, renderLost } from "./state";
import { loadCampaign, lose, on, S, watch, type Kind } from "./store";
import { drawWhy, followWhy, renderWhy } from "./why";

on(kinds => {
  const has = (...any: Kind[]): boolean => any.some(kind => kinds.has(kind));
  if (has("lost")) renderLost();
  if (has("campaign", "editing") || (has("compare") && !document.getElementById("edit-form"))) renderMeasured();
  if (has("campaign", "compare", "stale")) { renderGain(); renderLead(); }
  if (has("campaign", "compare", "stale", "publish")) renderClaim();
  if (has("campaign", "plan", "stale") || (has("compare") && !S.dirty)) renderNext();
  if (has("campaign", "explain", "compare", "stale")) renderWhy();
  if (has("campaign", "whatif", "map", "stale", "explain")) renderElsewhere();
  if (has("campaign", "whatif", "stale", "explain", "carry")) renderCarried();
  if (has("campaign", "whatif", "stale", "limits")) renderLimits();
  if (has("campaign", "compare") || (has("whatif") && !document.getElementById("speed"))) renderHand();
  if (has("zoom")) { drawGain(); drawWhy(); drawElsewhere(); followZoom(); }
  if (has("campaign", "compare", "whatif", "speed", "stale")) { followGain(); followHand(); }
  if (has("speed") && !has("explain")) followWhy();
  if (has("speed") && !has("whatif")) { followElsewhere(); followLimits(); }
  if (has("told")) followWork();
  renderAnswers();
});

// A link to a question holds it in place while the sections above it fill, until the reader moves.
let landing = location.hash.slice(1);
function land(): void { if (landing) document.getElementById(landing)?.scrollIntoView({ behavior: "instant" }); }
for (const kind of ["wheel", "pointerdown", "keydown", "touchstart"]) addEventListener(kind, () => { landing = ""; }, { passive: true });

frame();
tools();
addEventListener("scroll", markCurrent, { passive: true });
new ResizeObserver(() => { land(); markCurrent(); }).observe(document.body); // told after the layout, which need not be forced
const fonts = Promise.all(['400 14px "BW Sans"', '600 14px "BW Sans"', '500 22px "BW Serif"'].map(font => document.fonts.load(font)));
try { await loadCampaign(fonts); } catch (wrong) {
  if (!(wrong instanceof Refusal)) throw wrong;
  const said = wrong.faults[0]?.problem ?? "The server does not answer";
  fill(byId("h-top"), `${said}.`);
  fill(byId("sub"), wrong.status === 0 ? "Nothing that was saved is lost." : wrong.faults[0]?.remedy);
  if (wrong.status === 0) lose();
}
watch();
land();
document.documentElement.dataset.ready = "1";
