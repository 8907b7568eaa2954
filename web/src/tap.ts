import { all, byId } from "./dom";

// tapDrawings lets a tap on the drawing of a wall set x and z of the form. The
// drawing is in millimetres: x from the left end, y down from the top.
export function tapDrawings(): void {
  for (const holder of all(".tap-drawing[data-x]", HTMLElement)) {
    const svg = holder.querySelector("svg");
    const x = byId(holder.dataset["x"] ?? "", HTMLInputElement);
    const z = byId(holder.dataset["z"] ?? "", HTMLInputElement);
    if (svg && x && z) tap(holder, svg, x, z);
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
    draw();
  });
  x.addEventListener("input", draw);
  z.addEventListener("input", draw);
  draw();
}
