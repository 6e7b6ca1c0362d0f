"use strict";
// Moves the chart's cursor, the pictures and the readings together. Without it the page is whole
// but still.
(() => {
  const holder = document.getElementById("swing-data");
  const range = document.getElementById("scrub");
  const chart = document.getElementById("turn-chart");
  if (!holder || !range || !chart) return;
  const data = JSON.parse(holder.textContent);
  const cursor = chart.querySelector(".cursor");
  const frames = [...document.querySelectorAll("img.frame")];
  const box = document.querySelector(".scrubber");
  const now = {};
  for (const el of document.querySelectorAll("[data-now]")) now[el.dataset.now] = el;
  const num = (name) => Number(chart.dataset[name]);
  const [t0, t1, x0, x1] = [num("t0"), num("t1"), num("x0"), num("x1")];

  function show(i) {
    const m = data.moments[i];
    if (!m) return;
    const x = x0 + ((m.t - t0) / (t1 - t0)) * (x1 - x0);
    cursor.setAttribute("transform", `translate(${x} 0)`);
    cursor.setAttribute("visibility", "visible");
    for (const img of frames) {
      const uri = (data.views[img.dataset.view] || [])[i];
      if (uri) img.src = uri;
      img.classList.toggle("absent", !uri);
    }
    for (const key of Object.keys(now)) now[key].textContent = m[key];
    range.setAttribute("aria-valuetext",
      `${m.time}; hips ${m.pelvis}; shoulders (rib cage) ${m.thorax}; separation ${m.separation}`);
  }

  range.addEventListener("input", () => show(Number(range.value)));
  for (const button of document.querySelectorAll("[data-to]")) {
    button.addEventListener("click", () => {
      range.value = button.dataset.to;
      show(Number(button.dataset.to));
    });
  }
  function at(event) {
    const r = chart.getBoundingClientRect();
    const wide = chart.viewBox.baseVal.width;
    const x = ((event.clientX - r.left) / r.width) * wide;
    const t = t0 + ((x - x0) / (x1 - x0)) * (t1 - t0);
    let best = 0;
    data.moments.forEach((m, i) => {
      if (Math.abs(m.t - t) < Math.abs(data.moments[best].t - t)) best = i;
    });
    range.value = best;
    show(best);
  }
  chart.addEventListener("pointerdown", (e) => { chart.setPointerCapture(e.pointerId); at(e); });
  chart.addEventListener("pointermove", (e) => { if (e.buttons) at(e); });
  if (box) box.hidden = false;
  show(Number(range.value));

  let opened = [];
  addEventListener("beforeprint", () => {
    opened = [...document.querySelectorAll("details.event:not([open])")];
    for (const d of opened) d.open = true;
  });
  addEventListener("afterprint", () => { for (const d of opened) d.open = false; });
})();
