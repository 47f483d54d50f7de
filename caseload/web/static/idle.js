// Leaves a page that nobody uses before somebody else reads it: keeps what is typed, then asks who is there. The planner
// locks the session by itself; this only takes the page from the screen at the same time.
"use strict";

{ // names of its own: a page may have another script with the same
  const own = document.currentScript.dataset;
  const used = "caseload-used";
  const limit = own.minutes * 60_000 + 1000; // locked there first
  const typed = new Set();
  const note = () => localStorage.setItem(used, Date.now()); // in any window of this browser

  async function leave() {
    document.body.hidden = true;
    const sent = [...typed].filter((form) => form?.elements.namedItem("csrfmiddlewaretoken")).map((form) => {
      const body = new URLSearchParams(new FormData(form));
      body.set("leaving", "1");
      return fetch(form.action, { method: "POST", body, keepalive: true, signal: AbortSignal.timeout(3000) });
    });
    await Promise.allSettled(sent);
    location.replace(`${own.to}?next=${encodeURIComponent(location.pathname + location.search)}`);
  }

  function look() {
    const left = Number(localStorage.getItem(used)) + limit - Date.now();
    if (left > 0) setTimeout(look, Math.min(left, 20_000));
    else leave();
  }

  if (!new URLSearchParams(location.search).has("by-itself")) note();
  new PerformanceObserver((list) => {
    if (list.getEntries().some((entry) => entry.initiatorType === "fetch")) note();
  }).observe({ type: "resource" });
  document.addEventListener("input", (event) => typed.add(event.target.form));
  addEventListener("pageshow", (event) => { if (event.persisted) look(); });
  look();
}
