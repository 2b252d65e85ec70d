// One state for the whole page: what the server said, the speed in hand, what was turned. It mirrors itself into the address.
import { api, Refusal, type CampaignView, type CompareView, type Fault, type MapView, type WhatIfView } from "./api";

export type Kind = "campaign" | "compare" | "whatif" | "map" | "speed" | "editing";
const query = new URLSearchParams(location.search);
const asNumber = (name: string): number | null => { const said = query.get(name); const n = Number(said); return said !== null && Number.isFinite(n) ? n : null; };

export const S = {
  campaign: null as CampaignView | null,
  compare: null as CompareView | null,
  compareFaults: [] as Fault[],
  working: false,
  whatIf: null as WhatIfView | null,
  whatIfFaults: [] as Fault[],
  map: null as MapView | null,
  quantity: query.get("quantity") ?? "power",
  setup: query.get("setup") ?? "",
  asked: Object.fromEntries(["drive_ratio", "ambient_pressure_kpa", "air_temperature_degC"].map(k => [k, asNumber(k)]).filter(([, v]) => v !== null)) as Record<string, number>,
  fuel: query.get("fuel") ?? "",
  pin: asNumber("n"),
  hover: null as number | null,
  editing: false,
  dirty: false,
};

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
export const readings = (): number[] => S.compare?.page.readings_rpm ?? S.whatIf?.page.readings_rpm ?? [];
const clamped = (n: number): number => { const all = readings(); return Math.min(Math.max(Math.round(n / 10) * 10, all[0] ?? n), all.at(-1) ?? n); };
export const speed = (): number => clamped(S.hover ?? S.pin ?? defaultSpeed());
const defaultSpeed = (): number => { const all = readings(); return all[Math.floor(all.length * 0.72)] ?? 0; };
export const setPin = (n: number): void => { S.pin = clamped(n); S.hover = null; emit("speed"); };
export const setHover = (n: number | null): void => { S.hover = n === null ? null : clamped(n); emit("speed"); };
export const compareRow = () => { const c = S.compare; return c ? c.page.readings[c.page.readings_rpm.indexOf(speed())] ?? null : null; };
export const whatIfIndex = (): number => S.whatIf ? S.whatIf.page.readings_rpm.indexOf(speed()) : -1;
export const isTurned = (): boolean => Object.keys(S.asked).length > 0 || S.fuel !== "";

const faultsOf = (wrong: unknown): Fault[] => { if (wrong instanceof Refusal) return wrong.faults; throw wrong; };

export async function loadCampaign(): Promise<void> { takeCampaign(await api.campaign()); }
export function takeCampaign(view: CampaignView): void {
  S.campaign = view;
  if (view.quantities.length && !view.quantities.includes(S.quantity)) S.quantity = view.quantities[0]!;
  if (!view.setups_with_build.includes(S.setup)) S.setup = view.setups_with_build.includes(view.campaign.candidate) ? view.campaign.candidate : view.setups_with_build[0] ?? "";
  S.editing = view.state === "logs" || (S.editing && view.state === "fault");
  S.dirty = false;
  emit("campaign");
  emit("editing");
  if (view.state === "ready") { void loadCompare(); if (S.setup) { void loadWhatIf(); void loadMap(); } }
  else { S.compare = S.whatIf = S.map = null; S.compareFaults = []; emit("compare"); emit("whatif"); }
}

let asking = 0;
export async function loadCompare(): Promise<void> {
  const mine = ++asking;
  S.working = true;
  emit("compare");
  try {
    const view = await api.compare(S.quantity);
    if (mine !== asking) return;
    S.compare = view;
    S.compareFaults = [];
  } catch (wrong) {
    if (mine !== asking) return;
    S.compare = null;
    S.compareFaults = faultsOf(wrong);
  }
  S.working = false;
  emit("compare");
  emit("speed");
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
      const fuel = S.fuel ? { fuel_blend: S.fuel } : {};
      S.whatIf = await api.match({ setup: S.setup, ...S.asked, ...fuel });
      S.whatIfFaults = [];
      emit("whatif");
    } while (again);
  } catch (wrong) {
    S.whatIf = null;
    S.whatIfFaults = faultsOf(wrong);
    emit("whatif");
  } finally { under = false; }
}

async function loadMap(): Promise<void> {
  try { S.map = await api.map(S.setup); } catch (wrong) { S.map = null; faultsOf(wrong); }
  emit("map");
}
export function chooseSetup(name: string): void { S.setup = name; S.asked = {}; S.fuel = ""; void loadWhatIf(); void loadMap(); }

let keeping: ReturnType<typeof setTimeout> | undefined;
function keepAddressSoon(): void { clearTimeout(keeping); keeping = setTimeout(keepAddress, 250); }
export function keepAddress(): URL {
  const url = new URL(location.href);
  const said: Record<string, string | null> = {
    n: S.pin === null ? null : String(S.pin),
    quantity: S.quantity === "power" ? null : S.quantity,
    setup: S.setup === S.campaign?.campaign.candidate ? null : S.setup || null,
    fuel: S.fuel || null,
    drive_ratio: null, ambient_pressure_kpa: null, air_temperature_degC: null,
    ...Object.fromEntries(Object.entries(S.asked).map(([k, v]) => [k, String(v)])),
  };
  for (const [name, value] of Object.entries(said)) { if (value === null) url.searchParams.delete(name); else url.searchParams.set(name, value); }
  if (url.href !== location.href) history.replaceState(null, "", url);
  return url;
}
