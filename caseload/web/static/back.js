// Going back to a list leads to the row one came from: pages are kept in no cache, so the browser would begin at the top.
"use strict";

// Where the names of the pages do not fit side by side, the one that is open is brought into sight.
const here = document.querySelector(".mast nav [aria-current]");
if (here) here.closest("nav").scrollLeft = here.offsetLeft - 16;

const place = `row ${location.pathname}${location.search}`;
const links = () => [...document.querySelectorAll("[data-rows] tbody a[href]")];

document.querySelector("[data-rows]")?.addEventListener("click", (event) => {
  const link = event.target.closest("tbody a[href]");
  if (link) sessionStorage.setItem(place, link.getAttribute("href"));
});

if (performance.getEntriesByType("navigation")[0]?.type === "back_forward") {
  const left = sessionStorage.getItem(place);
  links().find((link) => link.getAttribute("href") === left)?.focus();
}
