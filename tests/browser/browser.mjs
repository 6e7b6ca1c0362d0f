// The browser, watched: whatever it asks for or complains about is kept.
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { createRequire } from "node:module";
import path from "node:path";
import { chromium } from "playwright-core";

const axe = readFileSync(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");

export async function open() {
  return chromium.launch({
    executablePath: "/usr/bin/chromium",
    args: ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
      "--disable-background-networking", "--disable-component-update", "--disable-sync"],
  });
}

// A page that records errors and requests; `allowed` says which addresses are its own.
export async function watch(browser, allowed, options = {}) {
  const context = await browser.newContext(options);
  const page = await context.newPage();
  const seen = { errors: [], strange: [], allowStatus: false };
  page.on("console", (m) => {
    if (m.type() === "error" && !seen.allowStatus) seen.errors.push(m.text());
  });
  page.on("pageerror", (e) => seen.errors.push(String(e)));
  page.on("request", (r) => {
    const url = r.url();
    if (!url.startsWith("data:") && !url.startsWith("blob:") && !allowed(url)) seen.strange.push(url);
  });
  return { context, page, seen };
}

export function clean(seen) {
  assert.deepEqual(seen.errors, [], "console errors");
  assert.deepEqual(seen.strange, [], "requests that leave the page");
}

// No violation at all in light and in dark. The checker is put in from outside the page's policy.
export async function accessible(page, name) {
  let checked = 0;
  for (const colorScheme of ["light", "dark"]) {
    await page.emulateMedia({ colorScheme });
    await page.evaluate(axe);
    const found = await page.evaluate(() => window.axe.run(document, {
      runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"],
    }));
    assert.deepEqual(
      found.violations.map((v) => `${v.id} (${v.impact}): ${v.nodes.slice(0, 3).map((n) => n.html.slice(0, 160)).join(" | ")}`),
      [], `${name}, ${colorScheme}`);
    checked += found.passes.length;
  }
  await page.emulateMedia({ colorScheme: "light" });
  return checked;
}

// No sideways scroll at the width of a small phone.
export async function narrow(page, name) {
  const before = page.viewportSize();
  await page.setViewportSize({ width: 360, height: 740 });
  const width = await page.evaluate(() => document.documentElement.scrollWidth);
  assert.ok(width <= 360, `${name} is ${width} px wide at 360 px`);
  const wide = await page.evaluate(() => [...document.querySelectorAll("body *")]
    .filter((e) => e.getBoundingClientRect().right > 361 && !e.closest("svg, .unseen"))
    .map((e) => e.outerHTML.slice(0, 120)));
  assert.deepEqual(wide, [], `${name}: things that stick out at 360 px`);
  await page.setViewportSize(before);
}

// Screenshots of a small phone, light and dark.
export async function phone(page, pictures, name, options = {}) {
  if (!pictures) return;
  const before = page.viewportSize();
  await page.setViewportSize({ width: 360, height: 740 });
  for (const colorScheme of ["light", "dark"]) {
    await page.emulateMedia({ colorScheme });
    await page.evaluate(() => scrollTo(0, 0));
    await picture(page, pictures, `${name}-phone-${colorScheme}`, options);
  }
  await page.emulateMedia({ colorScheme: "light" });
  await page.setViewportSize(before);
}

export async function picture(page, folder, name, options = {}) {
  if (!folder) return;
  await page.screenshot({ path: path.join(folder, `${name}.png`), ...options });
}

export function pdfPages(pdf) {
  return (pdf.toString("latin1").match(/\/Type\s*\/Page[^s]/g) || []).length;
}
