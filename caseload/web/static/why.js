// A part of the day line leads to its row below; the reasons of that row open with it.
"use strict";
for (const part of document.querySelectorAll("[data-why]")) {
  part.addEventListener("click", () => {
    const reasons = document.querySelector(part.getAttribute("href"))?.querySelector("details");
    if (reasons) reasons.open = true;
  });
}
