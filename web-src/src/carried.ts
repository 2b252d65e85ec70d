// Question 5, on other builds: the tested gain carried to the builds of the folder that no setup uses, when it is asked for.
import { table } from "./actions";
import { fill, h, type Child } from "./dom";
import { above, oneFault, working } from "./state";
import { S, studies } from "./store";

const others = (): string[] => { const c = S.campaign; return c ? c.builds.filter(build => !c.campaign.setups.some(setup => setup.build === build)) : []; };

let drawn = "";
export function renderCarried(): void {
  const place = document.getElementById("carried"), study = studies.carry, builds = others();
  if (!place) { drawn = ""; return; }
  const state = JSON.stringify([builds, study.working, study.stopped, study.faults, study.view, studies.explain.view !== null, S.changedAt, S.dirty]);
  if (drawn === (drawn = state) && place.childNodes.length) return; // a slider that moves has nothing to say here
  const names = builds.map(build => build.replace(/^builds\/|\.toml$/g, "")).join(", "), off = studies.explain.view ? "" : "Off because: the gain is not explained yet.";
  fill(place, builds.length > 0 && [
    h("h3", { id: "carried-h" }, "On other builds"),
    study.working ? working(study, "Carrying the gain") : study.faults.length ? oneFault(study.faults, "The gain cannot be carried.") : study.view ? [above(null, ""), carried()] : [
      h("p", { class: "read" }, `Builds that no setup uses: ${names}. ${study.stopped ? "The last work was stopped." : "The tested gain can be carried there by the machine that fits the pulls."}`),
      h("div", { class: "acts big" }, h("button", { type: "button", id: "carry", disabled: off !== "", onclick: () => void study.load() }, "Carry the gain there")),
      off && h("p", { class: "kick" }, off)]]);
}

function carried(): Child {
  const { page } = studies.carry.view!;
  return [
    page.builds.length > 0 && h("div", { class: "ways" }, table("The gain on other builds", [["Build"], ["Gain in power"], ["Air mass"], ["Boost there"], ["Power there"], ["Against the test"]],
      page.builds.map(b => [b.build, [h("b", {}, b.gain), h("br"), h("small", {}, b.power_gain)], b.air_gain, b.boost, b.power, h("span", { class: b.reach === "far" ? "warn" : "", "data-reach": b.reach }, b.against)]))),
    h("ul", { class: "rests" },
      page.builds.map(b => h("li", {}, b.sentence, " ", b.distance, b.notes.map(note => ` ${note}`))),
      page.refused.map(b => h("li", { class: "refused" }, h("b", {}, `${b.build}: not carried. `), b.said)),
      page.builds.length > 0 && h("li", {}, `${page.tested} Means over the range of each build, with 95\u00a0% intervals; boost and power with ${S.campaign!.campaign.baseline}. Test before quoting what lies outside.`),
      page.warnings.map(warning => h("li", {}, warning)))];
}
