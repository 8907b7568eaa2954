import { areaOf, cornerMark, cornerWords, ringsIn, ringsText, round, squared, unitOf } from "./corners";
import { all, byId } from "./dom";
import { arrow, follow, pointAt, svgMake, type Point } from "./sheet";

// drawOutlines lets a footprint be drawn on the plan, unless that shows a move that
// was asked for. The corners stay in their
// text field, one a line in metres east and north, so that the form is sent as if
// they had been typed; the word "courtyard" begins a further ring.
export function drawOutlines(): void {
  for (const box of all(".draft-box", HTMLElement)) {
    const field = byId(box.dataset["outline"] ?? "", HTMLTextAreaElement);
    const svg = box.querySelector("svg");
    if (field && svg && !("previewed" in box.dataset)) new Outline(box, svg, field).start();
  }
}

const letter = 14; // pixels, of the writing

class Outline {
  private rings: Point[][] = [];
  private at: { ring: number; corner: number } | null = null;
  private closed = false;
  private hover: Point | null = null;
  private readonly past: string[] = [];
  private readonly layer: SVGGElement;
  private readonly west: number;
  private readonly top: number;
  private size = 1; // of the writing, in metres
  private readonly full: DOMRect;
  private view: DOMRect;
  private panned = false;
  private readonly fixed: boolean;

  constructor(
    private readonly box: HTMLElement,
    private readonly svg: SVGSVGElement,
    private readonly field: HTMLTextAreaElement,
  ) {
    this.west = Number(svg.dataset["west"]);
    this.top = Number(svg.dataset["top"]);
    this.full = this.whole();
    this.view = this.full;
    this.fixed = "fixed" in box.dataset;
    this.layer = svg.querySelector<SVGGElement>(".draft") ?? svg.appendChild(svgMake("g", { class: "draft" }));
  }

  start(): void {
    for (const e of all("[data-tools],[data-say],[data-help]", HTMLElement, this.box)) e.hidden = false;
    this.svg.removeAttribute("role"); // corners in it can be chosen
    this.svg.classList.add("drawable");
    this.read();
    this.closed = this.rings.some((r) => r.length > 2);
    this.field.addEventListener("input", () => {
      this.read();
      this.closed = this.rings.some((r) => r.length > 2);
      this.draw();
    });
    this.unit()?.addEventListener("change", () => this.draw());
    this.svg.addEventListener("click", (event) => this.tap(event));
    this.svg.addEventListener("pointerdown", (event) => this.pan(event));
    addEventListener("resize", () => this.draw());
    this.svg.addEventListener("pointermove", (event) => this.reach(event));
    this.svg.addEventListener("pointerleave", () => this.reach(null));
    this.svg.addEventListener("keydown", (event) => this.key(event));
    this.box.addEventListener("click", (event) => {
      const act = event.target instanceof Element ? event.target.closest<HTMLElement>("[data-act]")?.dataset["act"] : undefined;
      if (act) this.act(act);
    });
    this.draw();
  }

  private whole(): DOMRect {
    const all = this.svg.viewBox.baseVal;
    return new DOMRect(all.x, all.y, all.width, all.height);
  }

  // zoom makes the sheet larger about the chosen corner, or its own middle.
  private zoom(by: number): void {
    const v = this.view;
    const chosen = this.at ? this.rings[this.at.ring]?.[this.at.corner] : undefined;
    const about = chosen ? this.toSheet(chosen) : { x: v.x + v.width / 2, y: v.y + v.height / 2 };
    this.show(new DOMRect(about.x - (v.width * by) / 2, about.y - (v.height * by) / 2, v.width * by, v.height * by));
    this.draw();
  }

  private show(v: DOMRect): void {
    const all = this.full;
    if (v.width >= all.width) v = all;
    this.view = v;
    this.svg.classList.toggle("zoomed", v.width < all.width);
    this.svg.setAttribute("viewBox", `${v.x} ${v.y} ${v.width} ${v.height}`);
  }

  // pan moves the sheet under a finger or the mouse; a short touch is a tap.
  private pan(down: PointerEvent): void {
    this.panned = false;
    if (this.view.width >= this.full.width || (down.target instanceof Element && down.target.closest("[data-corner]"))) return;
    const from = this.view;
    const scale = from.width / this.svg.clientWidth;
    const move = (event: PointerEvent): void => {
      this.panned = true;
      this.show(new DOMRect(from.x - (event.clientX - down.clientX) * scale, from.y - (event.clientY - down.clientY) * scale, from.width, from.height));
    };
    follow(down, 6, move, () => undefined);
  }

  private unit(): HTMLSelectElement | null {
    return byId(this.box.dataset["unit"] ?? "", HTMLSelectElement);
  }

  private off(): boolean {
    return this.unit()?.value === "degrees";
  }

  private snaps(): boolean {
    return this.box.querySelector<HTMLInputElement>("[data-snap]")?.checked ?? false;
  }

  private read(): void {
    this.rings = ringsIn(this.field.value);
  }

  private write(): void {
    this.field.value = ringsText(this.rings);
    this.draw();
  }

  // keep remembers what was, so that it can be undone.
  private keep(): void {
    this.past.push(this.field.value);
  }

  private last(): Point[] {
    const ring = this.rings[this.rings.length - 1];
    if (ring) return ring;
    const fresh: Point[] = [];
    this.rings.push(fresh);
    return fresh;
  }

  private toSheet(p: Point): Point {
    return { x: p.x - this.west, y: this.top - p.y };
  }

  private toGround(p: Point): Point {
    return { x: round(p.x + this.west), y: round(this.top - p.y) };
  }

  private squared(ring: Point[], p: Point): Point {
    return this.snaps() ? squared(ring, p, this.size / 2) : p;
  }

  private tap(event: MouseEvent): void {
    if (this.off() || this.fixed || this.panned) return;
    const target = event.target instanceof Element ? event.target.closest<SVGElement>("[data-corner]") : null;
    const ring = this.last();
    if (target) {
      const first = target.dataset["ring"] === String(this.rings.length - 1) && target.dataset["corner"] === "0";
      if (first && !this.closed && ring.length > 2) this.close();
      return;
    }
    const at = pointAt(this.svg, event);
    if (!at || this.closed) return;
    this.keep();
    ring.push(this.squared(ring, this.toGround(at)));
    this.at = { ring: this.rings.length - 1, corner: ring.length - 1 };
    this.hover = null;
    this.write();
    this.tell();
  }

  // reach shows the side that a tap would make, with its length, under a mouse.
  private reach(event: PointerEvent | null): void {
    const ring = this.last();
    const at = event && event.pointerType === "mouse" && !this.off() && !this.closed && !this.fixed && ring.length > 0 ? pointAt(this.svg, event) : null;
    if (!at && !this.hover) return;
    this.hover = at ? this.squared(ring, this.toGround(at)) : null;
    this.drawHover();
  }

  private close(): void {
    this.closed = true;
    this.say("Closed. Drag corners to correct them.");
    this.draw();
  }

  private act(act: string): void {
    if (this.off()) {
      this.say("Choose metres below to draw.");
      return;
    }
    const ring = this.last();
    switch (act) {
      case "close":
        if (ring.length > 2) this.close();
        else this.say("An outline needs at least three corners.");
        return;
      case "court":
        if (ring.length < 3) {
          this.say("Close the outline first.");
          return;
        }
        this.keep();
        this.rings.push([]);
        this.closed = false;
        this.at = null;
        this.write();
        this.say("Tap the corners of the courtyard.");
        return;
      case "insert":
        this.insert();
        return;
      case "remove":
        this.remove();
        return;
      case "undo":
        this.undo();
        return;
      case "larger":
        this.zoom(0.5);
        return;
      case "smaller":
        this.zoom(2);
    }
  }

  // insert puts a corner in the middle of the side after the chosen one, or a first
  // corner in the middle of the sheet, so that the keyboard can draw too.
  private insert(): void {
    this.keep();
    const where = this.at ?? { ring: this.rings.length - 1, corner: this.last().length - 1 };
    const ring = this.rings[where.ring] ?? this.last();
    const a = ring[where.corner];
    const b = ring[(where.corner + 1) % Math.max(ring.length, 1)];
    let p: Point;
    if (!a) p = this.toGround({ x: this.view.x + this.view.width / 2, y: this.view.y + this.view.height / 2 });
    else if (!b || ring.length < 3) p = { x: a.x + (ring.length % 2 === 1 ? 10 : 0), y: a.y + (ring.length % 2 === 1 ? 0 : 10) };
    else p = { x: round((a.x + b.x) / 2), y: round((a.y + b.y) / 2) };
    ring.splice(where.corner + 1, 0, p);
    this.choose(where.ring, Math.min(where.corner + 1, ring.length - 1));
    this.write();
    this.focus();
  }

  private remove(): void {
    if (!this.at) {
      this.say("Choose a corner first.");
      return;
    }
    this.keep();
    const ring = this.rings[this.at.ring];
    ring?.splice(this.at.corner, 1);
    if (ring?.length === 0 && this.rings.length > 1) this.rings.splice(this.at.ring, 1);
    if (this.rings.every((r) => r.length < 3)) this.closed = false;
    this.at = null;
    this.write();
    this.say("The corner is taken away.");
  }

  private undo(): void {
    const was = this.past.pop();
    if (was === undefined) {
      this.say("There is nothing to undo.");
      return;
    }
    this.field.value = was;
    this.at = null;
    this.read();
    if (this.last().length < 3) this.closed = false;
    this.draw();
  }

  private key(event: KeyboardEvent): void {
    if (!this.at || this.off()) return;
    const way = arrow(event.key);
    const p = this.rings[this.at.ring]?.[this.at.corner];
    if (way && p) {
      event.preventDefault();
      this.keep();
      const step = event.shiftKey ? 1 : 0.1;
      p.x = round(p.x + way.x * step);
      p.y = round(p.y + way.y * step);
      this.write();
      this.focus();
      this.tell();
    } else if ((event.key === "Delete" || event.key === "Backspace") && !this.fixed) {
      event.preventDefault();
      this.remove();
    }
  }

  private choose(ring: number, corner: number): void {
    this.at = { ring, corner };
  }

  private focus(): void {
    if (this.at) this.layer.querySelector<SVGElement>(`[data-ring="${this.at.ring}"][data-corner="${this.at.corner}"]`)?.focus();
  }

  private drag(handle: SVGElement, ring: number, corner: number, down: PointerEvent): void {
    const p = this.rings[ring]?.[corner];
    if (!p || this.off()) return;
    down.preventDefault();
    const was = this.field.value;
    const move = (event: PointerEvent): void => {
      const at = pointAt(this.svg, event);
      if (!at) return;
      this.choose(ring, corner);
      Object.assign(p, this.toGround(at));
      this.write();
      this.tell();
    };
    follow(down, 4, move, (moved) => {
      if (!moved) return; // a tap: the corner must stay for the click that follows
      this.past.push(was);
      this.draw();
      this.focus();
    });
    handle.focus();
  }

  private tell(): void {
    if (!this.at) return;
    const words = cornerWords(this.rings[this.at.ring] ?? [], this.at.corner);
    if (words) this.say(words);
  }

  private say(text: string): void {
    const line = this.box.querySelector("[data-say]");
    if (line) line.textContent = text;
  }

  private draw(): void {
    this.layer.replaceChildren();
    this.size = (this.view.width / Math.max(this.svg.clientWidth, 1)) * letter;
    if (this.off()) return;
    this.rings.forEach((ring, r) => this.drawRing(ring, r));
    this.drawHover();
  }

  private drawRing(ring: Point[], r: number): void {
    const open = !this.closed && r === this.rings.length - 1;
    const on = ring.map((p) => this.toSheet(p));
    const path = on.map((p, i) => `${i ? "L" : "M"}${p.x} ${p.y}`).join("") + (open ? "" : "Z");
    this.layer.append(svgMake("path", { class: open ? "draft-line draft-open" : "draft-line", d: path }));
    ring.forEach((a, i) => {
      const b = ring[(i + 1) % ring.length];
      if (!b || ring.length < 2 || (open && i === ring.length - 1) || (ring.length === 2 && i > 0)) return;
      this.layer.append(this.length(a, b, areaOf(ring)));
    });
    on.forEach((p, i) => this.layer.append(this.corner(p, r, i)));
  }

  // length writes how long a side is beside it, outside a ring of that area.
  private length(a: Point, b: Point, area: number): SVGTextElement {
    const way = unitOf({ x: b.x - a.x, y: b.y - a.y });
    const out = (area < 0 ? -1 : 1) * this.size;
    const mid = this.toSheet({ x: (a.x + b.x) / 2 + way.y * out * 2.1, y: (a.y + b.y) / 2 - way.x * out });
    return svgMake("text", { class: "draft-length", x: mid.x, y: mid.y + this.size / 3, "font-size": this.size, "text-anchor": "middle" }, Math.hypot(b.x - a.x, b.y - a.y).toFixed(2));
  }

  private corner(p: Point, r: number, i: number): SVGGElement {
    const chosen = this.at?.ring === r && this.at.corner === i;
    const g = cornerMark(p, r, i, this.size);
    g.classList.toggle("chosen", chosen);
    g.addEventListener("focus", () => {
      if (this.at?.ring === r && this.at.corner === i) return;
      this.layer.querySelectorAll(".chosen").forEach((e) => e.classList.remove("chosen"));
      g.classList.add("chosen");
      this.choose(r, i);
      this.tell();
    });
    g.addEventListener("pointerdown", (event) => this.drag(g, r, i, event));
    return g;
  }

  private drawHover(): void {
    this.layer.querySelectorAll(".draft-hover").forEach((e) => e.remove());
    const ring = this.last();
    const from = ring[ring.length - 1];
    if (!this.hover || !from || this.closed) return;
    const a = this.toSheet(from);
    const b = this.toSheet(this.hover);
    const text = this.length(from, this.hover, 1);
    text.classList.add("draft-hover");
    this.layer.prepend(svgMake("path", { class: "draft-line draft-hover", d: `M${a.x} ${a.y}L${b.x} ${b.y}` }));
    this.layer.append(text);
  }
}
