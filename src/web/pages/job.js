"use strict";
// Asks every second how far a measurement is. On the page of a measurement it goes on to the swing as
// soon as its numbers stand; on the page of a swing it loads the page again once the pictures are there.
(() => {
  const job = document.getElementById("job");
  if (!job) return;
  const [stage, line, bar, result] = ["stage", "line", "bar", "result"].map((id) => document.getElementById(id));
  const waits = "then" in job.dataset;
  // What somebody is typing must not be lost.
  let touched = false;
  document.addEventListener("input", () => { touched = true; });
  function again() {
    if (!touched) location.reload();
    else if (line) line.textContent = "they are there; load this page again when you have kept what you typed";
  }
  async function ask() {
    try {
      const answer = await fetch(job.dataset.state);
      if (!answer.ok) return;
      const now = await answer.json();
      const open = now.stage === "waiting" || now.stage === "measuring";
      if (stage) stage.textContent = now.words;
      if (line) line.textContent = now.line;
      const counted = /(\d+) of (\d+)$/.exec(now.line);
      if (bar && counted) bar.value = Number(counted[1]) / Number(counted[2]);
      else if (bar) bar.removeAttribute("value");
      if (bar) bar.hidden = !open;
      if (waits && now.stands) {
        if (result) {
          result.href = now.result;
          result.hidden = false;
        }
        location.replace(now.result);
        return;
      }
      if (!waits && (!open || (now.page && job.dataset.page === "no"))) {
        again();
        return;
      }
      if (!open) return;
    } catch {
      if (line) line.textContent = "no answer from the coach's computer; asking again";
    }
    setTimeout(ask, 1000);
  }
  ask();
})();
