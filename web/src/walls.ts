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

// showSection scrolls the list of a site's pages so that the present one is
// seen, without moving the page itself.
export function showSection(): void {
  const here = document.querySelector<HTMLElement>('.walls [aria-current="page"]');
  const list = here?.parentElement;
  if (here && list) list.scrollLeft = here.offsetLeft - (list.clientWidth - here.offsetWidth) / 2;
}
