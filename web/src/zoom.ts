import { all, make } from "./dom";
import { dragBox, onPinch } from "./gestures";
import type { Point } from "./sheet";

const most = 16; // times the drawing's first size
const nearFrom = 3; // from here on snags are drawn one by one
const shrunk = 0.5; // of its size when it was last laid: from here on it is laid anew
const step = 1.5; // of a button or key
const settleAfter = 160; // ms without a turn of the wheel
const glide = 160; // ms that a step takes

// zoomDrawings lets drawings of a wall be enlarged about the fingers, the pointer
// or the middle. The box scrolls by itself, so one finger, the arrows and Tab work
// as everywhere; with nothing to scroll they move the page.
export function zoomDrawings(): void {
  for (const box of all(".tap-drawing", HTMLElement)) {
    const svg = box.querySelector("svg");
    if (svg) new Zoom(box, svg);
  }
}

class Zoom {
  private zoom = 1; // as it lies there
  private live = 1; // while under way: times that
  private base = { width: 0, height: 0 }; // of the drawing at 1
  private shift = { x: 0, y: 0 }; // of the drawing while under way
  private timer = 0;
  private frame = 0;
  private readonly said = make("span", "", "zoom-said");
  // The drawing lies on a sheet, which is what is stretched: a browser lays all the
  // writing of a drawing out anew when the drawing itself is.
  private readonly sheet = make("div", "", "sheet");
  private readonly lines: SVGElement; // those whose thickness is of the screen

  constructor(
    private readonly box: HTMLElement,
    private readonly svg: SVGSVGElement,
  ) {
    this.lines = svg.querySelector<SVGElement>(".lines") ?? svg;
    this.addBar();
    this.measure();
    box.addEventListener("wheel", (e) => this.onWheel(e), { passive: false });
    box.addEventListener("keydown", (e) => this.onKey(e));
    onPinch(box, (times, from, to) => this.move(this.target() * times, from, to), () => this.settle());
    dragBox(box, () => this.settle());
    box.addEventListener("focusin", (e) => this.bring(e.target));
    let width = box.offsetWidth;
    new ResizeObserver(() => {
      if (box.offsetWidth === width) return;
      width = box.offsetWidth;
      this.reset();
    }).observe(box);
  }

  // measure takes the drawing's first size, and keeps the box as high as that.
  private measure(): void {
    const size = this.svg.getBoundingClientRect();
    this.base = { width: size.width, height: size.height };
    this.box.style.height = `${Math.ceil(this.box.getBoundingClientRect().height)}px`;
  }

  private least(): number {
    return Math.min(1, this.box.clientWidth / Math.max(this.base.width, 1));
  }

  private within(zoom: number): number {
    return Math.min(Math.max(zoom, this.least()), most);
  }

  private target(): number {
    return this.zoom * this.live;
  }

  private middle(): Point {
    const at = this.box.getBoundingClientRect();
    return { x: at.left + this.box.clientWidth / 2, y: at.top + this.box.clientHeight / 2 };
  }

  // move enlarges to so many times, so that what was at one place of the screen
  // is at another. The picture that is there is stretched, which costs little;
  // settle has it drawn anew.
  private move(zoom: number, from: Point, to: Point = from): void {
    const { box, shift, base } = this;
    const at = box.getBoundingClientRect();
    const size = this.within(zoom);
    const part = size / this.target();
    shift.x = shifted(box.scrollLeft, to.x - at.left, (from.x - at.left - shift.x + box.scrollLeft) * part, base.width * size - box.clientWidth);
    shift.y = shifted(box.scrollTop, to.y - at.top, (from.y - at.top - shift.y + box.scrollTop) * part, base.height * size - box.clientHeight);
    this.live = size / this.zoom;
    this.sheet.style.willChange = "transform";
    this.sheet.style.transform = `translate(${shift.x}px, ${shift.y}px) scale(${size})`;
    // A stretched picture is kept as fine as it was laid. Made much smaller, it takes
    // in more and more of the wall at a fineness that nobody sees.
    if (this.live < shrunk || (this.live < 1 && size < nearFrom && this.zoom >= nearFrom)) this.settle();
  }

  // settle leaves the drawing at the size it has been stretched to, and turns its
  // shift into the box's scrolling. It stays a stretched picture to the layout of the
  // page, since laying thousands of numbers out anew takes longer than a frame.
  private settle(): void {
    clearTimeout(this.timer);
    cancelAnimationFrame(this.frame);
    if (this.live === 1 && this.shift.x === 0 && this.shift.y === 0) return;
    const left = this.box.scrollLeft - this.shift.x;
    const top = this.box.scrollTop - this.shift.y;
    this.lay(this.target());
    this.box.scrollLeft = left;
    this.box.scrollTop = top;
  }

  private lay(zoom: number): void {
    this.zoom = zoom;
    this.live = 1;
    this.shift = { x: 0, y: 0 };
    this.sheet.style.willChange = "";
    this.sheet.style.transform = zoom === 1 ? "" : `scale(${zoom})`;
    this.lines.style.setProperty("--zoom", String(zoom)); // lines keep their thickness
    this.box.classList.toggle("whole", zoom < 1 && this.base.width * zoom <= this.box.clientWidth + 1);
    this.showNear(zoom >= nearFrom);
    this.say();
  }

  // reset goes back to what the page shows without a script.
  private reset(): void {
    clearTimeout(this.timer);
    cancelAnimationFrame(this.frame);
    this.lay(1);
    this.box.style.height = "";
    this.measure();
  }

  // showNear changes between the layers of snags and takes the focus along.
  private showNear(near: boolean): void {
    if (near === this.svg.classList.contains("near")) return;
    const focused = document.activeElement;
    const lost = focused instanceof SVGElement && focused.closest(".snags-far, .snags-near") !== null;
    this.svg.classList.toggle("near", near);
    if (!lost) return;
    const twin = document.getElementById(near ? `near-${focused.id}` : focused.id.replace(/^near-/, ""));
    if (twin instanceof SVGElement) twin.focus({ preventScroll: true });
    else this.box.focus({ preventScroll: true });
  }

  // bring scrolls to what has got the focus; browsers differ in what they do by
  // themselves for parts of a drawing.
  private bring(target: EventTarget | null): void {
    if (!(target instanceof SVGElement) || !target.matches(":focus-visible")) return;
    this.settle();
    const brick = (target.querySelector(".snag-brick") ?? target).getBoundingClientRect();
    const box = this.box.getBoundingClientRect();
    this.box.scrollLeft += into(brick.left, brick.right, box.left, box.left + this.box.clientWidth);
    this.box.scrollTop += into(brick.top, brick.bottom, box.top, box.top + this.box.clientHeight);
    const at = target.getBoundingClientRect();
    scrollBy(0, into(at.top, at.bottom, 0, innerHeight));
  }

  // step enlarges about the middle, in a short glide where the reader has not
  // asked for less motion.
  private step(zoom: number): void {
    this.settle();
    const at = this.middle();
    const from = this.zoom;
    const to = this.within(zoom);
    if (matchMedia("(prefers-reduced-motion: reduce)").matches) {
      this.move(to, at);
      this.settle();
      return;
    }
    const start = performance.now();
    const go = (now: number): void => {
      const part = Math.min(Math.max((now - start) / glide, 0), 1);
      this.move(from * (to / from) ** part, at);
      if (part < 1) this.frame = requestAnimationFrame(go);
      else this.settle();
    };
    this.frame = requestAnimationFrame(go);
  }

  private say(): void {
    this.said.textContent = `${(Math.round(this.zoom * 10) / 10).toFixed(1)} ×`;
  }

  private addBar(): void {
    const bar = make("div", "", "zoom-bar");
    bar.setAttribute("role", "group");
    bar.setAttribute("aria-label", "Size of the drawing");
    const add = (text: string, label: string, act: () => void): void => {
      const button = make("button", text);
      button.type = "button";
      if (label) button.setAttribute("aria-label", label);
      button.addEventListener("click", act);
      bar.append(button);
    };
    add("+", "Larger", () => this.step(this.target() * step));
    add("−", "Smaller", () => this.step(this.target() / step));
    add("Whole wall", "", () => this.step(this.least()));
    this.said.setAttribute("role", "status");
    bar.append(this.said);
    const wrap = make("div", "", "zoomable");
    this.box.replaceWith(wrap);
    wrap.append(bar, this.box);
    this.svg.replaceWith(this.sheet);
    this.sheet.append(this.svg);
    this.say();
  }

  // onWheel enlarges while Ctrl is held, as for a page, or once the drawing has
  // the focus; else, and at either end, the wheel moves the page.
  private onWheel(e: WheelEvent): void {
    if (e.shiftKey || (!e.ctrlKey && !e.metaKey && !this.box.matches(":focus-within"))) return;
    const lines = e.deltaMode === WheelEvent.DOM_DELTA_LINE ? 16 : 1;
    const to = this.target() * Math.exp((-e.deltaY * lines) / (e.ctrlKey ? 200 : 400));
    if (Math.abs(this.within(to) - this.target()) < 1e-6 && !e.ctrlKey) return;
    e.preventDefault();
    cancelAnimationFrame(this.frame);
    this.move(to, { x: e.clientX, y: e.clientY });
    clearTimeout(this.timer);
    this.timer = setTimeout(() => this.settle(), settleAfter);
  }

  private onKey(e: KeyboardEvent): void {
    if (e.ctrlKey || e.metaKey || e.altKey) return;
    const times = { "+": step, "=": step, "-": 1 / step, _: 1 / step, "0": 0 }[e.key];
    if (times === undefined) return;
    e.preventDefault();
    this.step(this.target() * times);
  }
}

// shifted is a drawing's shift along one axis, held so that the box can be
// scrolled to what it shows.
function shifted(scroll: number, to: number, at: number, room: number): number {
  return scroll - Math.min(Math.max(at - to, 0), Math.max(room, 0));
}

// into is how far to scroll so that a stretch comes to lie within another, with
// some room about it.
function into(from: number, to: number, low: number, high: number): number {
  const room = Math.min(24, Math.max(high - low - (to - from), 0) / 2);
  if (from < low + room) return from - low - room;
  return Math.max(to - high + room, 0);
}
