import { all } from "./dom";

// guardForms keeps a form from being sent twice by a second tap, and leads to
// the first field that was refused or else to what the page says of it.
export function guardForms(): void {
  for (const form of all('form[method="post"]', HTMLFormElement)) {
    let sent = false;
    form.addEventListener("submit", (event) => {
      if (event.defaultPrevented) return;
      if (sent) {
        event.preventDefault();
        return;
      }
      sent = true;
      // Later, so that the pressed button's own name still goes along.
      setTimeout(() => all("button", HTMLButtonElement, form).forEach((b) => (b.disabled = true)), 0);
    });
    // A page that comes back from the browser's memory can be sent again.
    addEventListener("pageshow", (event) => {
      if (!event.persisted) return;
      sent = false;
      all("button", HTMLButtonElement, form).forEach((b) => (b.disabled = false));
    });
  }
  const wrong = document.querySelector('[aria-invalid="true"]') ?? document.querySelector("#notice.bad, #notice.ask");
  if (wrong instanceof HTMLElement) wrong.focus();
}
