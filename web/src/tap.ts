import { all, byId } from "./dom";

// tapDrawings lets a tap on the drawing of a wall set x and z of the form. The
// drawing is in millimetres: x from the left end, y down from the top.
export function tapDrawings(): void {
  for (const holder of all(".tap-drawing[data-x]", HTMLElement)) {
    const svg = holder.querySelector("svg");
    const x = byId(holder.dataset["x"] ?? "", HTMLInputElement);
    const z = byId(holder.dataset["z"] ?? "", HTMLInputElement);
    if (svg && x && z) {
      tap(holder, svg, x, z);
      follow(holder, x, z);
    }
  }
}

function tap(holder: HTMLElement, svg: SVGSVGElement, x: HTMLInputElement, z: HTMLInputElement): void {
  const height = Number(holder.dataset["height"]);
  const length = Number(holder.dataset["length"]);
  const mark = document.createElementNS("http://www.w3.org/2000/svg", "path");
  mark.setAttribute("class", "tap-mark");
  const draw = (): void => {
    const mx = Number(x.value) * 1000;
    const mz = Number(z.value) * 1000;
    if (x.value === "" || z.value === "" || Number.isNaN(mx + mz)) mark.remove();
    else {
      mark.setAttribute("d", `M${mx - 300} ${height - mz}h600M${mx} ${height - mz - 300}v600`);
      svg.append(mark);
    }
  };
  holder.classList.add("tappable");
  svg.addEventListener("click", (event) => {
    const matrix = svg.getScreenCTM();
    if (!matrix) return;
    event.preventDefault(); // a snag's link would leave the form
    const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(matrix.inverse());
    const mx = Math.min(Math.max(at.x, 0), length);
    const mz = Math.min(Math.max(height - at.y, 0), height);
    x.value = (Math.round(mx / 10) / 100).toFixed(2);
    z.value = (Math.round(mz / 10) / 100).toFixed(2);
    // Bay and lift follow from x and z; a typed one might contradict the tap.
    for (const name of ["bay", "lift"]) {
      const field = x.form?.elements.namedItem(name);
      if (field instanceof HTMLInputElement) field.value = "";
    }
    x.dispatchEvent(new Event("input", { bubbles: true }));
  });
  x.addEventListener("input", draw);
  z.addEventListener("input", draw);
  draw();
}

// follow says which bay and lift a place lies in, and hides a drawing that is of
// another wall than the one chosen.
function follow(holder: HTMLElement, x: HTMLInputElement, z: HTMLInputElement): void {
  const cell = x.form?.querySelector("[data-cell]");
  const ends = (name: string): number[] => (holder.dataset[name] ?? "").split(" ").filter(Boolean).map(Number);
  const found = (word: string, list: number[], metres: string): string => {
    const at = list.findIndex((end) => Number(metres) * 1000 <= end);
    return metres === "" || at < 0 ? "" : `${word} ${at + 1}`;
  };
  const tell = (): void => {
    if (!cell) return;
    const words = [found("bay", ends("bays"), x.value), found("lift", ends("lifts"), z.value)].filter(Boolean);
    cell.textContent = words.length > 0 ? `That is ${words.join(", ")}.` : "";
  };
  x.addEventListener("input", tell);
  z.addEventListener("input", tell);
  const wall = byId(holder.dataset["of"] ?? "", HTMLSelectElement);
  const stale = x.form?.querySelector("[data-stale]");
  wall?.addEventListener("change", () => {
    const other = wall.value !== holder.dataset["wall"];
    const shown = holder.closest(".zoomable") ?? holder;
    if (shown instanceof HTMLElement) shown.hidden = other;
    if (stale instanceof HTMLElement) stale.hidden = !other;
  });
}
