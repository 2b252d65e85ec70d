// One state for the whole page: what the server said, the speed in hand, what was turned. It mirrors itself into the address.
import { api, query, Refusal, study, type CampaignView, type CarryView, type CompareView, type ExplainView, type Fault, type LimitsView, type MapView, type PlanView, type PublishView, type Told, type WhatIfView } from "./api";

export type Kind = "campaign" | "compare" | "plan" | "explain" | "carry" | "limits" | "publish" | "whatif" | "map" | "speed" | "turned" | "zoom" | "editing" | "told" | "stale" | "lost";
const address = new URLSearchParams(location.search);
const asNumber = (name: string): number | null => { const said = address.get(name); const n = Number(said); return said !== null && Number.isFinite(n) ? n : null; };
const SLIDERS = ["drive_ratio", "ambient_pressure_kpa", "ambient_pressure_inhg", "air_temperature_degC", "air_temperature_degF"];
const PLAN = ["gain_percent", "pull_min", "change_min", "hours_left"];
const numbers = (names: string[]): Record<string, number> => Object.fromEntries(names.map(k => [k, asNumber(k)]).filter(([, v]) => v !== null)) as Record<string, number>;
const zoomed = (): [number, number] | null => { const [low, high] = (address.get("zoom") ?? "").split("-").map(Number); return low && high && high > low ? [low, high] : null; };

// Long work as the page sees it: what came back, or how far it is, or why it is not there.
export class Study<T> {
  view: T | null = null;
  faults: Fault[] = [];
  told: Told | null = null;
  working = false;
  stopped = false;
  private holding: AbortController | null = null;

  constructor(readonly kind: Kind, readonly path: () => string) {}

  async load(): Promise<void> {
    this.holding?.abort();
    const mine = this.holding = new AbortController();
    this.working = true;
    this.stopped = false;
    this.told = null;
    emit(this.kind);
    try {
      const view = await study<T>(this.path(), told => { if (mine === this.holding) { this.told = told; emit("told"); } }, mine.signal);
      if (mine !== this.holding) return;
      this.view = view;
      this.faults = [];
    } catch (wrong) {
      if (mine !== this.holding) return;
      if (mine.signal.aborted) this.stopped = true;
      else if (wrong instanceof Refusal) { if (wrong.status === 0) lose(); else { this.faults = wrong.faults; this.view = null; } }
      else throw wrong;
    }
    this.working = false;
    emit(this.kind);
    emit("speed");
  }

  // The work is let go of; an older result stays.
  stop(): void { this.holding?.abort(); }
  clear(): void { const held = this.holding; this.holding = null; held?.abort(); this.view = null; this.faults = []; this.told = null; this.working = this.stopped = false; emit(this.kind); }
}

export const S = {
  campaign: null as CampaignView | null,
  whatIf: null as WhatIfView | null,
  whatIfFaults: [] as Fault[],
  map: null as MapView | null,
  quantity: address.get("quantity") ?? "power",
  units: address.get("units") === "us" || address.get("units") === "metric" ? address.get("units")! : "",
  setup: address.get("setup") ?? "",
  asked: numbers(SLIDERS),
  fuel: address.get("fuel") ?? "",
  plan: numbers(PLAN),
  paper: "", // of the report; that of the units if it is not said
  pin: asNumber("n"),
  hover: null as number | null,
  zoom: zoomed(),
  off: new Set((address.get("off") ?? "").split(",").filter(Boolean)),
  editing: false,
  dirty: false,
  changedAt: null as number | null, // when the folder was seen to differ from what the page shows
  lost: false,
};
export const studies = {
  compare: new Study<CompareView>("compare", () => `/api/compare${query({ quantity: S.quantity, units: S.units })}`),
  plan: new Study<PlanView>("plan", () => `/api/plan${query({ quantity: S.quantity, ...S.plan })}`),
  explain: new Study<ExplainView>("explain", () => `/api/explain${query({ units: S.units })}`),
  carry: new Study<CarryView>("carry", () => `/api/carry${query({ units: S.units })}`),
  limits: new Study<LimitsView>("limits", () => `/api/limits${query({ setup: S.setup, units: S.units })}`),
  publish: new Study<PublishView>("publish", () => `/api/publish${query(published())}`),
};
export const paper = (): string => S.paper || (units() === "us" ? "letter" : "a4");
export const published = (): Record<string, string> => ({ quantity: S.quantity, units: S.units, paper: paper() });
export const compared = (): CompareView | null => studies.compare.view;
export const units = (): string => S.units || S.campaign?.campaign.units || "metric";

const listeners = new Set<(kinds: Set<Kind>) => void>();
let waiting = new Set<Kind>();
let queued = false;
export const on = (listener: (kinds: Set<Kind>) => void): void => { listeners.add(listener); };
export function emit(kind: Kind): void {
  waiting.add(kind);
  if (queued) return;
  queued = true;
  requestAnimationFrame(() => {
    queued = false;
    const kinds = waiting;
    waiting = new Set();
    for (const listener of listeners) listener(kinds);
    keepAddressSoon();
  });
}

// The hand stands on the readings that the server has put into words: every tenth rev/min.
export const readings = (): number[] => compared()?.page.readings_rpm ?? S.whatIf?.page.readings_rpm ?? [];
const clamped = (n: number): number => { const all = readings(); return Math.min(Math.max(Math.round(n / 10) * 10, all[0] ?? n), all.at(-1) ?? n); };
export const speed = (): number => clamped(S.hover ?? S.pin ?? defaultSpeed());
const defaultSpeed = (): number => { const all = readings(); return all[Math.floor(all.length * 0.72)] ?? 0; };
export const setPin = (n: number): void => { S.pin = clamped(n); S.hover = null; emit("speed"); };
export const setHover = (n: number | null): void => { S.hover = n === null ? null : clamped(n); emit("speed"); };
export const compareRow = () => { const c = compared(); return c ? c.page.readings[c.page.readings_rpm.indexOf(speed())] ?? null : null; };
export const whatIfIndex = (): number => S.whatIf ? S.whatIf.page.readings_rpm.indexOf(speed()) : -1;
export const isTurned = (): boolean => Object.keys(S.asked).length > 0 || S.fuel !== "";

// Zoom is along the engine speed and the same in every figure over it; nothing narrower than 200 rev/min.
const NARROWEST = 200;
export function setZoom(low: number, high: number): void {
  const all = readings(), first = all[0], last = all.at(-1);
  if (first === undefined || last === undefined) return;
  const wide = Math.max(NARROWEST, high - low), from = Math.min(Math.max(low, first), last - wide);
  S.zoom = wide >= last - first ? null : [Math.round(from / 10) * 10, Math.round((from + wide) / 10) * 10];
  emit("zoom");
  emit("speed");
}
export function zoomBy(factor: number): void {
  const all = readings(), [low, high] = S.zoom ?? [all[0] ?? 0, all.at(-1) ?? 0], wide = (high - low) * factor, n = Math.min(Math.max(speed(), low), high);
  setZoom(n - wide * (n - low) / (high - low), n + wide * (high - n) / (high - low));
}
export function wholeRange(): void { S.zoom = null; emit("zoom"); emit("speed"); }
export const within = (low: number, high: number): [number, number] => S.zoom ? [Math.max(S.zoom[0], low), Math.min(S.zoom[1], high)] : [low, high];
export function turnLine(name: string): void { if (!S.off.delete(name)) S.off.add(name); emit("zoom"); }

const faultsOf = (wrong: unknown): Fault[] => { if (wrong instanceof Refusal) { if (wrong.status === 0) lose(); return wrong.faults; } throw wrong; };

// Asked for at once; shown no earlier than `ready`, as text in the wrong font would be measured wrong.
export async function loadCampaign(ready?: Promise<unknown>): Promise<void> { const view = await api.campaign(); await ready; takeCampaign(view); }
export function takeCampaign(view: CampaignView): void {
  const isSame = S.campaign?.content === view.content && compared() !== null;
  S.campaign = view;
  S.changedAt = null;
  if (view.quantities.length && !view.quantities.includes(S.quantity)) S.quantity = view.quantities[0]!;
  if (!view.setups_with_build.includes(S.setup)) S.setup = view.setups_with_build.includes(view.campaign.candidate) ? view.campaign.candidate : view.setups_with_build[0] ?? "";
  S.editing = view.state === "logs" || (S.editing && view.state === "fault");
  S.dirty = false;
  emit("campaign");
  emit("editing");
  if (view.state === "ready") { if (!isSame) void loadAll(); }
  else { for (const one of Object.values(studies)) one.clear(); S.whatIf = S.map = null; S.whatIfFaults = []; emit("whatif"); }
}

// The verdict first, by itself; then what rests on it, side by side.
export async function loadAll(): Promise<void> {
  studies.publish.clear();
  studies.carry.clear();
  if (!S.setup) { S.whatIf = S.map = null; emit("whatif"); }
  await studies.compare.load();
  if (studies.compare.stopped) return;
  void studies.plan.load();
  if (S.setup) { void loadWhatIf(); void loadMap(); }
  if (studies.compare.view && canExplain()) await loadExplanation(); else { studies.explain.clear(); studies.limits.clear(); }
}
export const canExplain = (): boolean => { const c = S.campaign; return !!c && c.setups_with_build.includes(c.campaign.baseline) && c.setups_with_build.includes(c.campaign.candidate); };
export async function loadExplanation(): Promise<void> {
  await studies.explain.load();
  if (studies.explain.view && S.setup) { await loadWhatIf(); await loadLimits(); } // now of the machine that fits the pulls
}
// Chances are known of the two setups whose pulls were explained.
async function loadLimits(): Promise<void> {
  const c = S.campaign?.campaign;
  if (studies.explain.view && c && [c.baseline, c.candidate].includes(S.setup)) await studies.limits.load(); else studies.limits.clear();
}
export async function loadCompare(): Promise<void> { studies.publish.clear(); await studies.compare.load(); void studies.plan.load(); }
export function turnUnits(): void {
  S.units = units() === "us" ? "metric" : "us";
  if (S.units === S.campaign?.campaign.units) S.units = "";
  const carried = studies.carry.view !== null;
  if (S.campaign?.state === "ready") void loadAll().then(() => { if (carried) void studies.carry.load(); });
}

// One question is under way at a time; a slider that moves on meanwhile asks again when the answer is here.
let under = false;
let again = false;
export async function loadWhatIf(): Promise<void> {
  if (under) { again = true; return; }
  under = true;
  try {
    do {
      again = false;
      const fuel = S.fuel ? { fuel_blend: S.fuel } : {}, said = S.units ? { units: S.units } : {};
      S.whatIf = await api.match({ setup: S.setup, ...S.asked, ...fuel, ...said });
      S.whatIfFaults = [];
      inItsUnits(S.whatIf);
      emit("whatif");
    } while (again);
  } catch (wrong) {
    S.whatIf = null;
    S.whatIfFaults = faultsOf(wrong);
    emit("whatif");
  } finally { under = false; }
}
// After a change of units, what was turned is said as the new sliders have it.
function inItsUnits({ sliders }: WhatIfView): void {
  if (Object.keys(S.asked).every(key => sliders.some(slider => slider.key === key))) return;
  S.asked = Object.fromEntries(sliders.filter(s => Math.abs(s.asked - s.tested) >= s.step / 2).map(s => [s.key, s.asked]));
}

async function loadMap(): Promise<void> {
  try { S.map = await api.map(S.setup, S.units); } catch (wrong) { S.map = null; faultsOf(wrong); }
  emit("map");
}
export function chooseSetup(name: string): void { S.setup = name; S.asked = {}; S.fuel = ""; void loadWhatIf(); void loadMap(); studies.limits.clear(); void loadLimits(); }

// The folder may be changed from outside, by an editor or by somebody else, and the server may be gone.
const EVERY = 2500;
export function lose(): void { if (!S.lost) { S.lost = true; emit("lost"); } }
export function watch(): void {
  setInterval(() => { if (!document.hidden) void look(); }, EVERY);
  document.addEventListener("visibilitychange", () => { if (!document.hidden) void look(); });
}
async function look(): Promise<void> {
  try {
    const { content } = await api.version();
    if (S.lost) { S.lost = false; emit("lost"); if (!S.campaign) await loadCampaign(); else if (S.campaign.state === "ready" && !compared()) void loadAll(); }
    if (S.campaign && content !== S.campaign.content && S.changedAt === null) { S.changedAt = Date.now(); emit("stale"); }
  } catch (wrong) { faultsOf(wrong); }
}
export function staleReason(): string {
  if (S.dirty) return "Made before your changes, which are not saved yet.";
  if (S.changedAt === null) return "";
  const minutes = Math.round((Date.now() - S.changedAt) / 60000);
  return `Made before the folder changed, ${minutes < 1 ? "just now" : `${minutes}\u00a0${minutes === 1 ? "minute" : "minutes"} ago`}.`;
}

let keeping: ReturnType<typeof setTimeout> | undefined;
function keepAddressSoon(): void { clearTimeout(keeping); keeping = setTimeout(keepAddress, 250); }
export function keepAddress(): URL {
  const url = new URL(location.href);
  const said: Record<string, string | null> = {
    n: S.pin === null ? null : String(S.pin),
    quantity: S.quantity === "power" ? null : S.quantity,
    units: S.units || null,
    setup: S.setup === S.campaign?.campaign.candidate ? null : S.setup || null,
    fuel: S.fuel || null,
    zoom: S.zoom?.join("-") ?? null,
    off: [...S.off].join(",") || null,
    ...Object.fromEntries([...SLIDERS, ...PLAN].map(key => [key, null])),
    ...Object.fromEntries([...Object.entries(S.asked), ...Object.entries(S.plan)].map(([k, v]) => [k, String(v)])),
  };
  for (const [name, value] of Object.entries(said)) { if (value === null) url.searchParams.delete(name); else url.searchParams.set(name, value); }
  if (url.href !== location.href) history.replaceState(null, "", url);
  return url;
}
