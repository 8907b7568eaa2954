import { svgMake, type Point } from "./sheet";

// Corners of a building in metres east and north: the outline, then its courtyards.

const courtWord = "courtyard";

// ringsIn reads corners one a line; the word "courtyard" begins a further ring.
export function ringsIn(text: string): Point[][] {
  let ring: Point[] = [];
  const rings = [ring];
  for (const line of text.split("\n")) {
    const words = line.trim().split(/[\s;,]+/);
    if (words.length === 1 && words[0]?.toLowerCase() === courtWord) rings.push((ring = []));
    const [x, y] = words.map(Number);
    if (words.length === 2 && x !== undefined && y !== undefined && Number.isFinite(x) && Number.isFinite(y)) ring.push({ x, y });
  }
  return rings;
}

// ringsText writes what ringsIn reads.
export function ringsText(rings: Point[][]): string {
  return rings.map((ring) => ring.map((p) => `${p.x.toFixed(3)} ${p.y.toFixed(3)}\n`).join("")).join(courtWord + "\n");
}

// cornerWords says where a corner of a ring lies; "" for none.
export function cornerWords(ring: Point[], i: number): string {
  const p = ring[i];
  if (!p) return "";
  const before = ring[(i + ring.length - 1) % ring.length];
  const length = before && ring.length > 1 ? `, ${Math.hypot(p.x - before.x, p.y - before.y).toFixed(2)} m from the corner before` : "";
  return `Corner ${i + 1}: ${p.x.toFixed(2)} m east, ${p.y.toFixed(2)} m north${length}.`;
}

// cornerMark draws a corner that can be taken hold of, at a place of the sheet.
export function cornerMark(p: Point, ring: number, i: number, size: number): SVGGElement {
  const g = svgMake("g", {
    class: "draft-handle", tabindex: 0, role: "button", "data-ring": ring, "data-corner": i,
    "aria-label": ring ? `courtyard ${ring}, corner ${i + 1}` : `corner ${i + 1}`,
  });
  g.append(
    svgMake("circle", { class: "draft-hit", cx: p.x, cy: p.y, r: 1.5 * size }),
    svgMake("circle", { class: "draft-corner", cx: p.x, cy: p.y, r: 0.7 * size }),
    svgMake("text", { class: "draft-number", x: p.x, y: p.y + 0.3 * size, "font-size": 0.85 * size, "text-anchor": "middle" }, String(i + 1)),
  );
  return g;
}

// squared turns the step from the last corner of a ring into one at a right angle to
// the side before it, or along north and east for a first side. A corner within
// near of the level of the first one is brought onto it.
export function squared(ring: Point[], p: Point, near: number): Point {
  const from = ring[ring.length - 1];
  if (!from) return p;
  const before = ring[ring.length - 2];
  const along = before ? unitOf({ x: from.x - before.x, y: from.y - before.y }) : { x: 1, y: 0 };
  const step = { x: p.x - from.x, y: p.y - from.y };
  const a = step.x * along.x + step.y * along.y;
  const b = step.y * along.x - step.x * along.y;
  if (!before && Math.min(Math.abs(a), Math.abs(b)) > Math.max(Math.abs(a), Math.abs(b)) / 3) return p;
  const on = Math.abs(a) > Math.abs(b) ? { x: along.x * a, y: along.y * a } : { x: -along.y * b, y: along.x * b };
  return levelled(ring, { x: round(from.x + on.x), y: round(from.y + on.y) }, on, near);
}

// levelled lets a side end where the outline's first corner can be reached at a
// right angle, when it nearly does.
function levelled(ring: Point[], p: Point, on: Point, near: number): Point {
  const first = ring[0];
  if (!first || ring.length < 2) return p;
  const way = unitOf(on);
  const short = (first.x - p.x) * way.x + (first.y - p.y) * way.y;
  return Math.abs(short) < near ? { x: round(p.x + way.x * short), y: round(p.y + way.y * short) } : p;
}

// round keeps centimetres: nobody draws to less.
export function round(metres: number): number {
  return Math.round(metres * 100) / 100;
}

// areaOf is above 0 for a ring that runs anticlockwise.
export function areaOf(ring: Point[]): number {
  return ring.reduce((sum, a, i) => {
    const b = ring[(i + 1) % ring.length] ?? a;
    return sum + a.x * b.y - b.x * a.y;
  }, 0);
}

export function unitOf(p: Point): Point {
  const length = Math.hypot(p.x, p.y) || 1;
  return { x: p.x / length, y: p.y / length };
}
