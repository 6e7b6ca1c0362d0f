"use strict";
// Moves both swings, counted in events, and the cursors of all charts together.
(() => {
  const holder = document.getElementById("swing-data");
  const range = document.getElementById("scrub");
  if (!holder || !range) return;
  const data = JSON.parse(holder.textContent);
  const frames = [...document.querySelectorAll("img.frame")];
  const charts = [...document.querySelectorAll("svg.curves")];
  const cells = [...document.querySelectorAll("[data-now]")];

  function show(i) {
    const m = data.moments[i];
    if (!m) return;
    for (const chart of charts) {
      const d = chart.dataset;
      const x = Number(d.x0) + ((m.t - d.t0) / (d.t1 - d.t0)) * (d.x1 - d.x0);
      const cursor = chart.querySelector(".cursor");
      cursor.setAttribute("transform", `translate(${x} 0)`);
      cursor.setAttribute("visibility", "visible");
    }
    for (const img of frames) {
      const uri = (data.views[img.dataset.view] || [])[i];
      if (uri) img.src = uri;
      img.classList.toggle("absent", !uri);
    }
    for (const cell of cells) cell.textContent = m[cell.dataset.now];
    range.setAttribute("aria-valuetext",
      `first: hips ${m["first-pelvis"]}, shoulders (rib cage) ${m["first-thorax"]}; ` +
      `second: hips ${m["second-pelvis"]}, shoulders (rib cage) ${m["second-thorax"]}`);
  }
  range.addEventListener("input", () => show(Number(range.value)));
  for (const button of document.querySelectorAll("[data-to]")) {
    button.addEventListener("click", () => {
      range.value = button.dataset.to;
      show(Number(button.dataset.to));
    });
  }
  const box = document.querySelector(".scrubber");
  if (box) box.hidden = false;
  show(Number(range.value));
})();
