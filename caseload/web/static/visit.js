// Keeps what is typed while it is typed, and shows what saving it would change. Without this script each button does.
"use strict";

const form = document.querySelector("[data-live]");
const said = document.getElementById("kept");
const panel = document.getElementById("changes");
const button = document.querySelector("[data-save]");
const pause = 700;
const patience = 15_000;
let typed = 0;
let sent = 0;
let busy = false;
let leaving = false;
let wait;

const say = (text) => { said.textContent = text; };

async function send(options) {
  const mine = sent = typed;
  const body = new URLSearchParams(new FormData(form));
  body.set("live", "1");
  const answer = await fetch(form.action, { method: "POST", body, ...options }).catch(() => null);
  const kept = answer?.headers.get("X-Kept");
  if (!answer || answer.redirected || !(kept || answer.status === 401)) return say(said.dataset[answer?.redirected ? "lost" : "broken"]);
  if (answer.status === 401) return say(said.dataset.signedOut);
  say(`${said.dataset.kept} ${kept}`);
  const text = await answer.text();
  if (!answer.ok || mine !== typed) return;
  panel.innerHTML = text;
  button.textContent = button.dataset[panel.querySelector("[name=sure]") ? "save" : "look"];
}

async function keep() {
  clearTimeout(wait);
  if (busy || leaving || sent === typed) return;
  busy = true;
  await send({ signal: AbortSignal.timeout(patience) });
  busy = false;
  if (sent !== typed) wait = setTimeout(keep, pause);
}

// What has its place in the page only for a moment is sent even while an earlier sending is under way.
function keepNow() {
  if (!leaving && sent !== typed) send({ keepalive: true });
}

form?.addEventListener("input", () => {
  typed += 1;
  clearTimeout(wait);
  wait = setTimeout(keep, pause);
});
form?.addEventListener("submit", () => { leaving = true; });
addEventListener("pageshow", () => { leaving = false; });
addEventListener("pagehide", keepNow);
document.addEventListener("visibilitychange", () => { if (document.hidden) keepNow(); });
