import { all } from "./dom";

const key = "storeyrod.device";

// deviceName is what this device calls itself in the log: a short name that
// stays the same on it, without telling more than kind and a random tail.
export function deviceName(): string {
  try {
    const known = localStorage.getItem(key);
    if (known) return known;
    const tail = crypto.getRandomValues(new Uint32Array(1))[0]?.toString(36).slice(0, 4) ?? "";
    const name = `${matchMedia("(pointer: coarse)").matches ? "phone" : "desk"} ${tail}`;
    localStorage.setItem(key, name);
    return name;
  } catch {
    return ""; // storage refused: the browser's own words serve
  }
}

// nameDevice fills the hidden field of the sign-in forms.
export function nameDevice(): void {
  for (const field of all("[data-device]", HTMLInputElement)) field.value = deviceName();
}
