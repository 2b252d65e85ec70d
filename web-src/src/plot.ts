// The plot grammar on top of uPlot: bands with edges, dashed baseline, labels at line ends, unit upper left, one speed hand.
import uPlot from "uplot";
import { setHover, setPin, setZoom, speed, wholeRange } from "./store";

export const token = (name: string): string => getComputedStyle(document.documentElement).getPropertyValue(`--${name}`).trim();
export const px = (): number => uPlot.pxRatio;
const THIN = "\u202f";
export const axisNumber = (v: number, decimals = 0, sign = false): string => {
  const [whole = "", part] = Math.abs(v).toFixed(decimals).split(".");
  const grouped = whole.length > 3 ? whole.replace(/\B(?=(\d{3})+$)/g, THIN) : whole;
  const zero = Number(Math.abs(v).toFixed(decimals)) === 0;
  return `${v < 0 && !zero ? "\u2212" : sign && !zero ? "+" : ""}${grouped}${part ? `.${part}` : ""}`;
};

type TextLook = { colour?: string; align?: CanvasTextAlign; weight?: number; size?: number; halo?: boolean };
export function text(u: uPlot, words: string, x: number, y: number, look: TextLook = {}): void {
  const { colour = token("ink"), align = "left", weight = 400, size = 14, halo = true } = look;
  const c = u.ctx;
  c.save();
  c.font = `${weight} ${Math.round(size * px())}px "BW Sans", sans-serif`;
  c.textAlign = align;
  c.textBaseline = "middle";
  if (halo) { c.lineJoin = "round"; c.lineWidth = 4 * px(); c.strokeStyle = token("paper"); c.strokeText(words, x, y); }
  c.fillStyle = colour;
  c.fillText(words, x, y);
  c.restore();
}

export function hatch(c: CanvasRenderingContext2D, colour: string): CanvasPattern | string {
  const tile = document.createElement("canvas");
  const s = tile.width = tile.height = Math.round(5 * px());
  const t = tile.getContext("2d")!;
  t.strokeStyle = colour;
  t.lineWidth = 1.6 * px();
  for (const o of [-s, 0, s]) { t.beginPath(); t.moveTo(o, s); t.lineTo(o + s, 0); t.stroke(); }
  return c.createPattern(tile, "repeat") ?? colour;
}

// Labels at the ends of lines, pushed apart so that none covers another.
export function endLabels(u: uPlot, labels: { words: string; at: number | null | undefined; colour: string; sub?: string }[]): void {
  const r = px(), x = u.bbox.left + u.bbox.width + 9 * r, gap = 17 * r;
  const placed = labels.filter(l => l.at !== null && l.at !== undefined).map(l => ({ ...l, y: u.valToPos(l.at!, "y", true) })).sort((a, b) => a.y - b.y);
  for (let round = 0; round < 8; round++) for (let i = 1; i < placed.length; i++) {
    const a = placed[i - 1]!, b = placed[i]!, near = gap - (b.y - a.y);
    if (near > 0) { b.y += near / 2; a.y -= near / 2; }
  }
  for (const l of placed) {
    text(u, l.words, x, l.y, { colour: l.colour, weight: 600, halo: false });
    if (l.sub) text(u, l.sub, x, l.y + 16 * r, { colour: token("ink-3"), size: 13, halo: false });
  }
}

export function zeroLine(u: uPlot): number {
  const y = u.valToPos(0, "y", true), c = u.ctx;
  c.save();
  c.strokeStyle = token("ink");
  c.lineWidth = 1.4 * px();
  c.beginPath(); c.moveTo(u.bbox.left, y); c.lineTo(u.bbox.left + u.bbox.width, y); c.stroke();
  c.restore();
  return y;
}

// Round values for an axis, at most `most` of them.
export function ticks(low: number, high: number, most: number): number[] {
  const rough = (high - low) / most, power = 10 ** Math.floor(Math.log10(rough));
  const step = [1, 2, 2.5, 5, 10].map(k => k * power).find(k => k >= rough) ?? rough;
  const all: number[] = [];
  for (let k = Math.ceil(low / step - 1e-9); k * step <= high + 1e-9 * step; k++) all.push(Number((k * step).toPrecision(10)));
  return all;
}
export const decimalsOf = (values: number[]): number => Math.max(0, ...values.map(v => (String(v).split(".")[1] ?? "").length));

const font = '14px "BW Sans", sans-serif';
export const axis = (extra: Partial<uPlot.Axis> = {}): uPlot.Axis => ({ stroke: token("ink-2"), font, grid: { show: false }, ticks: { stroke: token("edge"), width: 1, size: 5 }, border: { show: true, stroke: token("edge"), width: 1 }, gap: 4, ...extra });
// The marks of an axis, or how to find them each time it is drawn.
type Marks = number[] | (() => number[]);
const found = (at: Marks): number[] => typeof at === "function" ? at() : at;
export const yAxis = (at: Marks, sign = false): uPlot.Axis => axis({ side: 3, size: 52, border: { show: false }, ticks: { show: false }, grid: { show: true, stroke: token("grid"), width: 1 }, splits: () => found(at), values: (_, v) => v.map(t => axisNumber(t, decimalsOf(v), sign)) });
export const speedTicks = (low: number, high: number, width: number): number[] => ticks(low, high, Math.max(3, Math.min(8, Math.floor(width / 95))));
export const xAxis = (at: Marks, labels = true): uPlot.Axis => axis({ size: labels ? 30 : 8, splits: () => found(at), values: (_, v) => v.map(t => labels ? axisNumber(t) : "") });
export const unitLabel = (words: string) => (u: uPlot): void => text(u, words, 0, u.bbox.top - 17 * px(), { colour: token("ink-2"), size: 13, halo: false });
export const xName = (words: string) => (u: uPlot): void => text(u, words, u.bbox.left + u.bbox.width + 24 * px(), u.bbox.top + u.bbox.height + 17 * px(), { colour: token("ink-2"), size: 13, halo: false });

export type Series = uPlot.Series & { ink?: string };
export const line = (ink: string, width = 2.5, dash?: number[]): Series => ({ stroke: ink, ink, width, dash: dash?.map(v => v * px()), points: { show: false } });
export const ghost = (ink: string, dash?: number[]): Series => ({ stroke: `${ink}77`, width: 1, dash: dash?.map(v => v * px()), points: { show: false } });
export const edge = (ink: string): Series => ({ stroke: ink, width: 0.75, points: { show: false } });
export const none = (): Series => ({ stroke: "transparent", width: 0, points: { show: false } });

const DRAGGED = 8; // px: less is a click
type Built = { options: Partial<uPlot.Options>; data: uPlot.AlignedData };
export class Figure {
  static readonly every = new Set<Figure>();
  static frozen = false;
  plot: uPlot | null = null;
  private width = 0;

  // `build` may return nothing: there is nothing to draw yet.
  constructor(readonly element: HTMLElement, readonly height: number, readonly follows: boolean, readonly build: () => Built | null, readonly right = 132) {
    Figure.every.add(this);
    new ResizeObserver(() => { if (!Figure.frozen && Math.abs(element.clientWidth - this.width) > 2) this.draw(); }).observe(element);
  }

  draw(width?: number): void {
    this.plot?.destroy();
    this.plot = null;
    this.width = width ?? this.element.clientWidth;
    const built = this.width < 60 ? null : this.build();
    if (!built) return;
    const right = this.width < 520 ? Math.min(this.right, 96) : this.right;
    const printing = document.documentElement.dataset.theme === "print";
    this.plot = new uPlot({
      width: this.width, height: printing ? Math.round(0.8 * this.height) : this.height, padding: [28, right, 0, 0], legend: { show: false }, select: { show: this.follows, left: 0, top: 0, width: 0, height: 0 },
      cursor: { show: this.follows, y: false, drag: { x: this.follows, y: false, setScale: false, dist: DRAGGED }, points: { show: false } },
      series: [], ...built.options, hooks: { ...built.options.hooks, setSelect: [(u: uPlot) => this.selected(u)] },
    }, built.data, this.element);
    Object.assign(this.element, { plot: this.plot }); // so that a test can hold what is drawn against what the server said
    if (this.follows) this.listen(this.plot);
  }

  // New numbers in a plot of the same look; what `build` gave for scales and marks must read them afresh.
  renew(): void {
    const built = this.plot ? this.build() : null;
    if (!this.plot || !built) { this.draw(); return; }
    this.plot.setData(built.data);
    this.hand();
  }

  private listen(u: uPlot): void {
    u.over.addEventListener("pointermove", event => { if (event.pointerType !== "touch" || event.buttons) setHover(u.posToVal(event.offsetX, "x")); });
    u.over.addEventListener("pointerleave", () => setHover(null));
    let from = 0;
    u.over.addEventListener("pointerdown", event => { from = event.offsetX; });
    u.over.addEventListener("click", event => { if (Math.abs(event.offsetX - from) < DRAGGED) setPin(u.posToVal(event.offsetX, "x")); });
    u.over.addEventListener("dblclick", wholeRange);
    requestAnimationFrame(() => this.hand());
  }

  // A stretch that was dragged over becomes the range of every figure over engine speed.
  private selected(u: uPlot): void {
    const { left, width } = u.select;
    if (width < DRAGGED) return;
    u.setSelect({ left: 0, top: 0, width: 0, height: 0 }, false);
    setZoom(u.posToVal(left, "x"), u.posToVal(left + width, "x"));
  }

  // The vertical hand, with a ring on every named curve, between the computed speeds by straight lines.
  hand(): void {
    const u = this.plot;
    if (!u || !this.follows || !u.data[0]?.length) return;
    const n = speed(), left = u.valToPos(n, "x"), X = u.data[0], isSeen = n >= u.scales.x!.min! && n <= u.scales.x!.max!;
    u.setCursor({ left: isSeen ? left : -10, top: 10 }, false);
    let j = 0;
    while (j < X.length - 2 && X[j + 1]! < n) j++;
    const share = (n - X[j]!) / (X[j + 1]! - X[j]!);
    (u.series as Series[]).forEach((series, i) => {
      if (!series.ink) return;
      let dot = u.over.querySelector<HTMLElement>(`.dot[data-i="${i}"]`);
      if (!dot) { dot = document.createElement("i"); dot.className = "dot"; dot.dataset.i = String(i); u.over.append(dot); }
      const a = u.data[i]?.[j], b = u.data[i]?.[j + 1], known = typeof a === "number" && typeof b === "number" && share >= 0 && share <= 1 && isSeen;
      dot.hidden = !known;
      if (!known) return;
      dot.style.left = `${left}px`;
      dot.style.top = `${u.valToPos(a + (b - a) * share, "y")}px`;
      dot.style.borderColor = series.ink;
    });
  }

  static redraw(width?: number): void { for (const figure of Figure.every) figure.draw(width); }
}
