// all finds every element of one type that a selector names.
export function all<T extends Element>(selector: string, type: new () => T, root: ParentNode = document): T[] {
  return [...root.querySelectorAll(selector)].filter((e): e is T => e instanceof type);
}

// byId finds an element of one type.
export function byId<T extends Element>(id: string, type: new () => T): T | null {
  const found = document.getElementById(id);
  return found instanceof type ? found : null;
}

// make builds an element with text in it; text is never read as markup.
export function make<K extends keyof HTMLElementTagNameMap>(tag: K, text = "", className = ""): HTMLElementTagNameMap[K] {
  const e = document.createElement(tag);
  e.textContent = text;
  if (className) e.className = className;
  return e;
}
