"use strict";
// Fills in the phone's own day, asks another player for consent, shows how much of an upload is sent.
// Without it the form works as it is.
(() => {
  const form = document.getElementById("upload");
  const told = document.getElementById("sending");
  if (!form || !told) return;
  const day = document.getElementById("lesson");
  const now = new Date();
  const two = (n) => String(n).padStart(2, "0");
  if (day && !day.value) day.value = `${now.getFullYear()}-${two(now.getMonth() + 1)}-${two(now.getDate())}`;

  const agreed = document.getElementById("agreed");
  const asked = document.getElementById("consent");
  const player = document.getElementById("player");
  if (agreed && asked && player) {
    player.addEventListener("input", () => {
      const other = player.value.trim() !== agreed.dataset.for;
      asked.hidden = !other;
      agreed.hidden = other;
      for (const box of asked.querySelectorAll("input")) box.required = other;
    });
  }
  // Words of one's own and a tapped label exclude each other.
  const own = document.getElementById("own_label");
  if (own) {
    own.addEventListener("input", () => {
      if (own.value) for (const tap of form.querySelectorAll("input[name=label]")) tap.checked = false;
    });
    for (const tap of form.querySelectorAll("input[name=label]")) tap.addEventListener("change", () => { own.value = ""; });
  }
  // One clip was recorded or chosen, not both.
  const clips = [...form.querySelectorAll("input[name=clip]")];
  for (const clip of clips) {
    clip.addEventListener("change", () => {
      if (clip.files.length) for (const other of clips) if (other !== clip) other.value = "";
    });
  }

  form.addEventListener("submit", (event) => {
    event.preventDefault();
    const button = form.querySelector("button[type=submit]");
    const say = (text) => { told.textContent = text; };
    const files = [...form.querySelectorAll("input[type=file]")].filter((f) => f.files.length);
    if (!files.length) { say("Record or choose a clip first."); return; }
    if (files.some((f) => f.name === "clip") && !form.querySelector("input[name=view]:checked")) {
      say("Tap where this phone stands first.");
      return;
    }
    const request = new XMLHttpRequest();
    button.disabled = true;
    request.upload.addEventListener("progress", (e) => {
      if (e.lengthComputable) say(`Sent ${Math.round((100 * e.loaded) / e.total)} %`);
    });
    request.addEventListener("load", () => {
      if (request.status < 400) {
        location.assign(request.responseURL);
        return;
      }
      const page = new DOMParser().parseFromString(request.responseText, "text/html");
      const why = page.querySelector("[role=alert]");
      say(why ? why.textContent : request.responseText);
      button.disabled = false;
    });
    request.addEventListener("error", () => {
      say("The upload broke off, or the clips were refused. Check the network and that the clips are not too large, then send them again.");
      button.disabled = false;
    });
    request.open("POST", form.action);
    request.send(new FormData(form));
  });
})();
