// showSection scrolls the list of a site's pages so that the present one is
// seen, without moving the page itself.
export function showSection(): void {
  const here = document.querySelector<HTMLElement>('.walls [aria-current="page"]');
  const list = here?.parentElement;
  if (here && list) list.scrollLeft = here.offsetLeft - (list.clientWidth - here.offsetWidth) / 2;
}
