// The pages that are files: a report and a comparison.
import assert from "node:assert/strict";
import { readFileSync, statSync } from "node:fs";
import path from "node:path";
import { pathToFileURL } from "node:url";
import { accessible, clean, narrow, pdfPages, phone, picture, watch } from "./browser.mjs";

function file(folder, name) {
  const full = path.join(folder, name);
  return { full, url: pathToFileURL(full).href, bytes: statSync(full).size };
}

async function firstPaint(page) {
  return page.evaluate(() => performance.getEntriesByName("first-contentful-paint")[0]?.startTime);
}

export async function testReport(browser, folder, pictures) {
  const told = [];
  const report = file(folder, "report.html");
  assert.ok(report.bytes < 3_000_000, `${report.bytes} bytes`);
  told.push(`report.html is ${report.bytes} bytes`);
  const { context, page, seen } = await watch(browser, (u) => u === report.url,
    { viewport: { width: 1100, height: 900 } });
  await page.goto(report.url);
  await page.waitForTimeout(300);
  const paint = await firstPaint(page);
  assert.ok(paint < 1000, `first paint after ${paint} ms`);
  told.push(`first paint after ${Math.round(paint)} ms`);

  // Every number of the result stands in the page, and nothing else does.
  const swing = JSON.parse(readFileSync(path.join(folder, "swing.json"), "utf8"));
  const shown = await page.$$eval(".measures data.number", (all) => all.map((e) => ({
    key: `${e.dataset.event} ${e.dataset.measure}`, value: e.getAttribute("value"),
    low: e.dataset.low, high: e.dataset.high, text: e.textContent.trim(),
  })));
  const number = (text) => (text === "" ? null : Number(text));
  const whole = (v) => (Math.round(v) < 0 ? `−${-Math.round(v)}` : `${Math.abs(Math.round(v))}`);
  let count = 0;
  for (const [event, at] of Object.entries(swing.at)) {
    for (const [measure, e] of Object.entries(at)) {
      const row = shown.find((s) => s.key === `${event} ${measure}`);
      assert.ok(row, `${event} ${measure} is not shown`);
      const told = e.usable ? [e.deg, e.low, e.high] : [null, null, null];
      assert.deepEqual([number(row.value), number(row.low), number(row.high)], told, row.key);
      if (!e.usable) assert.equal(row.text, "can't tell", row.key);
      // Halves may be rounded either way.
      if (e.usable && [e.deg, e.low, e.high].every((v) => Math.abs((Math.abs(v) % 1) - 0.5) > 1e-6)) {
        assert.equal(row.text, `${whole(e.deg)}° (${whole(e.low)} to ${whole(e.high)})`, row.key);
      }
      count += 1;
    }
  }
  assert.equal(shown.length, count);
  told.push(`${count} measures equal swing.json`);

  // Every ruler carries its number for those who can't see it, and every picture a text.
  assert.equal(await page.$$eval("svg.ruler", (all) => all.filter((s) => !/°|can't tell/.test(s.getAttribute("aria-label"))).length), 0);
  assert.equal(await page.$$eval(".moments img", (all) => all.filter((i) => i.alt.length < 20 || !i.naturalWidth).length), 0);
  assert.equal(await page.$$eval(".moments img", (all) => all.length), 8);

  // The scrubber by keyboard, by button and by pointing at the chart.
  const state = () => page.evaluate(() => ({
    images: [...document.querySelectorAll("img.frame")].map((i) => i.src.length + i.src.slice(-200)),
    cursor: document.querySelector("#turn-chart .cursor").getAttribute("transform"),
    time: document.querySelector("[data-now=time]").textContent,
    hips: document.querySelector("[data-now=pelvis]").textContent,
  }));
  const top = await state();
  assert.match(top.time, /Top/);
  assert.match(top.hips, /°.*\(.* to .*\)/);
  await page.focus("#scrub");
  for (let i = 0; i < 6; i += 1) await page.keyboard.press("ArrowRight");
  const later = await state();
  assert.notEqual(later.cursor, top.cursor);
  assert.notEqual(later.time, top.time);
  assert.equal(later.images.length, 2);
  later.images.forEach((src, i) => assert.notEqual(src, top.images[i], "the picture moves along"));
  await page.click("button:has-text('Finish')");
  const finish = await state();
  assert.match(finish.time, /Finish/);
  const box = await page.locator("#turn-chart").boundingBox();
  await page.mouse.click(box.x + box.width * 0.3, box.y + box.height / 2);
  assert.notEqual((await state()).cursor, finish.cursor);

  told.push(`axe: ${await accessible(page, "report")} checks passed, none violated`);
  await page.click("button:has-text('Top')");
  await page.evaluate(() => scrollTo(0, 0));
  await picture(page, pictures, "report-desktop");
  await page.evaluate(() => document.querySelector("section.through").scrollIntoView());
  await picture(page, pictures, "report-through");
  await narrow(page, "report");
  await phone(page, pictures, "report");
  const pdf = await page.pdf({ preferCSSPageSize: true, printBackground: true });
  assert.equal(pdfPages(pdf), 2, "printed pages");
  clean(seen);
  await context.close();
  await withoutScript(browser, report.url);
  return told;
}

// A swing of which nothing can be told: no number stands anywhere, and it says why and what to do.
export async function testUntold(browser, folder, pictures) {
  const report = file(folder, "report.html");
  const { context, page, seen } = await watch(browser, (u) => u === report.url,
    { viewport: { width: 1100, height: 900 } });
  await page.goto(report.url);
  const big = await page.$$eval(".big", (all) => all.map((e) => e.textContent.trim()));
  assert.ok(big.length >= 2, "figures in large letters");
  for (const text of big) assert.equal(text, "can't tell");
  assert.ok(await page.locator(".card .whynot").first().isVisible(), "the reason is in sight");
  const told = await page.$$eval("[data-untold]", (all) => all.map((e) => e.textContent));
  assert.ok(told.some((t) => /Film down-the-line as well/.test(t)), told.join(" | "));
  const words = await page.$$eval(".headline .verdicts b", (all) => all.map((e) => e.textContent));
  assert.ok(words.length > 0 && words.every((w) => w === "can't tell"), words.join());
  assert.equal(await page.locator(".headline svg.ruler .dot").count(), 0, "no dot on a ruler");
  assert.equal(await page.locator("svg.clock .bar").count(), 0, "no bar on a clock");
  assert.equal(await page.locator("#turn-chart .line.pelvis").count(), 0, "no line of a curve");
  assert.equal(await page.textContent("[data-now=pelvis]"), "can't tell");
  const checked = await accessible(page, "untold");
  await picture(page, pictures, "untold-desktop", { fullPage: true });
  await narrow(page, "untold");
  await phone(page, pictures, "untold");
  clean(seen);
  await context.close();
  return [`${big.length} large figures are "can't tell"`, `axe: ${checked} checks passed, none violated`];
}

// The page is whole without its script.
async function withoutScript(browser, url) {
  const { context, page } = await watch(browser, (u) => u === url, { javaScriptEnabled: false });
  await page.goto(url);
  assert.equal(await page.locator(".scrubber").isVisible(), false);
  assert.ok(await page.locator("#turn-chart .line").first().isVisible());
  assert.ok(await page.locator(".moments img").first().isVisible());
  await context.close();
}

export async function testComparison(browser, folder, pictures) {
  const told = [];
  const compared = file(folder, "comparison.html");
  assert.ok(compared.bytes < 3_000_000, `${compared.bytes} bytes`);
  told.push(`comparison.html is ${compared.bytes} bytes`);
  const { context, page, seen } = await watch(browser, (u) => u === compared.url,
    { viewport: { width: 1100, height: 900 } });
  await page.goto(compared.url);
  await page.waitForTimeout(300);
  const json = JSON.parse(readFileSync(path.join(folder, "comparison.json"), "utf8"));
  const rows = await page.$$eval(".measures li.row", (all) => all.map((r) => {
    const d = r.querySelector("data.number");
    return { key: `${d.dataset.event} ${d.dataset.measure}`, value: d.getAttribute("value"), word: r.querySelector(".word").textContent };
  }));
  assert.equal(rows.length, json.differences.length);
  for (const d of json.differences) {
    const row = rows.find((r) => r.key === `${d.event} ${d.measure}`);
    assert.equal(row.word, d.word, row.key);
    assert.equal(row.value === "" ? null : Number(row.value), d.difference.deg, row.key);
  }
  assert.ok((await page.textContent("table.typed")).includes("44 m/s"));
  const state = () => page.evaluate(() => ({
    images: [...document.querySelectorAll("img.frame")].map((i) => i.src.length + i.src.slice(-200)),
    cursors: [...document.querySelectorAll(".cursor")].map((c) => c.getAttribute("transform")),
    hips: document.querySelector("[data-now=second-pelvis]").textContent,
  }));
  const top = await state();
  assert.equal(top.images.length, 4);
  assert.equal(top.cursors.length, 3);
  await page.click("button:has-text('Impact')");
  const impact = await state();
  top.images.forEach((src, i) => assert.notEqual(src, impact.images[i]));
  assert.equal(new Set(impact.cursors).size, 1, "all charts move together");
  assert.notEqual(impact.hips, top.hips);
  told.push(`axe: ${await accessible(page, "comparison")} checks passed, none violated`);
  await page.click("button:has-text('Top')");
  await page.evaluate(() => scrollTo(0, 0));
  await picture(page, pictures, "comparison-desktop");
  await page.evaluate(() => document.querySelector("section.through").scrollIntoView());
  await picture(page, pictures, "comparison-through");
  await narrow(page, "comparison");
  await phone(page, pictures, "comparison");
  clean(seen);
  await context.close();
  return told;
}

// The page of a whole folder: a picture and one line a swing, sorted by a tap.
export async function testFolder(browser, folder, pictures) {
  const index = file(folder, "index.html");
  const beside = pathToFileURL(folder).href;
  const { context, page, seen } = await watch(browser, (u) => u === index.url || (u.startsWith(`${beside}/`) && decodeURIComponent(u).endsWith(".jpg")),
    { viewport: { width: 1280, height: 800 } });
  await page.goto(index.url);
  const rows = page.locator("#swings tbody tr");
  const swings = await rows.count();
  assert.ok(swings >= 1);
  await page.waitForFunction(() => [...document.querySelectorAll("#swings img")].every((i) => i.naturalWidth > 100));
  for (let i = 0; i < swings; i += 1) {
    const box = await rows.nth(i).boundingBox();
    assert.ok(box.height < 64, `a row is ${box.height} px high: more than one line`);
  }
  assert.equal(await page.locator("#swings img").count(), swings, "a picture a swing");
  await page.click("#swings thead th.turn button >> nth=0");
  assert.equal(await page.locator("#swings th[aria-sort=ascending]").count(), 1);
  const checked = await accessible(page, "folder");
  await picture(page, pictures, "folder-desktop");
  await narrow(page, "folder");
  await phone(page, pictures, "folder");
  await page.click("#swings tbody th a >> nth=0");
  assert.match(page.url(), /report\.html$/);
  clean({ errors: seen.errors, strange: seen.strange.filter((u) => !u.endsWith("/report.html")) });
  await context.close();
  return [`${swings} swing(s) of a folder, one line each`, `axe: ${checked} checks passed, none violated`];
}

// The file that a student keeps: nothing is asked of anybody, and no name stands in it.
export async function testShared(browser, full, name, pictures) {
  const url = pathToFileURL(full).href;
  const text = readFileSync(full, "utf8");
  assert.ok(!text.includes(name), "no name");
  assert.ok(statSync(full).size < 3_000_000);
  const { context, page, seen } = await watch(browser, (u) => u === url, { viewport: { width: 1100, height: 900 } });
  await page.goto(url);
  assert.ok(await page.locator(".cards .big").first().isVisible());
  assert.ok(await page.locator(".moments img").first().isVisible());
  const time = await page.textContent("[data-now=time]");
  await page.focus("#scrub");
  await page.keyboard.press("ArrowRight");
  assert.notEqual(await page.textContent("[data-now=time]"), time);
  const checked = await accessible(page, "shared file");
  await picture(page, pictures, "shared-desktop");
  await page.evaluate(() => document.querySelector("section.stills").scrollIntoView());
  await picture(page, pictures, "shared-stills");
  await narrow(page, "shared file");
  await phone(page, pictures, "shared");
  clean(seen);
  await context.close();
  return checked;
}
