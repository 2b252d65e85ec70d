// Elements without markup: every text from a file or a person is put in as text, never as HTML.
export type Child = Node | string | number | null | undefined | false | Child[];
type Handlers = { [K in keyof HTMLElementEventMap as `on${K}`]?: (event: HTMLElementEventMap[K]) => void };
export type Props = Handlers & { [name: string]: unknown };

export function h<K extends keyof HTMLElementTagNameMap>(tag: K, props: Props = {}, ...children: Child[]): HTMLElementTagNameMap[K] {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(props)) {
    if (value === undefined || value === null || value === false) continue;
    if (typeof value === "function") element.addEventListener(name.slice(2), value as EventListener);
    else if (name === "value" || name === "checked") Reflect.set(element, name, value);
    else element.setAttribute(name, value === true ? "" : String(value));
  }
  put(element, children);
  return element;
}

export function put(element: Element, children: Child): void {
  for (const child of [children].flat(9) as (Node | string | number | null | undefined | false)[]) {
    if (child === null || child === undefined || child === false) continue;
    element.append(child instanceof Node ? child : unbroken(String(child)));
  }
}

// A range of numbers stays on one line.
const unbroken = (words: string): string => words.replace(/(\d)\u2013(\d)/g, "$1\u2060\u2013\u2060$2");

export function fill(element: Element, ...children: Child[]): void {
  element.replaceChildren();
  put(element, children);
}

export const byId = (id: string): HTMLElement => {
  const element = document.getElementById(id);
  if (!element) throw new Error(`no element ${id}`);
  return element;
};

// "gain shown" and "loss shown" keep their colours wherever a sentence says them.
export function coloured(sentence: string): Child[] {
  return sentence.split(/((?:gain|loss) shown)/i).map(part =>
    /^gain shown$/i.test(part) ? h("span", { class: "gain" }, part)
      : /^loss shown$/i.test(part) ? h("span", { class: "loss" }, part) : part);
}

let hiding: ReturnType<typeof setTimeout> | undefined;
export function say(words: string): void {
  const toast = byId("toast");
  toast.textContent = words;
  toast.classList.add("on");
  clearTimeout(hiding);
  hiding = setTimeout(() => toast.classList.remove("on"), 2200);
}
