import { all, byId, make } from "./dom";
import { deviceName } from "./device";

// Waits between attempts at one photo, in milliseconds. A weak signal gets
// several minutes; what was refused for good is not sent again.
const waits = [1000, 3000, 10000, 30000, 60000];

interface Item {
  file: File;
  line: HTMLLIElement;
  bar: HTMLProgressElement;
  answer: HTMLElement;
  query: string;
}

interface Photo {
  id: string;
  grade?: string;
}

interface Problem {
  detail?: string;
  field?: string;
}

// startIntake sends chosen or dropped photos one by one, each with its progress
// and its answer, with the place as it was set when they were chosen.
export function startIntake(): void {
  const form = byId("intake", HTMLFormElement);
  const list = byId("intake-list", HTMLOListElement);
  const inputs = form ? all('input[type="file"]', HTMLInputElement, form) : [];
  const drop = form?.querySelector<HTMLElement>(".drop");
  const api = form?.dataset["api"];
  const photos = form?.dataset["photos"];
  if (!form || !list || !drop || !api || !photos) return;

  form.querySelector<HTMLElement>("[data-without-script]")?.setAttribute("hidden", "");
  form.addEventListener("submit", (event) => event.preventDefault());
  const queue: Item[] = [];
  let running = false;

  const add = (files: Iterable<File>): void => {
    const query = placeOf(form);
    for (const file of files) {
      const item = lineOf(file, query);
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
function placeOf(form: HTMLFormElement): string {
  const query = new URLSearchParams();
  for (const name of ["elevation", "bay", "lift", "stage", "kind"]) {
    const field = form.elements.namedItem(name);
    if ((field instanceof HTMLInputElement || field instanceof HTMLSelectElement) && field.value.trim()) query.set(name, field.value.trim());
  }
  for (const name of ["label_seen", "scale_seen"]) {
    const box = form.elements.namedItem(name);
    if (box instanceof HTMLInputElement && box.checked) query.set(name, "true");
  }
  return query.toString();
}

function lineOf(file: File, query: string): Item {
  const line = make("li");
  const bar = make("progress");
  bar.max = 1;
  bar.value = 0;
  bar.setAttribute("aria-label", `Sending ${file.name}`);
  const answer = make("span", "waits", "answer");
  line.append(make("span", file.name, "name"), bar, answer);
  return { file, line, bar, answer, query };
}

async function send(api: string, photos: string, item: Item): Promise<void> {
  for (let turn = 0; ; turn++) {
    item.answer.textContent = turn === 0 ? "sending" : `sending again (${turn})`;
    const answer = await post(api, item);
    if (answer && answer.status !== 429 && answer.status < 500) {
      show(photos, item, answer);
      return;
    }
    const wait = waits[turn];
    if (wait === undefined) {
      item.answer.textContent = "not sent: no answer. ";
      const again = make("button", "Try again");
      again.type = "button";
      again.addEventListener("click", () => void send(api, photos, item), { once: true });
      item.answer.append(again);
      return;
    }
    item.answer.textContent = "waits for a signal";
    await new Promise((done) => setTimeout(done, wait));
  }
}

// post sends the bytes as they are; null means that no answer came.
function post(api: string, item: Item): Promise<{ status: number; text: string } | null> {
  return new Promise((done) => {
    const request = new XMLHttpRequest(); // fetch does not tell how much was sent
    const query = new URLSearchParams(item.query);
    query.set("name", item.file.name);
    request.open("POST", `${api}?${query.toString()}`);
    request.setRequestHeader("Content-Type", item.file.type || "application/octet-stream");
    request.setRequestHeader("Storeyrod-Device", deviceName());
    request.upload.addEventListener("progress", (event) => {
      if (event.lengthComputable) item.bar.value = event.loaded / event.total;
    });
    request.addEventListener("load", () => done({ status: request.status, text: request.responseText }));
    for (const type of ["error", "abort", "timeout"]) request.addEventListener(type, () => done(null));
    request.send(item.file);
  });
}

function show(photos: string, item: Item, answer: { status: number; text: string }): void {
  item.bar.remove();
  item.answer.textContent = "";
  const word = answer.status === 201 ? "taken" : answer.status === 200 ? "known" : "refused";
  item.line.dataset["answer"] = word;
  item.answer.append(make("span", word, `word ${word}`), " ");
  try {
    const body: unknown = JSON.parse(answer.text);
    if (word === "refused") {
      const problem = body as Problem;
      const named = problem.field ? `${problem.field}: ` : "";
      const text = problem.detail ?? "";
      item.answer.append(named && text.startsWith(named) ? text.slice(named.length) : text);
      return;
    }
    const photo = body as Photo;
    const link = make("a", photo.grade ? `grade ${photo.grade}` : "open");
    link.href = `${photos}/${encodeURIComponent(photo.id)}`;
    item.answer.append(link);
  } catch {
    item.answer.append(`status ${answer.status}`);
  }
}
