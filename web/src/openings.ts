import { all } from "./dom";
import { arrow, follow, pointAt, svgMake, type Point } from "./sheet";

// placeOpenings lets openings be moved and resized on the drawing of a wall. The
// numbers stay in the table below it, which the form sends as it stands; nothing
// is kept before that.
export function placeOpenings(): void {
  for (const form of all("[data-openings]", HTMLFormElement)) {
    const svg = form.querySelector<SVGSVGElement>(".openings-sheet");
    if (svg) new Openings(form, svg).start();
  }
}

// Box is an opening in millimetres, z up from the base line.
interface Box {
  x: number;
  z: number;
  w: number;
  h: number;
}

const least = 100; // mm, of a width or height that is dragged
const grid = 10; // mm

// The corners of an opening that can be dragged: which sides each of them moves.
const corners = [
  { name: "lower left", x: 0, z: 0 },
  { name: "lower right", x: 1, z: 0 },
  { name: "upper right", x: 1, z: 1 },
  { name: "upper left", x: 0, z: 1 },
];

class Openings {
  private readonly rows: HTMLTableRowElement[];
  private readonly layer: SVGGElement;
  private readonly length: number;
  private readonly height: number;
  private readonly base: number;
  private readonly size: number;
  private readonly past: string[][] = [];
  private chosen = -1;
  private corner = -1;

  constructor(
    private readonly form: HTMLFormElement,
    private readonly svg: SVGSVGElement,
  ) {
    this.rows = all("tr[data-row]", HTMLTableRowElement, form);
    this.layer = svg.querySelector<SVGGElement>(".openings-drawn") ?? svg.appendChild(svgMake("g", {}));
    this.length = Number(svg.dataset["length"]);
    this.height = Number(svg.dataset["height"]);
    this.base = Number(svg.dataset["base"]);
    this.size = Number(svg.dataset["text"]);
  }

  start(): void {
    for (const e of all("[data-tools],[data-say],[data-help]", HTMLElement, this.form)) e.hidden = false;
    this.form.addEventListener("input", () => this.draw());
    this.svg.addEventListener("keydown", (event) => this.key(event));
    this.form.addEventListener("click", (event) => {
      const act = event.target instanceof Element ? event.target.closest<HTMLElement>("[data-act]")?.dataset["act"] : undefined;
      if (act) this.act(act);
    });
    this.draw();
  }

  private input(row: number, name: string): HTMLInputElement | HTMLSelectElement | null {
    const e = this.form.elements.namedItem(`${name}-${row}`);
    return e instanceof HTMLInputElement || e instanceof HTMLSelectElement ? e : null;
  }

  private text(row: number, name: string): string {
    return this.input(row, name)?.value.trim() ?? "";
  }

  private dropped(row: number): boolean {
    const e = this.input(row, "drop");
    return e instanceof HTMLInputElement && e.checked;
  }

  private box(row: number): Box | null {
    const [x, z, w, h] = ["x", "z", "width", "height"].map((n) => (this.text(row, n) === "" ? NaN : Math.round(Number(this.text(row, n)) * 1000)));
    if (x === undefined || z === undefined || w === undefined || h === undefined || Number.isNaN(x + z + w + h) || w <= 0 || h <= 0) return null;
    return this.dropped(row) ? null : { x, z, w, h };
  }

  private put(row: number, b: Box): void {
    const values: Record<string, number> = { x: b.x, z: b.z, width: b.w, height: b.h };
    for (const [name, mm] of Object.entries(values)) {
      const e = this.input(row, name);
      if (e) e.value = (mm / 1000).toFixed(3);
    }
    this.draw();
  }

  private fields(): (HTMLInputElement | HTMLSelectElement)[] {
    return this.rows.flatMap((row) => [...row.querySelectorAll<HTMLInputElement | HTMLSelectElement>("input, select")]);
  }

  private keep(): void {
    this.past.push(this.fields().map((e) => (e instanceof HTMLInputElement && e.type === "checkbox" ? String(e.checked) : e.value)));
  }

  private act(act: string): void {
    switch (act) {
      case "add-window":
        this.add("window", { x: 0, z: 900, w: 1200, h: 1200 });
        break;
      case "add-door":
        this.add("door", { x: 0, z: 0, w: 1000, h: 2100 });
        break;
      case "remove":
        this.remove();
        break;
      case "undo":
        this.undo();
    }
  }

  // add fills the first empty row, with the opening where there is room for it.
  private add(kind: string, b: Box): void {
    const row = this.rows.findIndex((_, i) => ["name", "x", "z", "width", "height"].every((n) => this.text(i, n) === ""));
    if (row < 0) {
      this.say("All rows are in use: save the openings, then there are more.");
      return;
    }
    this.keep();
    b.w = Math.min(b.w, this.length);
    b.h = Math.min(b.h, this.height - b.z);
    const others = this.rows.map((_, i) => this.box(i)).filter((o): o is Box => o !== null);
    for (b.x = 0; b.x + b.w < this.length && others.some((o) => clash(o, b)); b.x += 100);
    const name = this.input(row, "name");
    const sort = this.input(row, "kind");
    if (name) name.value = this.freeName(kind);
    if (sort) sort.value = kind;
    this.chosen = row;
    this.corner = -1;
    this.put(row, b);
    this.focus();
    this.tell();
  }

  // freeName is W01, W02 and on for windows, D01 and on for doors.
  private freeName(kind: string): string {
    const taken = new Set(this.rows.map((_, i) => this.text(i, "name").toLowerCase()));
    const letter = kind === "door" ? "D" : "W";
    for (let n = 1; ; n++) {
      const name = letter + String(n).padStart(2, "0");
      if (!taken.has(name.toLowerCase())) return name;
    }
  }

  private remove(): void {
    const e = this.chosen < 0 ? null : this.input(this.chosen, "drop");
    if (!(e instanceof HTMLInputElement)) {
      this.say("Choose an opening first.");
      return;
    }
    this.keep();
    e.checked = true;
    this.say(`${this.text(this.chosen, "name")} goes when you save.`);
    this.chosen = -1;
    this.draw();
  }

  private undo(): void {
    const was = this.past.pop();
    if (!was) {
      this.say("There is nothing to undo.");
      return;
    }
    this.fields().forEach((e, i) => {
      if (e instanceof HTMLInputElement && e.type === "checkbox") e.checked = was[i] === "true";
      else e.value = was[i] ?? "";
    });
    this.draw();
  }

  private key(event: KeyboardEvent): void {
    const b = this.chosen < 0 ? null : this.box(this.chosen);
    const way = arrow(event.key);
    if (b && way) {
      event.preventDefault();
      this.keep();
      const step = event.shiftKey ? 100 : grid;
      this.put(this.chosen, this.changed(b, this.corner, way.x * step, way.y * step));
      this.focus();
      this.tell();
    } else if (b && event.key === "Delete") {
      event.preventDefault();
      this.remove();
    }
  }

  // changed moves an opening, or one of its corners, and keeps it within the face.
  private changed(b: Box, corner: number, dx: number, dz: number): Box {
    const c = corners[corner];
    if (!c) {
      return { ...b, x: bound(b.x + dx, 0, this.length - b.w), z: bound(b.z + dz, -this.base, this.height - b.h) };
    }
    let [left, right, low, high] = [b.x, b.x + b.w, b.z, b.z + b.h];
    if (c.x) right = bound(right + dx, left + least, this.length);
    else left = bound(left + dx, 0, right - least);
    if (c.z) high = bound(high + dz, low + least, this.height);
    else low = bound(low + dz, -this.base, high - least);
    return { x: left, z: low, w: right - left, h: high - low };
  }

  private drag(row: number, corner: number, down: PointerEvent): void {
    const b = this.box(row);
    const from = pointAt(this.svg, down);
    if (!b || !from) return;
    down.preventDefault();
    down.stopPropagation();
    this.chosen = row;
    this.corner = corner;
    const move = (event: PointerEvent, first: boolean): void => {
      const to = pointAt(this.svg, event);
      if (!to) return;
      if (first) this.keep();
      this.put(row, this.dragged(b, corner, from, to));
      this.tell();
    };
    follow(down, 4, move, () => {
      this.draw();
      this.focus();
      this.tell();
    });
  }

  // dragged keeps what is moved on whole centimetres.
  private dragged(b: Box, corner: number, from: Point, to: Point): Box {
    const c = corners[corner];
    const x = b.x + (c?.x ? b.w : 0);
    const z = b.z + (c?.z ? b.h : 0);
    const dx = Math.round((x + to.x - from.x) / grid) * grid - x;
    const dz = Math.round((z - to.y + from.y) / grid) * grid - z;
    return this.changed(b, corner, dx, dz);
  }

  private focus(): void {
    const at = this.corner < 0 ? `[data-opening="${this.chosen}"]` : `[data-of="${this.chosen}"][data-corner="${this.corner}"]`;
    this.layer.querySelector<SVGElement>(at)?.focus();
  }

  private tell(): void {
    const b = this.chosen < 0 ? null : this.box(this.chosen);
    if (!b) return;
    const m = (mm: number): string => (mm / 1000).toFixed(3);
    const over = this.rows.findIndex((_, i) => i !== this.chosen && this.box(i) !== null && clash(this.box(i) as Box, b));
    const warn = over < 0 ? "" : ` It overlaps ${this.text(over, "name")}.`;
    this.say(`${this.text(this.chosen, "name")}: x ${m(b.x)}, z ${m(b.z)}, ${m(b.w)} wide, ${m(b.h)} high.${warn}`);
  }

  private say(text: string): void {
    const line = this.form.querySelector("[data-say]");
    if (line) line.textContent = text;
  }

  private draw(): void {
    this.layer.replaceChildren();
    const boxes = this.rows.map((_, i) => this.box(i));
    boxes.forEach((b, i) => {
      if (!b) return;
      const wrong = boxes.some((o, k) => k !== i && o !== null && clash(o, b)) || b.x < 0 || b.z < -this.base || b.x + b.w > this.length || b.z + b.h > this.height;
      this.layer.append(this.opening(i, b, wrong));
    });
    const b = this.chosen < 0 ? null : (boxes[this.chosen] ?? null);
    if (b) corners.forEach((_, k) => this.layer.append(this.handle(this.chosen, k, b)));
  }

  private opening(row: number, b: Box, wrong: boolean): SVGGElement {
    const name = this.text(row, "name");
    const g = svgMake("g", {
      class: `wall-opening edit-opening${row === this.chosen ? " chosen" : ""}${wrong ? " clash" : ""}`, tabindex: 0, role: "button", "data-opening": row,
      "aria-label": `${this.text(row, "kind")} ${name}${wrong ? ", does not fit" : ""}`,
    });
    const y = this.height - b.z - b.h;
    g.append(svgMake("rect", { x: b.x, y, width: b.w, height: b.h }));
    const size = Math.min(this.size, b.h * 0.8, (b.w * 0.9) / (0.7 * Math.max(name.length, 1)));
    g.append(svgMake("text", { class: "wall-note", x: b.x + b.w / 2, y: y + b.h / 2 + size / 3, "font-size": size, "text-anchor": "middle" }, name));
    g.addEventListener("focus", () => this.choose(row, -1));
    g.addEventListener("pointerdown", (event) => this.drag(row, -1, event));
    return g;
  }

  private handle(row: number, k: number, b: Box): SVGGElement {
    const c = corners[k];
    const x = b.x + (c?.x ? b.w : 0);
    const y = this.height - b.z - (c?.z ? b.h : 0);
    const g = svgMake("g", { class: "opening-handle", tabindex: 0, role: "button", "data-of": row, "data-corner": k, "aria-label": `${c?.name ?? ""} corner of ${this.text(row, "name")}` });
    g.append(
      svgMake("circle", { class: "draft-hit", cx: x, cy: y, r: Math.max(1.1 * this.size, Math.min(b.w, b.h) / 6) }),
      svgMake("circle", { class: "opening-grip", cx: x, cy: y, r: 0.45 * this.size }),
    );
    g.addEventListener("focus", () => {
      this.corner = k;
    });
    g.addEventListener("pointerdown", (event) => this.drag(row, k, event));
    return g;
  }

  private choose(row: number, corner: number): void {
    this.corner = corner;
    if (this.chosen === row) return;
    this.chosen = row;
    this.draw();
    this.focus();
    this.tell();
  }
}

function clash(a: Box, b: Box): boolean {
  return a.x < b.x + b.w && b.x < a.x + a.w && a.z < b.z + b.h && b.z < a.z + a.h;
}

function bound(v: number, low: number, high: number): number {
  return Math.min(Math.max(v, low), Math.max(low, high));
}
