import { deviceName } from "./device";

// A file on its way to the server piece by piece, by tus 1.0 (tus.io): what the
// server has stays there over a lost signal and over a reload of the page.

const pieceSize = 2 << 20;
const begins = 3; // of one file, when the server forgets what it had
const prefix = "storeyrod.upload ";
const keepFor = 7 * 24 * 3600 * 1000; // longer than any server waits

// Waits between attempts in a row at which nothing got through, in
// milliseconds. A weak signal gets several minutes.
const waits = [1000, 3000, 10000, 30000, 60000];

// Outcome is what became of a file; photo is the address of its photo.
export interface Outcome {
  word: "taken" | "known" | "refused";
  photo: string;
  text: string;
}

interface Answer {
  status: number;
  text: string;
  header: (name: string) => string;
}

// Told of how far a file is, from 0 to 1, and what it does.
export type Told = (part: number, text: string) => void;

// upload sends a file and answers what became of it; null means that no answer
// came for too long, and it can be called again to go on.
export async function upload(api: string, file: File, facts: URLSearchParams, told: Told): Promise<Outcome | null> {
  const key = `${prefix}${api} ${file.name} ${file.size} ${file.lastModified} ${facts.toString()}`;
  let at = recall(key, api);
  let offset = -1; // not known
  let furthest = 0;
  let begun = 0;
  for (let turn = 0; ; ) {
    told(Math.max(offset, 0) / file.size, turn === 0 ? "sending" : `sending again (${turn})`);
    if (!at && ++begun > begins) return refused("the server lost what it had of this photo, several times");
    const answer = at ? await (offset < 0 ? ask("HEAD", at) : sendPiece(at, file, offset, told)) : await begin(api, file, facts);
    if (answer === "unreadable") return refused("the file cannot be read any more; choose it again");
    if (answer && at && (answer.status === 404 || answer.status === 410)) {
      forget(key);
      at = "";
      offset = -1;
      continue;
    }
    if (answer && answer.status >= 200 && answer.status < 300) {
      if (!at) remember(key, (at = answer.header("Location")));
      offset = Number(answer.header("Upload-Offset") || 0);
      const word = answer.header("Storeyrod-Answer");
      if (word) {
        forget(key);
        return { word: word === "known" ? "known" : "taken", photo: answer.header("Storeyrod-Photo"), text: "" };
      }
      if (offset > furthest) turn = 0;
      furthest = Math.max(furthest, offset);
      continue;
    }
    if (answer && final(answer.status)) {
      if (answer.status !== 401 && answer.status !== 403) forget(key);
      return refused(problemOf(answer));
    }
    const wait = waits[turn++];
    if (wait === undefined) return null;
    told(Math.max(offset, 0) / file.size, "waits for a signal");
    await signal(wait);
    offset = -1; // what got through, the server knows
  }
}

function refused(text: string): Outcome {
  return { word: "refused", photo: "", text };
}

// final tells refusals that the same piece would meet again.
function final(status: number): boolean {
  return status >= 400 && status < 500 && ![408, 409, 423, 429, 460].includes(status);
}

function begin(api: string, file: File, facts: URLSearchParams): Promise<Answer | null> {
  const pairs = [["filename", file.name], ...facts].map(([name, value]) => `${name} ${coded(new TextEncoder().encode(value))}`);
  return ask("POST", api, { "Upload-Length": String(file.size), "Upload-Metadata": pairs.join(",") });
}

async function sendPiece(at: string, file: File, offset: number, told: Told): Promise<Answer | null | "unreadable"> {
  const headers: Record<string, string> = { "Upload-Offset": String(offset), "Content-Type": "application/offset+octet-stream" };
  let piece: ArrayBuffer;
  try {
    piece = await file.slice(offset, offset + pieceSize).arrayBuffer();
  } catch {
    return "unreadable";
  }
  // A browser has it where the page came over HTTPS or from the same machine.
  if (crypto.subtle) headers["Upload-Checksum"] = `sha256 ${coded(new Uint8Array(await crypto.subtle.digest("SHA-256", piece)))}`;
  return ask("PATCH", at, headers, piece, (sent) => told((offset + sent) / file.size, "sending"));
}

function coded(bytes: Uint8Array): string {
  let text = "";
  for (const b of bytes) text += String.fromCharCode(b);
  return btoa(text);
}

// ask makes one request; null means that no answer came.
function ask(method: string, address: string, headers: Record<string, string> = {}, body: ArrayBuffer | null = null, sent?: (bytes: number) => void): Promise<Answer | null> {
  return new Promise((done) => {
    const request = new XMLHttpRequest(); // fetch does not tell how much was sent
    request.open(method, address);
    for (const [name, value] of Object.entries({ ...headers, "Tus-Resumable": "1.0.0", "Storeyrod-Device": deviceName() })) request.setRequestHeader(name, value);
    if (sent) request.upload.addEventListener("progress", (event) => sent(event.loaded));
    request.addEventListener("load", () => done({ status: request.status, text: request.responseText, header: (name) => request.getResponseHeader(name) ?? "" }));
    for (const type of ["error", "abort", "timeout"]) request.addEventListener(type, () => done(null));
    request.send(body);
  });
}

// problemOf is what a refusal says, without the name of a field that a person
// on this page does not see.
function problemOf(answer: Answer): string {
  try {
    const problem = JSON.parse(answer.text) as { detail?: string; field?: string };
    const named = problem.field ? `${problem.field}: ` : "";
    const text = problem.detail ?? "";
    return named && text.startsWith(named) ? text.slice(named.length) : text;
  } catch {
    return `status ${answer.status}`;
  }
}

// signal waits, or until the device is connected again.
function signal(wait: number): Promise<void> {
  return new Promise((done) => {
    const end = (): void => {
      clearTimeout(timer);
      removeEventListener("online", end);
      done();
    };
    const timer = setTimeout(end, wait);
    addEventListener("online", end);
  });
}

// The address of an unfinished upload is remembered by its file, so that the
// same file chosen again goes on; whether its time is over only the server
// knows, as clocks differ. Where storage is refused it begins anew.

function remember(key: string, at: string): void {
  try {
    localStorage.setItem(key, JSON.stringify({ at, since: Date.now() }));
  } catch {
    // storage refused or full
  }
}

function recall(key: string, api: string): string {
  try {
    for (const known of Object.keys(localStorage).filter((k) => k.startsWith(prefix))) {
      const { since } = JSON.parse(localStorage.getItem(known) ?? "{}") as { since?: number };
      if (!since || Date.now() - since > keepFor) localStorage.removeItem(known);
    }
    const { at } = JSON.parse(localStorage.getItem(key) ?? "{}") as { at?: string };
    return at?.startsWith(`${api}/`) ? at : "";
  } catch {
    return "";
  }
}

function forget(key: string): void {
  try {
    localStorage.removeItem(key);
  } catch {
    // storage refused
  }
}
