"use strict";
// Asks every second how far the measurement is.
(() => {
  const job = document.getElementById("job");
  if (!job) return;
  const [stage, line, result] = ["stage", "line", "result"].map((id) => document.getElementById(id));
  async function ask() {
    try {
      const answer = await fetch(job.dataset.state);
      if (!answer.ok) return;
      const now = await answer.json();
      stage.textContent = now.words;
      line.textContent = now.line;
      // The numbers stand before the videos do.
      if (now.stands) result.hidden = false;
      if (now.stage !== "waiting" && now.stage !== "measuring") return;
    } catch {
      line.textContent = "no answer from the coach's computer; asking again";
    }
    setTimeout(ask, 1000);
  }
  ask();
})();
