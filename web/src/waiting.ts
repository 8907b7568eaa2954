import { all } from "./dom";

const pause = 1500;
const tries = 12;

// awaitCopies asks again for view copies that were still being made.
export function awaitCopies(): void {
  for (const image of all("img[data-waiting]", HTMLImageElement)) ask(image, image.src, 1);
}

function ask(image: HTMLImageElement, address: string, turn: number): void {
  if (turn > tries) return;
  setTimeout(async () => {
    try {
      const answer = await fetch(address, { cache: "reload" });
      if (answer.ok && answer.headers.get("Retry-After") === null) {
        image.src = URL.createObjectURL(await answer.blob());
        return;
      }
    } catch {
      // no signal: the next turn asks again
    }
    ask(image, address, turn + 1);
  }, pause);
}
