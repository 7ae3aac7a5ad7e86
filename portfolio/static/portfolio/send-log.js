// A log's file in pieces: a line that breaks is waited for, and the same file chosen again goes on where it was cut
// off. Without this, or on a page that came without TLS, the form sends the file whole.
"use strict";
(() => {
  const form = document.querySelector("form[data-begin]");
  if (!form || !window.crypto || !crypto.subtle) return;
  const field = form.querySelector("input[type=file]");
  const button = form.querySelector("button");
  const said = form.querySelector("[role=status]");
  const piece = Number(form.dataset.piece);
  const token = form.querySelector("[name=csrfmiddlewaretoken]").value;
  const LONGEST_S = 30;
  form.querySelector("[data-without]").hidden = true;

  form.addEventListener("submit", (event) => {
    const file = field.files[0];
    if (!file || !file.size) return; // the server says what is missing
    event.preventDefault();
    button.disabled = true;
    send(file).catch((error) => {
      button.disabled = false;
      say(error.message || "The file could not be read.");
    });
  });

  async function send(file) {
    say("The file is being read.");
    const hash = await crypto.subtle.digest("SHA-256", await file.arrayBuffer());
    const sha256 = [...new Uint8Array(hash)].map((one) => one.toString(16).padStart(2, "0")).join("");
    let upload = await begun(file, sha256);
    const address = `/api/v1/trend-uploads/${upload.id}`;
    while (upload.state === "receiving") {
      say(`${told(upload.offset)} of ${told(file.size)} are there.`);
      const body = file.slice(upload.offset, upload.offset + piece);
      const headers = { "Upload-Offset": String(upload.offset), "Content-Type": "application/octet-stream" };
      upload = await asked(address, { method: "PATCH", headers, body }, address);
    }
    location.assign(`/trend-uploads/${upload.id}`);
  }

  // The upload that was cut off, where this file has one here, else a new one.
  async function begun(file, sha256) {
    const open = [...document.querySelectorAll("[data-open]")].find((one) => one.dataset.sha256 === sha256);
    if (open) {
      const held = await asked(`/api/v1/trend-uploads/${open.dataset.open}`, {});
      if (held.state === "receiving") return held;
    }
    const body = JSON.stringify({ file_name: file.name, bytes: file.size, sha256 });
    return asked(form.dataset.begin, { method: "POST", headers: { "Content-Type": "application/json" }, body });
  }

  // Until it is answered. After a break nobody knows whether the piece came in: then `instead` says how far it is.
  async function asked(address, what, instead) {
    for (let wait = 1; ; wait = Math.min(wait * 2, LONGEST_S)) {
      let answer = null;
      try {
        answer = await fetch(address, { ...what, headers: { ...what.headers, "X-CSRFToken": token } });
      } catch {
        answer = null; // no line
      }
      if (answer && answer.ok) return answer.json();
      if (answer && answer.status === 409 && instead) return asked(instead, {});
      if (answer && answer.status < 500) throw new Error((await answer.json()).detail);
      say(`The line broke. What is there stays there; tried again in ${wait} s.`);
      await new Promise((done) => setTimeout(done, wait * 1000));
      if (instead) return asked(instead, {});
    }
  }

  function told(bytes) {
    return `${(bytes / 1e6).toFixed(1)} MB`;
  }
  function say(text) {
    said.textContent = text;
  }
})();
