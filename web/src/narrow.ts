import { all, byId, make } from "./dom";

// narrowSelects puts a field above a long select that leaves only the options
// whose text holds every typed word.
export function narrowSelects(): void {
  for (const holder of all("[data-narrows]", HTMLElement)) {
    const select = byId(holder.dataset["narrows"] ?? "", HTMLSelectElement);
    if (select) narrow(holder, select);
  }
}

function narrow(holder: HTMLElement, select: HTMLSelectElement): void {
  const input = make("input");
  input.type = "search";
  input.id = `${select.id}-narrow`;
  input.autocomplete = "off";
  const label = make("label", "Find in the list below");
  label.htmlFor = input.id;
  const count = make("span", "", "hint");
  count.setAttribute("role", "status");
  holder.append(label, input, count);
  holder.hidden = false;
  input.addEventListener("input", () => {
    const words = input.value.toLowerCase().split(/\s+/).filter(Boolean);
    const shown: HTMLOptionElement[] = [];
    for (const option of select.options) {
      const text = `${option.text} ${option.parentElement instanceof HTMLOptGroupElement ? option.parentElement.label : ""}`.toLowerCase();
      const fits = option.value === "" || words.every((w) => text.includes(w));
      option.hidden = !fits;
      option.disabled = !fits;
      if (fits && option.value !== "") shown.push(option);
    }
    for (const group of all("optgroup", HTMLOptGroupElement, select)) group.hidden = all("option", HTMLOptionElement, group).every((o) => o.hidden);
    count.textContent = words.length ? `${shown.length} fit` : "";
    if (shown.length === 1 && shown[0]) {
      shown[0].selected = true;
      select.dispatchEvent(new Event("change", { bubbles: true }));
    } else if (words.length && !shown.some((o) => o.selected)) {
      select.value = "";
    }
  });
}
