import { all, make } from "./dom";

const pause = 1500;
const tries = 12;

interface PhotoEvent {
  photo: string;
  view_copies_seq: number;
  reason?: string;
}

// awaitCopies shows view copies as they are made: told by the site's stream of
// events, and by asking again where that cannot be had.
export function awaitCopies(): void {
  const images = waiting();
  if (images.length === 0) return;
  const site = /^\/sites\/([^/]+)\//.exec(new URL(images[0]!.src).pathname)?.[1];
  if (site === undefined || !("EventSource" in window)) {
    images.forEach((image) => ask(image, 1));
    return;
  }
  // From before the oldest one, so that nothing falls between page and stream.
  const after = Math.min(...images.map((image) => Number(image.dataset.seq ?? "1") - 1));
  const stream = new EventSource(`/api/v1/sites/${site}/photos/events?after=${after}`);
  const hear = (kind: string, act: (image: HTMLImageElement, e: PhotoEvent) => void): void =>
    stream.addEventListener(kind, (message: MessageEvent<string>) => {
      const event = JSON.parse(message.data) as PhotoEvent;
      for (const image of waiting()) if (image.dataset.waiting === event.photo) act(image, event);
      if (waiting().length === 0) {
        stream.close();
        done();
      }
    });
  hear("ready", (image, e) => {
    image.src = `${image.src.split("?")[0]}?v=${e.view_copies_seq}`;
    image.removeAttribute("data-waiting");
  });
  hear("failed", (image, e) => fail(image, e.reason ?? ""));
  stream.addEventListener("error", () => {
    if (stream.readyState === EventSource.CLOSED) waiting().forEach((image) => ask(image, 1));
  });
  window.addEventListener("pagehide", () => stream.close());
}

function waiting(): HTMLImageElement[] {
  return all("img[data-waiting]", HTMLImageElement);
}

function done(): void {
  for (const note of all("[data-waiting-note]", HTMLElement)) note.remove();
}

// fail says in words what the page would say after loading it again.
function fail(image: HTMLImageElement, reason: string): void {
  image.replaceWith(make("span", `No view copy: ${reason}. The original is kept.`, "no-shot"));
}

function ask(image: HTMLImageElement, turn: number): void {
  if (turn > tries) return;
  setTimeout(async () => {
    try {
      const answer = await fetch(image.src, { cache: "reload" });
      if (answer.ok && answer.headers.get("Retry-After") === null) {
        image.src = URL.createObjectURL(await answer.blob());
        image.removeAttribute("data-waiting");
        if (waiting().length === 0) done();
        return;
      }
    } catch {
      // no signal: the next turn asks again
    }
    ask(image, turn + 1);
  }, pause);
}
