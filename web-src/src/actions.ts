// The quiet buttons under a figure, its zoom and lines, and tables that are made from the same rows as its readings.
import { byId, h, say, type Child } from "./dom";
import { token } from "./plot";
import { keepAddress, S, turnLine, wholeRange, zoomBy } from "./store";

type Cell = Child;
export function table(caption: string, heads: Cell[][], rows: Cell[][]): HTMLElement {
  return h("div", { class: "tablewrap nums", tabindex: 0, role: "region", "aria-label": `${caption}, scrolls sideways` },
    h("table", {}, h("caption", { class: "vh" }, caption),
      h("thead", {}, h("tr", {}, heads.map((head, i) => h("th", { scope: "col", class: i ? "r" : undefined }, ...head)))),
      h("tbody", {}, rows.map(row => h("tr", {}, row.map((cell, i) => i ? h("td", { class: "r" }, cell) : h("th", { scope: "row" }, cell)))))));
}
export const head = (words: string, unit: string): Child[] => [words, h("br"), h("small", {}, unit)];

const refusedWords = "The browser refused the clipboard. Allow it for this page, then try again.";
export const copy = (words: string, done: string): Promise<void> => {
  const clipboard = navigator.clipboard as Clipboard | undefined; // there is none on a plain address of the network
  return clipboard ? clipboard.writeText(words).then(() => say(done), () => say(refusedWords)) : Promise.resolve(say("This address is not encrypted, so the browser has no clipboard here. Use Show table."));
};
const quoted = (cell: string | number | null | undefined): string => { const said = cell === null || cell === undefined ? "" : String(cell); return /[",\n]/.test(said) ? `"${said.replaceAll('"', '""')}"` : said; };
export const csvOf = (rows: (string | number | null | undefined)[][]): string => `${rows.map(row => row.map(quoted).join(",")).join("\r\n")}\r\n`;

type More = { csv: () => string | Promise<string>; table?: () => HTMLElement; zoom?: boolean; lines?: [string, string][] };
export function actions(section: string, more: More): HTMLElement {
  const figureOf = (event: Event): HTMLElement => (event.target as HTMLElement).closest<HTMLElement>("figure, .figure")!;
  return h("div", { class: "acts" },
    h("button", { type: "button", onclick: event => void copyFigure(figureOf(event)) }, "Copy figure"),
    h("button", { type: "button", onclick: () => void Promise.resolve(more.csv()).then(text => copy(text, "CSV copied")) }, "Copy CSV"),
    h("button", { type: "button", onclick: () => { const url = keepAddress(); url.hash = section; void copy(url.href, "Link copied, with speed and settings"); } }, "Copy link"),
    more.table && h("button", { type: "button", "aria-expanded": "false", onclick: event => showTable(event.target as HTMLElement, figureOf(event), more.table!) }, "Show table"),
    more.zoom && h("span", { class: "zooms", role: "group", "aria-label": "Zoom along the engine speed" },
      h("button", { type: "button", title: "Zoom in around the hand (+)", onclick: () => zoomBy(0.5) }, "Zoom in"),
      h("button", { type: "button", title: "Zoom out (−)", "data-zoom": "out", hidden: S.zoom === null, onclick: () => zoomBy(2) }, "Zoom out"),
      h("button", { type: "button", title: "Whole range (0)", "data-zoom": "whole", hidden: S.zoom === null, onclick: wholeRange }, "Whole range")),
    more.lines && h("span", { class: "lines", role: "group", "aria-label": "Lines shown" }, more.lines.map(([name, words]) =>
      h("button", { type: "button", "data-line": name, "aria-pressed": String(!S.off.has(name)), onclick: () => turnLine(name) }, words))));
}
export function followZoom(): void {
  for (const button of document.querySelectorAll<HTMLButtonElement>("[data-zoom]")) button.hidden = S.zoom === null;
  for (const button of document.querySelectorAll<HTMLElement>("[data-line]")) button.setAttribute("aria-pressed", String(!S.off.has(button.dataset.line!)));
}

function showTable(button: HTMLElement, figure: HTMLElement, make: () => HTMLElement): void {
  const open = button.getAttribute("aria-expanded") === "true";
  figure.querySelector(".nums")?.remove();
  button.setAttribute("aria-expanded", String(!open));
  button.textContent = open ? "Show table" : "Hide table";
  if (!open) figure.append(make());
}

const SCALE = 2;
// A figure as a picture: its words and boxes where they stand on the page, its plots as they are drawn.
export async function figurePicture(figure: HTMLElement): Promise<Blob | null> {
  const frame = figure.getBoundingClientRect(), sheet = h("canvas"), c = sheet.getContext("2d")!;
  const left = (element: Element): boolean => !element.closest(".acts, .sliders, .nums, [hidden], .vh");
  const bottom = Math.max(...[...figure.querySelectorAll("*")].filter(left).map(element => element.getBoundingClientRect().bottom));
  sheet.width = Math.ceil((frame.width + 24) * SCALE);
  sheet.height = Math.ceil((bottom - frame.top + 24) * SCALE);
  c.scale(SCALE, SCALE);
  c.fillStyle = token("paper");
  c.fillRect(0, 0, sheet.width, sheet.height);
  c.translate(12 - frame.left, 12 - frame.top);
  for (const element of figure.querySelectorAll<HTMLElement>("*")) if (left(element)) paint(c, element);
  return new Promise(done => sheet.toBlob(done, "image/png"));
}

function paint(c: CanvasRenderingContext2D, element: HTMLElement): void {
  const box = element.getBoundingClientRect(), style = getComputedStyle(element);
  if (element instanceof HTMLCanvasElement) { c.drawImage(element, box.left, box.top, box.width, box.height); return; }
  if (element.tagName === "I" || element.classList.contains("key")) {
    c.fillStyle = style.backgroundColor;
    c.fillRect(box.left, box.top, box.width, box.height);
    c.lineWidth = parseFloat(style.borderLeftWidth) || parseFloat(style.borderTopWidth);
    c.strokeStyle = parseFloat(style.borderLeftWidth) ? style.borderLeftColor : style.borderTopColor;
    c.setLineDash(style.borderLeftStyle === "dashed" || style.borderTopStyle === "dashed" ? [4, 3] : []);
    if (c.lineWidth > 0) c.strokeRect(box.left, box.top, Math.max(box.width, 0.01), Math.max(box.height, 0.01));
    c.setLineDash([]);
  }
  for (const node of element.childNodes) if (node.nodeType === Node.TEXT_NODE) paintWords(c, node as Text, style);
}

// Text as the page has broken it into lines.
function paintWords(c: CanvasRenderingContext2D, node: Text, style: CSSStyleDeclaration): void {
  c.font = `${style.fontWeight} ${style.fontSize} ${style.fontFamily}`;
  c.fillStyle = style.color;
  c.textBaseline = "middle";
  const range = document.createRange();
  for (const word of node.data.matchAll(/\S+/g)) {
    range.setStart(node, word.index);
    range.setEnd(node, word.index + word[0].length);
    const box = range.getClientRects()[0];
    if (box) c.fillText(word[0].replaceAll("\u2060", ""), box.left, box.top + box.height / 2);
  }
}

async function copyFigure(figure: HTMLElement): Promise<void> {
  const picture = await figurePicture(figure);
  try {
    await navigator.clipboard.write([new ClipboardItem({ "image/png": picture! })]);
    say("Figure copied, verdict on top");
  } catch { say("This browser refuses pictures on the clipboard. Use Copy CSV."); }
}
export const figureOf = (id: string): HTMLElement => byId(id).closest<HTMLElement>("figure, .figure")!;
