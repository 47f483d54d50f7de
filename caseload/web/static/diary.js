// Escape leaves an appointment that is being moved where it is; the link beside it does the same.
"use strict";
const leave = document.querySelector("[data-leave]")?.dataset.leave;
if (leave) document.addEventListener("keydown", (event) => event.key === "Escape" && !event.target.closest("dialog") && location.assign(leave));
