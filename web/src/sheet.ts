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
