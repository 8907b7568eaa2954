// What the pages that draw on a sheet share: points of the drawing, its marks, and
// arrow keys.
export const svgNS = "http://www.w3.org/2000/svg";

export interface Point {
  x: number;
  y: number;
}

// svgMake builds a part of a drawing with its attributes and text.
export function svgMake<K extends keyof SVGElementTagNameMap>(tag: K, attributes: Record<string, string | number>, text = ""): SVGElementTagNameMap[K] {
  const e = document.createElementNS(svgNS, tag);
  for (const [name, value] of Object.entries(attributes)) e.setAttribute(name, String(value));
  if (text) e.textContent = text;
  return e;
}

// pointAt gives a place on the screen in the drawing's own units.
export function pointAt(svg: SVGSVGElement, event: MouseEvent): Point | null {
  const matrix = svg.getScreenCTM();
  if (!matrix) return null;
  return new DOMPoint(event.clientX, event.clientY).matrixTransform(matrix.inverse());
}

// follow goes with a finger or the mouse from where it was put down until it is
// lifted. Less than still pixels are no move; end says whether there was one.
export function follow(down: PointerEvent, still: number, move: (event: PointerEvent, first: boolean) => void, end: (moved: boolean) => void): void {
  let moved = false;
  const onMove = (event: PointerEvent): void => {
    if (event.pointerId !== down.pointerId) return;
    if (!moved && Math.hypot(event.clientX - down.clientX, event.clientY - down.clientY) < still) return;
    const first = !moved;
    moved = true;
    move(event, first);
  };
  const ends = ["pointerup", "pointercancel"] as const;
  const onEnd = (event: PointerEvent): void => {
    if (event.pointerId !== down.pointerId) return;
    removeEventListener("pointermove", onMove);
    for (const name of ends) removeEventListener(name, onEnd);
    end(moved);
  };
  addEventListener("pointermove", onMove);
  for (const name of ends) addEventListener(name, onEnd);
}

// arrow gives the direction of an arrow key, y up; null for any other key.
export function arrow(key: string): Point | null {
  const ways: Record<string, Point> = {
    ArrowLeft: { x: -1, y: 0 },
    ArrowRight: { x: 1, y: 0 },
    ArrowUp: { x: 0, y: 1 },
    ArrowDown: { x: 0, y: -1 },
  };
  return ways[key] ?? null;
}
