// The quiet buttons under a figure, and tables that are made from the same rows as the figure's readings.
import { api } from "./api";
import { h, say, type Child } from "./dom";
import { token } from "./plot";
import { keepAddress, S } from "./store";

export function table(caption: string, heads: Child[][], rows: Child[][]): HTMLElement {
  return h("div", { class: "tablewrap nums", tabindex: 0, role: "region", "aria-label": `${caption}, scrolls sideways` },
    h("table", {}, h("caption", { class: "vh" }, caption),
      h("thead", {}, h("tr", {}, heads.map((head, i) => h("th", { scope: "col", class: i ? "r" : undefined }, ...head)))),
      h("tbody", {}, rows.map(row => h("tr", {}, row.map((cell, i) => i ? h("td", { class: "r" }, cell) : h("th", { scope: "row" }, cell)))))));
}

const refusedWords = "The browser refused the clipboard. Allow it for this page, then try again.";
export const copy = (words: string, done: string): Promise<void> => navigator.clipboard.writeText(words).then(() => say(done), () => say(refusedWords));

export function actions(section: string, more: { csv?: boolean; table?: () => HTMLElement }): HTMLElement {
  const figureOf = (event: Event): HTMLElement => (event.target as HTMLElement).closest("figure")!;
  return h("div", { class: "acts" },
    h("button", { type: "button", onclick: event => void copyFigure(figureOf(event)) }, "Copy figure"),
    more.csv && h("button", { type: "button", onclick: () => void api.csv(S.quantity).then(text => copy(text, "CSV copied")) }, "Copy CSV"),
    h("button", { type: "button", onclick: () => { const url = keepAddress(); url.hash = section; void copy(url.href, "Link copied, with speed and settings"); } }, "Copy link"),
    more.table && h("button", { type: "button", "aria-expanded": "false", onclick: event => showTable(event.target as HTMLElement, figureOf(event), more.table!) }, "Show table"));
}

function showTable(button: HTMLElement, figure: HTMLElement, make: () => HTMLElement): void {
  const open = button.getAttribute("aria-expanded") === "true";
  figure.querySelector(".nums")?.remove();
  button.setAttribute("aria-expanded", String(!open));
  button.textContent = open ? "Show table" : "Hide table";
  if (!open) figure.append(make());
}

// The verdict goes along on top of a copied figure, broken into lines as wide as the figure.
export async function figurePicture(figure: HTMLElement): Promise<Blob | null> {
  const plots = [...figure.querySelectorAll("canvas")], width = Math.max(...plots.map(plot => plot.width)), size = 44;
  const sheet = h("canvas"), c = sheet.getContext("2d")!, font = `500 ${size - 8}px "BW Serif"`;
  c.font = font;
  const lines = [""];
  for (const word of (figure.querySelector(".say")?.textContent ?? "").split(" ")) {
    const longer = `${lines.at(-1)} ${word}`.trim();
    if (c.measureText(longer).width > width - 16) lines.push(word); else lines[lines.length - 1] = longer;
  }
  sheet.width = width;
  sheet.height = lines.length * size + 24 + plots.reduce((sum, plot) => sum + plot.height, 0);
  c.fillStyle = token("sheet");
  c.fillRect(0, 0, sheet.width, sheet.height);
  c.fillStyle = token("ink");
  c.font = font;
  lines.forEach((words, i) => c.fillText(words, 8, (i + 1) * size));
  let y = lines.length * size + 24;
  for (const plot of plots) { c.drawImage(plot, 0, y); y += plot.height; }
  return new Promise(done => sheet.toBlob(done, "image/png"));
}

async function copyFigure(figure: HTMLElement): Promise<void> {
  const picture = await figurePicture(figure);
  try {
    await navigator.clipboard.write([new ClipboardItem({ "image/png": picture! })]);
    say("Figure copied, verdict on top");
  } catch { say("This browser refuses pictures on the clipboard. Use Copy CSV."); }
}
