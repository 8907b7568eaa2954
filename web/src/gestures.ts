import type { Point } from "./sheet";

// onPinch tells of two fingers: how many times they have moved apart, and from
// where to where their middle went. One finger is left to the browser.
export function onPinch(box: HTMLElement, move: (times: number, from: Point, to: Point) => void, end: () => void): void {
  let last: { at: Point; apart: number } | null = null;
  const onTouch = (e: TouchEvent): void => {
    const now = fingers(e);
    if (now && e.cancelable) e.preventDefault();
    if (now && last && e.type === "touchmove") move(now.apart / last.apart, last.at, now.at);
    if (last && !now) end();
    last = now;
  };
  for (const name of ["touchstart", "touchmove", "touchend", "touchcancel"] as const) {
    box.addEventListener(name, onTouch, { passive: false });
  }
}

function fingers(e: TouchEvent): { at: Point; apart: number } | null {
  const [a, b] = [e.touches[0], e.touches[1]];
  if (!a || !b) return null;
  return {
    at: { x: (a.clientX + b.clientX) / 2, y: (a.clientY + b.clientY) / 2 },
    apart: Math.max(Math.hypot(a.clientX - b.clientX, a.clientY - b.clientY), 1),
  };
}

const stillWithin = 5; // pixels that a press may move and stay a click

// dragBox scrolls a box with the mouse's main button.
export function dragBox(box: HTMLElement, begin: () => void): void {
  let from: { x: number; y: number; left: number; top: number } | null = null;
  let moved = false;
  box.addEventListener("pointerdown", (e) => {
    moved = false;
    if (e.pointerType === "mouse" && e.button === 0) from = { x: e.clientX, y: e.clientY, left: box.scrollLeft, top: box.scrollTop };
  });
  box.addEventListener("pointermove", (e) => {
    if (!from || (e.buttons & 1) === 0) return;
    if (!moved) {
      if (Math.hypot(e.clientX - from.x, e.clientY - from.y) < stillWithin) return;
      moved = true;
      begin();
      box.setPointerCapture(e.pointerId);
    }
    box.scrollLeft = from.left + from.x - e.clientX;
    box.scrollTop = from.top + from.y - e.clientY;
  });
  const end = (): void => {
    from = null;
  };
  box.addEventListener("pointerup", end);
  box.addEventListener("pointercancel", end);
  box.addEventListener("dragstart", (e) => e.preventDefault()); // of a link
  box.addEventListener(
    "click",
    (e) => {
      if (!moved) return;
      moved = false;
      e.preventDefault();
      e.stopPropagation();
    },
    true,
  );
}
