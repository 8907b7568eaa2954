import { all, byId } from "./dom";

// showNeeds moves the fields that the chosen quantity asks for beside its
// value, and the others back among the rest, as the server does with a page
// that comes with a quantity.
export function showNeeds(): void {
  const select = document.querySelector("select[data-decides]");
  const needed = byId("needed", HTMLElement);
  const rest = byId("not-needed", HTMLElement);
  if (!(select instanceof HTMLSelectElement) || !needed || !rest) return;
  select.addEventListener("change", () => {
    const names = (select.selectedOptions[0]?.dataset["needs"] ?? "").split(" ");
    for (const field of all("[data-need]", HTMLElement)) (names.includes(field.dataset["need"] ?? "") ? needed : rest).append(field);
  });
}
