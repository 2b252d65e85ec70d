// What the server says; its description is at /openapi.json.
export interface Fault { problem: string; remedy: string; file: string; row: number | null; column: string; key: string; value: string; said: string }
export interface PullDraft { file: string; setup: string; started: string; barometer: string; air_temperature: string; relative_humidity: string; soak_temperature: string; installation: number | null; session: string }
export interface CampaignDraft {
  title: string; baseline: string; candidate: string; speed_range_rpm: number[]; correction: string; units: string;
  stand: { name: string; kind: string; rotating_inertia: string };
  setups: { name: string; build: string }[]; columns: Record<string, string>; pulls: PullDraft[];
}
export interface Column { header: string; quantity: string; unit: string; conversion: string; lowest: number | null; highest: number | null }
export interface Log {
  file: string; samples: number; sample_rate_hz: number | null; sweep: { from_rpm: number; to_rpm: number; sweep_rate_rpm_per_s: number | null } | null;
  columns: Column[]; ignored: { header: string; reason: string }[]; faults: Fault[]; notes: string[];
}
export interface Inspection { logs: Log[]; faults: Fault[] }
export interface CampaignView {
  state: "empty" | "logs" | "ready" | "fault"; version: string; content: string; campaign: CampaignDraft; inspection: Inspection; faults: Fault[];
  quantities: string[]; known_quantities: string[]; log_suffixes: string[]; builds: string[]; setups_with_build: string[];
}
type Numbers = (number | null)[];
export interface Compared {
  quantity: string; unit: string; baseline: string; candidate: string; confidence: number;
  curve: Record<"engine_speed_rpm" | "baseline" | "candidate" | "gain" | "lower" | "upper" | "gain_percent" | "lower_percent" | "upper_percent", Numbers>;
  range: { from_rpm: number; to_rpm: number };
  crossovers: { engine_speed_rpm: number; lower_rpm: number; upper_rpm: number; direction: string }[];
  stretches: { from_rpm: number; to_rpm: number; state: string }[];
  verdict: string; grade: string; grade_reason: string; headline: string; sentence: string; correction: string;
  uncertainty_shares: Record<string, number>;
  pulls: { file: string; setup: string; used: boolean; fault: string | null; correction_factor: number }[];
  warnings: string[];
}
export interface SpeedRow { engine_speed: string; baseline: string; candidate: string; gain: string; half_width: string; percent: string; percent_half_width: string; state: string }
export interface CompareView {
  result: Compared;
  page: {
    title: string; words: string; unit: string; is_relative: boolean; average: string; readings_rpm: number[]; readings: SpeedRow[]; table: SpeedRow[];
    turning_points_rpm: number[]; crossing_words: string[]; pulls: { file: string; setup: string; used: boolean; values: Numbers }[];
    claim: { sentence: string; is_allowed: boolean };
  };
}
export interface Slider { key: string; words: string; unit: string; low: number; high: number; step: number; decimals: number; tested: number; asked: number }
export interface PageCurve { name: string; words: string; unit: string; tested: Numbers; asked: Numbers; lower: Numbers; upper: Numbers; difference: Numbers; difference_lower: Numbers; difference_upper: Numbers; readings: string[]; tested_readings: string[] }
export interface Limit { name: string; value: string; limit: string; left: string; at: string; share_percent: number | null; lower_percent: number | null; upper_percent: number | null; shares_percent: Numbers; status: string; needs: string[]; chance: string }
export interface WhatIfView {
  setup: string; sliders: Slider[]; fuels: string[]; tested_fuel: string;
  page: {
    basis: "build" | "pulls"; flow_unit: string; engine_speed_rpm: number[]; readings_rpm: number[]; curves: PageCurve[]; differences: string[]; states: string[]; pressure_ratio: Numbers; volume_flow: Numbers;
    tested_pressure_ratio: Numbers; tested_volume_flow: Numbers; limits: Limit[]; limits_headline: string; is_far: boolean; warnings: string[];
  };
}
export interface MapLine { label: string; volume_flow: Numbers; pressure_ratio: Numbers }
export interface MapView { map: { contours: MapLine[]; speeds: MapLine[]; highest_flow: number; highest_pressure_ratio: number } }

export interface PlanRow { order: string; takes: string; changes_of_setup: number; half_width: string; detectable_gain: string; is_chosen: boolean; duration_h: number; half_width_percent: number }
export interface PlanView {
  page: { headline: string; answer: string; so_far: string; notes: string[]; gain_percent: number; pull_min: number; change_min: number; hours_left: number | null; half_width_percent: number | null; rows: PlanRow[]; takes: string; steps: { name: string; words: string }[] };
}
export interface Band { name: string; values: Numbers; lower: Numbers; upper: Numbers; readings: string[]; average: string }
export interface CarryView {
  page: { tested: string; builds: { build: string; span: string; gain: string; power_gain: string; air_gain: string; boost: string; power: string; reach: string; against: string; sentence: string; distance: string; notes: string[] }[]; refused: { build: string; said: string }[]; warnings: string[] };
}
export interface LimitsView {
  page: {
    setup: string; engine_speed_rpm: number[]; limits_headline: string; limits: Limit[]; chance: string; room: string; changes_note: string; notes: string[]; warnings: string[];
    changes: { limit: string; change: string; present: string; needed: string; power: string; enough: string; is_enough: boolean }[];
  };
}
export interface Row { words: string; cells: string[] }
export interface ExplainView {
  result: { baseline: string; candidate: string };
  page: {
    headline: string; because: string; answer: string; readings_rpm: number[]; engine_speed_rpm: number[]; air: Band; pressure: Band; measured: Band; causes: Band[]; interaction: Band; unexplained: Band;
    derived: { words: string; unit: string; baseline: string[]; candidate: string[] }[]; determined: string;
    unknowns: { words: string; unit: string; before: string; after: string; share_removed: string; is_determined: boolean }[]; channels: Row[]; weather: Row[]; notes: string[]; warnings: string[];
  };
}
export interface PublishView { sentence: string; standing: string; check_code: string; file_bytes: Record<string, number> }
export interface Told { words: string; percent: number | null; elapsed_s: number; left_s: number | null }

export class Refusal extends Error {
  constructor(readonly status: number, readonly faults: Fault[]) { super(faults.map(fault => fault.said).join("\n")); }
}
const fault = (problem: string, remedy: string): Fault => ({ problem, remedy, file: "", row: null, column: "", key: "", value: "", said: `${problem}; ${remedy}` });

async function reach(path: string, init?: RequestInit): Promise<Response> {
  try { return await fetch(path, init); } catch (wrong) {
    if (init?.signal?.aborted) throw wrong;
    throw new Refusal(0, [fault("The server does not answer", "start boostwright serve again; this page then goes on by itself")]);
  }
}
async function refusal(answer: Response): Promise<Refusal> {
  const said = (await answer.json().catch(() => null) as { faults?: Fault[] } | null)?.faults;
  return new Refusal(answer.status, said?.length ? said : [failed(answer.status)]);
}
const failed = (status: number): Fault => fault(`The server failed (${status})`, "what it prints in its terminal says why; report it");

async function ask<T>(path: string, init?: RequestInit): Promise<T> {
  const answer = await reach(path, init);
  if (answer.ok) return await answer.json() as T;
  throw await refusal(answer);
}

// Long work: the stream says how far it is, then its result. Closing the stream lets go of the work.
export async function study<T>(path: string, tell: (told: Told) => void, signal: AbortSignal): Promise<T> {
  const answer = await reach(path, { headers: { accept: "text/event-stream" }, signal });
  if (!answer.ok) throw await refusal(answer);
  const reader = answer.body!.pipeThrough(new TextDecoderStream()).getReader();
  let rest = "";
  for (;;) {
    const { value, done } = await reader.read().catch(wrong => { if (signal.aborted) throw wrong; return { value: undefined, done: true }; });
    if (done || value === undefined) throw new Refusal(500, [failed(500)]);
    const blocks = (rest + value).split("\n\n");
    rest = blocks.pop()!;
    for (const block of blocks) {
      const said = JSON.parse(block.slice(block.indexOf("data: ") + 6)) as unknown;
      if (block.startsWith("event: progress")) tell(said as Told);
      else if (block.startsWith("event: result")) return said as T;
      else throw new Refusal(422, (said as { faults: Fault[] }).faults);
    }
  }
}
export const query = (said: Record<string, string | number | null>): string => {
  const kept = Object.entries(said).filter(([, value]) => value !== null && value !== "").map(([name, value]) => [name, String(value)]);
  return kept.length ? `?${new URLSearchParams(kept)}` : "";
};
const json = (method: string, body: unknown): RequestInit => ({ method, headers: { "content-type": "application/json" }, body: JSON.stringify(body) });

export const api = {
  campaign: () => ask<CampaignView>("/api/campaign"),
  write: (version: string, campaign: CampaignDraft) => ask<CampaignView>("/api/campaign", json("PUT", { version, campaign })),
  inspect: (columns: Record<string, string>) => ask<Inspection>("/api/inspect", json("POST", { columns })),
  version: () => ask<{ version: string; content: string }>("/api/version"),
  csv: async (quantity: string, units: string) => (await reach(`/api/gain.csv${query({ quantity, units })}`)).text(),
  match: (asked: Record<string, unknown>) => ask<WhatIfView>("/api/match", json("POST", asked)),
  map: (setup: string, units: string) => ask<MapView>(`/api/map${query({ setup, units })}`),
  drop: (files: File[]) => {
    const form = new FormData();
    for (const file of files) form.append("logs", file);
    return ask<{ kept: string[]; faults: Fault[] }>("/api/logs", { method: "POST", body: form });
  },
};
export const reportAddress = (said: Record<string, string>): string => `/api/report${query(said)}`;
