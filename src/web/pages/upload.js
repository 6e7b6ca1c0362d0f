"use strict";
// Shows how much of an upload is sent. Without it the form works as it is.
(() => {
  const form = document.getElementById("upload");
  const told = document.getElementById("sending");
  if (!form || !told) return;
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    const request = new XMLHttpRequest();
    const button = form.querySelector("button");
    button.disabled = true;
    request.upload.addEventListener("progress", (e) => {
      if (e.lengthComputable) told.textContent = `Sent ${Math.round((100 * e.loaded) / e.total)} %`;
    });
    request.addEventListener("load", () => {
      if (request.status < 400) {
        location.assign(request.responseURL);
        return;
      }
      const page = new DOMParser().parseFromString(request.responseText, "text/html");
      const why = page.querySelector("[role=alert]");
      told.textContent = why ? why.textContent : request.responseText;
      button.disabled = false;
    });
    request.addEventListener("error", () => {
      told.textContent = "The upload broke off, or the clips were refused. Check the network and that the clips are not too large, then send them again.";
      button.disabled = false;
    });
    request.open("POST", form.action);
    request.send(new FormData(form));
  });
})();
