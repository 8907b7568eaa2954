// showCell scrolls the box of a long wall's drawing to the marked cell, else to
// what a photo takes in.
export function showCell(): void {
  for (const box of document.querySelectorAll(".tap-drawing")) {
    const cell = box.querySelector(".wall-cell") ?? box.querySelector(".photo-spot") ?? box.querySelector(".photo-stretch rect, .photo-middle");
    if (!cell || box.scrollWidth <= box.clientWidth) continue;
    const at = cell.getBoundingClientRect();
    box.scrollLeft += at.left + at.width / 2 - box.getBoundingClientRect().left - box.clientWidth / 2;
  }
}

// showSection scrolls the rows of a site's menu so that the present entries are
// seen, without moving the page itself.
export function showSection(): void {
  for (const here of document.querySelectorAll<HTMLElement>(".walls [aria-current]")) {
    const row = here.parentElement;
    if (row) row.scrollLeft = here.offsetLeft - (row.clientWidth - here.offsetWidth) / 2;
  }
}
