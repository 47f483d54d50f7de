// Says beside a date field what the planner reads in it. Without this script the saved page says so.
"use strict";
for (const field of document.querySelectorAll("[data-echo]")) {
  const out = document.getElementById(field.id + "_echo");
  const form = new FormData(field.form);
  let last = 0;
  field.addEventListener("input", () => {
    clearTimeout(last);
    last = setTimeout(async () => {
      const asked = field.value;
      const body = new URLSearchParams({ text: asked, as: field.dataset.echo, since: field.dataset.since || "" });
      body.set("csrfmiddlewaretoken", form.get("csrfmiddlewaretoken"));
      const answer = await fetch("/dates/", { method: "POST", body }).catch(() => null);
      if (answer?.ok && field.value === asked) out.textContent = await answer.text();
    }, 200);
  });
}
