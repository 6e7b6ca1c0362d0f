"use strict";
// A folder in which nothing was measured has no table.
const body = document.querySelector("#swings tbody");
const heads = Array.from(document.querySelectorAll("#swings thead th"));
heads.forEach((head) => {
  const column = head.cellIndex;
  head.querySelector("button").addEventListener("click", () => {
    const up = head.getAttribute("aria-sort") !== "ascending";
    const key = (row) => {
      const cell = row.children[column];
      if (!cell) return "";
      return cell.dataset.key ?? cell.textContent.trim();
    };
    const isNumber = "number" in head.dataset;
    const rows = Array.from(body.rows);
    rows.sort((a, b) => {
      const x = key(a), y = key(b);
      if (isNumber) {
        const p = parseFloat(x), q = parseFloat(y);
        // Swings without this number stay at the end, whichever way it is sorted.
        if (Number.isNaN(p) || Number.isNaN(q)) return Number.isNaN(p) - Number.isNaN(q);
        return up ? p - q : q - p;
      }
      const order = x.localeCompare(y, undefined, { numeric: true });
      return up ? order : -order;
    });
    heads.forEach((other) => other.removeAttribute("aria-sort"));
    head.setAttribute("aria-sort", up ? "ascending" : "descending");
    body.append(...rows);
  });
});
