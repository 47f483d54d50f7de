// The booking list by keyboard: single keys press what stands beside the list, and ticking something asks for offers anew.
"use strict";

const desk = document.querySelector("[data-open]");
const form = document.querySelector("[data-visit]");
const refresh = 60_000;
let used = true;

function pressed(key) {
  const wanted = key === "b" ? document.querySelector("#offers :checked") : document.querySelector(`[data-press="${CSS.escape(key)}"]`);
  if (key === "b") wanted?.focus();
  else wanted?.click();
  return Boolean(wanted);
}

document.addEventListener("keydown", (event) => {
  used = true;
  const typing = event.target.closest("input:not([type=radio], [type=checkbox]), select, textarea, dialog");
  if (typing || event.ctrlKey || event.metaKey || event.altKey || localStorage.getItem("caseload-single-keys") === "off") return;
  if (event.key.length === 1 && pressed(event.key.toLowerCase())) event.preventDefault();
});
document.addEventListener("pointerdown", () => { used = true; });

async function offerAnew() {
  const data = new FormData(form);
  data.append("again", "1");
  const answer = await fetch(form.action, { method: "POST", body: data });
  const page = new DOMParser().parseFromString(await answer.text(), "text/html");
  const fresh = page.getElementById("offers");
  if (!fresh) return;
  fresh.querySelector("[autofocus]")?.removeAttribute("autofocus");
  document.getElementById("offers").replaceWith(fresh);
}

form?.addEventListener("change", (event) => {
  if (["follow_ups", "way"].includes(event.target.name)) offerAnew();
});

// Only a page that somebody uses keeps its row: one that was left open lets it go.
if (desk && form) {
  setInterval(() => {
    if (used) fetch(desk.dataset.open, { method: "POST", body: new FormData(form) });
    used = false;
  }, refresh);
}
