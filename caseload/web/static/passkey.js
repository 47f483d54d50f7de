// Passkeys: shows the button where the browser knows them, asks it for one, and sends what it signed with the form.
"use strict";

{ // names of its own: a page may have another script with the same
  const options = document.getElementById("passkey-options");
  const bytes = (text) => Uint8Array.from(atob(text.replaceAll("-", "+").replaceAll("_", "/")), (letter) => letter.charCodeAt(0));
  const text = (buffer) => buffer && btoa(String.fromCharCode(...new Uint8Array(buffer))).replaceAll("+", "-").replaceAll("/", "_").replaceAll("=", "");
  const known = (list) => list?.map((each) => ({ ...each, id: bytes(each.id) }));

  // Addresses of bytes come as text in JSON, and go back so.
  function read(asked) {
    const { challenge, user, allowCredentials, excludeCredentials, ...rest } = asked.publicKey;
    const found = { ...rest, challenge: bytes(challenge) };
    if (user) found.user = { ...user, id: bytes(user.id) };
    if (allowCredentials?.length) found.allowCredentials = known(allowCredentials);
    if (excludeCredentials?.length) found.excludeCredentials = known(excludeCredentials);
    return { publicKey: found };
  }

  function write(key) {
    const said = key.response;
    const response = { clientDataJSON: text(said.clientDataJSON) };
    for (const name of ["attestationObject", "authenticatorData", "signature", "userHandle"]) {
      if (said[name]) response[name] = text(said[name]);
    }
    if (said.getTransports) response.transports = said.getTransports();
    return JSON.stringify({
      id: key.id, rawId: text(key.rawId), type: key.type, response,
      authenticatorAttachment: key.authenticatorAttachment, clientExtensionResults: key.getClientExtensionResults(),
    });
  }

  async function asked(form) {
    if (!form.dataset.ask) return JSON.parse(options.textContent);
    const answer = await fetch(form.dataset.ask, { headers: { Accept: "application/json" } });
    if (!answer.ok) throw new Error("not answered");
    return answer.json();
  }

  async function sign(form) {
    const said = form.querySelector("[data-passkey-said]");
    said.textContent = "";
    try {
      const wanted = await asked(form);
      const creating = form.dataset.passkey === "create";
      const key = creating
        ? await navigator.credentials.create(read(wanted.creation_options))
        : await navigator.credentials.get(read(wanted.request_options));
      form.elements.credential.value = write(key);
      form.submit();
    } catch (fault) {
      said.textContent = fault.name === "SecurityError"
        ? "Passkeys need an address with a name. On this machine, open http://localhost instead of the number."
        : "No passkey was used. Try again, or go another way.";
    }
  }

  if (window.PublicKeyCredential) {
    for (const form of document.querySelectorAll("[data-passkey]")) {
      form.hidden = false;
      form.addEventListener("submit", (event) => {
        event.preventDefault();
        sign(form);
      });
    }
    for (const each of document.querySelectorAll("[data-without-passkeys]")) each.hidden = true;
  }
}
