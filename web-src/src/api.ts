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
  state: "empty" | "logs" | "ready" | "fault"; version: string; campaign: CampaignDraft; inspection: Inspection; faults: Fault[];
  quantities: string[]; known_quantities: string[]; log_suffixes: string[]; builds: string[]; setups_with_build: string[]; commands: string[];
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
export interface Slider { key: string; words: string; unit: string; low: number; high: number; step: number; decimals: number; tested: number }
export interface PageCurve { name: string; words: string; unit: string; tested: Numbers; asked: Numbers; lower: Numbers; upper: Numbers; difference: Numbers; difference_lower: Numbers; difference_upper: Numbers; readings: string[]; tested_readings: string[]; differences: string[] }
export interface Limit { name: string; value: string; limit: string; left: string; at: string; share_percent: number | null; status: string; needs: string[] }
export interface WhatIfView {
  setup: string; sliders: Slider[]; fuels: string[]; tested_fuel: string;
  page: {
    engine_speed_rpm: number[]; readings_rpm: number[]; curves: PageCurve[]; states: string[]; pressure_ratio: Numbers; volume_flow_m3_per_min: Numbers;
    tested_pressure_ratio: Numbers; tested_volume_flow_m3_per_min: Numbers; limits: Limit[]; limits_headline: string; is_far: boolean; warnings: string[];
  };
}
export interface MapLine { label: string; volume_flow_m3_per_min: Numbers; pressure_ratio: Numbers }
export interface MapView { map: { contours: MapLine[]; speeds: MapLine[]; highest_flow_m3_per_min: number; highest_pressure_ratio: number } }

export class Refusal extends Error {
  constructor(readonly status: number, readonly faults: Fault[]) { super(faults.map(fault => fault.said).join("\n")); }
}
const fault = (problem: string, remedy: string): Fault => ({ problem, remedy, file: "", row: null, column: "", key: "", value: "", said: `${problem}; ${remedy}` });

async function ask<T>(path: string, init?: RequestInit): Promise<T> {
  let answer: Response;
  try { answer = await fetch(path, init); } catch {
    throw new Refusal(0, [fault("The server does not answer", "start boostwright serve again, then load this page again")]);
  }
  const body: unknown = await answer.json().catch(() => null);
  if (answer.ok) return body as T;
  const said = (body as { faults?: Fault[] } | null)?.faults;
  throw new Refusal(answer.status, said?.length ? said : [fault(`The server failed (${answer.status})`, "what it prints in its terminal says why; report it")]);
}
const json = (method: string, body: unknown): RequestInit => ({ method, headers: { "content-type": "application/json" }, body: JSON.stringify(body) });

export const api = {
  campaign: () => ask<CampaignView>("/api/campaign"),
  write: (version: string, campaign: CampaignDraft) => ask<CampaignView>("/api/campaign", json("PUT", { version, campaign })),
  inspect: (columns: Record<string, string>) => ask<Inspection>("/api/inspect", json("POST", { columns })),
  compare: (quantity: string) => ask<CompareView>(`/api/compare?quantity=${encodeURIComponent(quantity)}`),
  csv: async (quantity: string) => (await fetch(`/api/gain.csv?quantity=${encodeURIComponent(quantity)}`)).text(),
  match: (asked: Record<string, unknown>) => ask<WhatIfView>("/api/match", json("POST", asked)),
  map: (setup: string) => ask<MapView>(`/api/map?setup=${encodeURIComponent(setup)}`),
  drop: (files: File[]) => {
    const form = new FormData();
    for (const file of files) form.append("logs", file);
    return ask<{ kept: string[]; faults: Fault[] }>("/api/logs", { method: "POST", body: form });
  },
};
export const reportAddress = (quantity: string): string => `/api/report?quantity=${encodeURIComponent(quantity)}`;
