"use strict";
// Moves the charts' cursors, the pictures and the readings together. Without it the page is whole
// but still.
(() => {
  const holder = document.getElementById("swing-data");
  const range = document.getElementById("scrub");
  if (!holder || !range) return;
  const data = JSON.parse(holder.textContent);
  const frames = [...document.querySelectorAll("img.frame")];
  const cells = [...document.querySelectorAll("[data-now]")];
  // Where each chart's time begins and ends, on its axis and in its picture.
  const charts = [...document.querySelectorAll("svg.curves")].map((svg) => {
    const [t0, t1, x0, x1] = ["t0", "t1", "x0", "x1"].map((name) => Number(svg.dataset[name]));
    return { svg, t0, t1, x0, x1, cursor: svg.querySelector(".cursor") };
  });

  function show(i) {
    const m = data.moments[i];
    if (!m) return;
    for (const c of charts) {
      const x = c.x0 + ((m.t - c.t0) / (c.t1 - c.t0)) * (c.x1 - c.x0);
      c.cursor.setAttribute("transform", `translate(${x} 0)`);
      c.cursor.setAttribute("visibility", "visible");
    }
    for (const img of frames) {
      const uri = (data.views[img.dataset.view] || [])[i];
      if (uri) img.src = uri;
      img.classList.toggle("absent", !uri);
    }
    for (const cell of cells) cell.textContent = m[cell.dataset.now];
    range.setAttribute("aria-valuetext", range.dataset.say.replace(/\{([^}]+)\}/g, (_, key) => m[key]));
  }

  function go(i) {
    range.value = i;
    show(Number(i));
  }
  range.addEventListener("input", () => show(Number(range.value)));
  for (const button of document.querySelectorAll("[data-to]")) {
    button.addEventListener("click", () => go(button.dataset.to));
  }
  for (const c of charts) {
    const at = (event) => {
      const r = c.svg.getBoundingClientRect();
      const x = ((event.clientX - r.left) / r.width) * c.svg.viewBox.baseVal.width;
      const t = c.t0 + ((x - c.x0) / (c.x1 - c.x0)) * (c.t1 - c.t0);
      let best = 0;
      data.moments.forEach((m, i) => {
        if (Math.abs(m.t - t) < Math.abs(data.moments[best].t - t)) best = i;
      });
      go(best);
    };
    c.svg.addEventListener("pointerdown", (e) => { c.svg.setPointerCapture(e.pointerId); at(e); });
    c.svg.addEventListener("pointermove", (e) => { if (e.buttons) at(e); });
  }
  const box = document.querySelector(".scrubber");
  if (box) box.hidden = false;
  show(Number(range.value));

  let opened = [];
  addEventListener("beforeprint", () => {
    opened = [...document.querySelectorAll("details.event:not([open])")];
    for (const d of opened) d.open = true;
  });
  addEventListener("afterprint", () => { for (const d of opened) d.open = false; });
})();
