// Single keys, and the panel that lists them. Each only presses a link or moves the focus to something on the page,
// so everything can be done without. They can be switched off, for people whose software types single letters.
"use strict";

const kept = "caseload-single-keys";
const panel = document.getElementById("help");
const toggle = document.querySelector("[data-keys-switch]");
const rowLinks = () => [...document.querySelectorAll("[data-rows] tbody tr")].map((row) => row.querySelector("a, button")).filter(Boolean);
const press = (selector) => document.querySelector(selector)?.click();

function move(step) {
  const links = rowLinks();
  const row = document.activeElement.closest("[data-rows] tbody tr");
  const here = links.findIndex((link) => row?.contains(link));
  const next = step === "first" ? 0 : step === "last" ? links.length - 1 : here < 0 ? 0 : here + step;
  links[next]?.focus();
  return Boolean(links[next]);
}

function act(key) {
  const inList = Boolean(document.activeElement.closest("[data-rows]"));
  if (key === "?") panel?.showModal();
  else if (key === "/") document.getElementById("find")?.focus();
  else if (key === "f") document.querySelector("[data-filters] :is(select, input:not([type=hidden]))")?.focus();
  else if (key === ",") press("[data-previous]");
  else if (key === ".") press("[data-next]");
  else if (/^[1-9]$/.test(key)) press(`[data-key="${key}"]`);
  else if (key === "ArrowDown") return rowLinks().length > 0 && move(1);
  else if (key === "ArrowUp") return inList && move(-1);
  else if (key === "Home") return inList && move("first");
  else if (key === "End") return inList && move("last");
  else return false;
  return true;
}

document.addEventListener("keydown", (event) => {
  const typing = event.target.closest("input, select, textarea, dialog, [contenteditable]");
  if (typing || event.ctrlKey || event.metaKey || event.altKey || localStorage.getItem(kept) === "off") return;
  if (act(event.key)) event.preventDefault();
});

document.querySelector("[data-help]")?.addEventListener("click", (event) => {
  if (event.ctrlKey || event.metaKey) return;
  event.preventDefault();
  panel.showModal();
});

if (toggle) {
  for (const box of document.querySelectorAll("[data-keys-switch]")) {
    box.checked = localStorage.getItem(kept) !== "off";
    box.addEventListener("change", () => localStorage.setItem(kept, box.checked ? "on" : "off"));
  }
}
