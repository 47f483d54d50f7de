// Keeps what is typed and shows what saving it would change; without this script each button does.
"use strict";

const form = document.querySelector("[data-live]");
const said = document.getElementById("kept");
const changes = document.getElementById("changes");
const button = document.querySelector("[data-save]");
const [pause, later, patience] = [700, 10_000, 15_000];
let [typed, sent] = [0, 0];
let [busy, leaving] = [false, false];
let wait;

function outcome(answer) {
  if (answer?.redirected) return "lost";
  if (answer?.status === 401) return "signedOut";
  if (!answer?.ok) return "broken";
  return answer.headers.has("X-Kept") ? "kept" : "over";
}

// What is no longer wrong is no longer said at its field.
function forget() {
  for (const wrong of form.querySelectorAll(".wrong")) {
    if (changes.querySelector(`[href="#${wrong.id.slice(0, -"_error".length)}"]`)) continue;
    form.querySelectorAll(`[aria-describedby~="${wrong.id}"]`).forEach((field) => field.removeAttribute("aria-invalid"));
    wrong.remove();
  }
}

// Whether it has arrived. An answer to what has been typed over since is dropped.
async function send(options) {
  const mine = sent = typed;
  const body = new URLSearchParams(new FormData(form));
  body.set("live", "1");
  const answer = await fetch(form.action, { method: "POST", body, ...options }).catch(() => null);
  const how = outcome(answer);
  said.textContent = said.dataset[how] + (how === "kept" ? ` ${answer.headers.get("X-Kept")}` : "");
  if (how !== "kept" && how !== "over") return false;
  const text = await answer.text().catch(() => "");
  if (mine !== typed) return true;
  changes.innerHTML = text;
  forget();
  button.textContent = button.dataset[changes.querySelector("[name=sure]") ? "save" : "look"];
  return true;
}

async function keep() {
  clearTimeout(wait);
  if (busy || leaving || sent === typed) return;
  busy = true;
  const reached = await send({ signal: AbortSignal.timeout(patience) });
  busy = false;
  if (!reached) sent = -1;
  if (sent !== typed) wait = setTimeout(keep, reached ? pause : later);
}

function keepNow() {
  if (!leaving && sent !== typed) send({ keepalive: true });
}

form.addEventListener("input", () => {
  typed += 1;
  clearTimeout(wait);
  wait = setTimeout(keep, pause);
});
form.addEventListener("submit", () => { leaving = true; });
addEventListener("pageshow", () => { leaving = false; });
addEventListener("online", keep);
addEventListener("pagehide", keepNow);
document.addEventListener("visibilitychange", () => { if (document.hidden) keepNow(); });
