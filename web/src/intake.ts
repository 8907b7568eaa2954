import { all, byId, make } from "./dom";
import { upload, type Outcome } from "./upload";

interface Item {
  file: File;
  line: HTMLLIElement;
  bar: HTMLProgressElement;
  answer: HTMLElement;
  facts: URLSearchParams;
}

// startIntake sends chosen or dropped photos one by one, each with its progress
// and its answer, with the place as it was set when they were chosen.
export function startIntake(): void {
  const form = byId("intake", HTMLFormElement);
  const list = byId("intake-list", HTMLOListElement);
  const inputs = form ? all('input[type="file"]', HTMLInputElement, form) : [];
  const drop = form?.querySelector<HTMLElement>(".drop");
  const api = form?.dataset["uploads"];
  const photos = form?.dataset["photos"];
  if (!form || !list || !drop || !api || !photos) return;

  form.querySelector<HTMLElement>("[data-without-script]")?.setAttribute("hidden", "");
  form.addEventListener("submit", (event) => event.preventDefault());
  const queue: Item[] = [];
  let running = false;

  const add = (files: Iterable<File>): void => {
    const facts = placeOf(form);
    for (const file of files) {
      const item = lineOf(file, facts);
      list.append(item.line);
      queue.push(item);
    }
    if (!running) void run();
  };
  const run = async (): Promise<void> => {
    running = true;
    for (let item = queue.shift(); item; item = queue.shift()) await send(api, photos, item);
    running = false;
  };

  for (const input of inputs) {
    input.addEventListener("change", () => {
      add(input.files ?? []);
      input.value = "";
    });
  }
  for (const type of ["dragenter", "dragover"]) {
    drop.addEventListener(type, (event) => {
      event.preventDefault();
      drop.classList.add("over");
    });
  }
  drop.addEventListener("dragleave", () => drop.classList.remove("over"));
  drop.addEventListener("drop", (event) => {
    event.preventDefault();
    drop.classList.remove("over");
    add(event.dataTransfer?.files ?? []);
  });
  addEventListener("beforeunload", (event) => {
    if (running) event.preventDefault(); // the browser asks before photos are lost
  });
}

// placeOf is what the form says of the photos, as the interface takes it.
function placeOf(form: HTMLFormElement): URLSearchParams {
  const query = new URLSearchParams();
  for (const name of ["elevation", "bay", "lift", "stage", "kind"]) {
    const field = form.elements.namedItem(name);
    if ((field instanceof HTMLInputElement || field instanceof HTMLSelectElement) && field.value.trim()) query.set(name, field.value.trim());
  }
  for (const name of ["label_seen", "scale_seen"]) {
    const box = form.elements.namedItem(name);
    if (box instanceof HTMLInputElement && box.checked) query.set(name, "true");
  }
  return query;
}

function lineOf(file: File, facts: URLSearchParams): Item {
  const line = make("li");
  const bar = make("progress");
  bar.max = 1;
  bar.value = 0;
  bar.setAttribute("aria-label", `Sending ${file.name}`);
  const answer = make("span", "waits", "answer");
  line.append(make("span", file.name, "name"), bar, answer);
  return { file, line, bar, answer, facts };
}

async function send(api: string, photos: string, item: Item): Promise<void> {
  const outcome = await upload(api, item.file, item.facts, (part, text) => {
    item.bar.value = part;
    if (item.answer.textContent !== text) item.answer.textContent = text;
  });
  if (outcome) {
    await show(photos, item, outcome);
    return;
  }
  item.answer.textContent = "not sent: no answer. ";
  const again = make("button", "Try again");
  again.type = "button";
  again.addEventListener("click", () => void send(api, photos, item), { once: true });
  item.answer.append(again);
}

async function show(photos: string, item: Item, outcome: Outcome): Promise<void> {
  const { word } = outcome;
  item.bar.remove();
  item.answer.textContent = "";
  item.answer.append(make("span", word, `word ${word}`), " ");
  if (word === "refused") item.answer.append(outcome.text);
  else {
    const grade = await gradeOf(outcome.photo);
    const link = make("a", grade ? `grade ${grade}` : "open");
    link.href = `${photos}/${outcome.photo.slice(outcome.photo.lastIndexOf("/") + 1)}`;
    item.answer.append(link);
  }
  item.line.dataset["answer"] = word;
}

// gradeOf asks for a photo's grade; another's photo may not be seen.
async function gradeOf(address: string): Promise<string> {
  try {
    const answer = await fetch(address);
    return answer.ok ? (((await answer.json()) as { grade?: string }).grade ?? "") : "";
  } catch {
    return "";
  }
}
