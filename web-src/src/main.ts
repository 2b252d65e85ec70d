import "./dpr";
import "uplot/dist/uPlot.min.css";
import "./css/tokens.css";
import "./css/page.css";
import "./css/print.css";
import { Refusal } from "./api";
import { renderClaim } from "./claim";
import { followElsewhere, renderElsewhere } from "./elsewhere";
import { followGain, renderGain } from "./gain";
import { renderLimits } from "./limits";
import { renderMeasured } from "./measured";
import { followHand, frame, lost, markCurrent, renderAnswers, renderHand, renderLead, tools } from "./page";
import { loadCampaign, on, S } from "./store";

let commands = "";
on(kinds => {
  const known = S.campaign?.commands.join() ?? "";
  if (known !== commands) { commands = known; frame(); kinds.add("campaign").add("compare").add("whatif"); }
  const has = (...any: Parameters<typeof kinds.has>[0][]): boolean => any.some(kind => kinds.has(kind));
  if (has("campaign", "editing") || (has("compare") && !document.getElementById("edit-form"))) renderMeasured();
  if (has("campaign", "compare")) { renderGain(); renderClaim(); renderLead(); }
  if (has("campaign", "whatif", "map")) { renderElsewhere(); renderLimits(); }
  if (has("campaign", "compare") || (has("whatif") && !document.getElementById("speed"))) renderHand();
  if (has("campaign", "compare", "whatif", "speed")) { followGain(); followHand(); }
  if (has("speed") && !has("whatif")) followElsewhere();
  renderAnswers();
  if (has("campaign", "compare", "whatif", "map")) land();
  markCurrent();
});

// A link to a question holds it in place while the sections above it fill, until the reader moves.
let landing = location.hash.slice(1);
function land(): void { if (landing) document.getElementById(landing)?.scrollIntoView({ behavior: "instant" }); }
for (const kind of ["wheel", "pointerdown", "keydown", "touchstart"]) addEventListener(kind, () => { landing = ""; }, { passive: true });

frame();
tools();
addEventListener("scroll", markCurrent, { passive: true });
await Promise.all(['400 14px "BW Sans"', '600 14px "BW Sans"', '500 22px "BW Serif"'].map(font => document.fonts.load(font)));
try { await loadCampaign(); } catch (wrong) {
  if (!(wrong instanceof Refusal)) throw wrong;
  lost(wrong.faults[0]?.said ?? "The server does not answer.");
}
land();
document.documentElement.dataset.ready = "1";
