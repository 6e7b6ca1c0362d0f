// Sets of swings, two compared, and a player's lessons: pages that are files. The swings are the two measured
// samples, copied under other names, days and labels, the hips of the copies moved a little.
import assert from "node:assert/strict";
import { cpSync, mkdirSync, readFileSync, writeFileSync } from "node:fs";
import path from "node:path";
import { pathToFileURL } from "node:url";
import { accessible, clean, narrow, picture, watch } from "./browser.mjs";

// A folder of lessons made of copies of the measured swings.
export function lessons(results, folder) {
  mkdirSync(folder, { recursive: true });
  const put = (from, name, lesson, label, more) => {
    const to = path.join(folder, name);
    cpSync(path.join(results, from), to, { recursive: true });
    const file = path.join(to, "swing.json");
    const swing = JSON.parse(readFileSync(file, "utf8"));
    swing.name = name;
    Object.assign(swing.typed_in, { player: "Sam Sample", lesson, label, notes: `tried in turn ${name}` });
    for (const key of ["pelvis_turn_from_address", "separation"]) {
      const e = swing.at.top[key];
      for (const part of ["deg", "low", "high"]) if (e[part] !== null) e[part] += key === "separation" ? -more : more;
    }
    writeFileSync(file, JSON.stringify(swing));
  };
  [0, 2, -3, 1, -1].forEach((more, i) => put("first-lesson", `held-${i + 1}`, "2026-05-14", "hips held", more));
  [0, -2, 3, 1].forEach((more, i) => put("sixth-lesson", `free-${i + 1}`, "2026-05-14", "hips free", more));
  [4, 6].forEach((more, i) => put("first-lesson", `before-${i + 1}`, "2026-04-02", "hips held", more));
  return folder;
}

// What every page of several swings keeps to.
async function page(browser, file, name, pictures, look) {
  const url = pathToFileURL(file).href;
  const { context, page, seen } = await watch(browser, (u) => u === url, { viewport: { width: 1100, height: 900 } });
  await page.goto(url);
  await page.waitForTimeout(300);
  const told = await look(page);
  told.push(`axe: ${await accessible(page, name)} checks passed, none serious`);
  await page.evaluate(() => scrollTo(0, 0));
  await picture(page, pictures, `${name}-desktop`, { fullPage: true });
  await narrow(page, name);
  // No two texts of one ruler lie over each other.
  const over = await page.evaluate(() => [...document.querySelectorAll("svg.dots")].filter((s) => s.getBoundingClientRect().width > 0).flatMap((svg) => {
    const boxes = [...svg.querySelectorAll("text")].map((t) => [t.textContent, t.getBoundingClientRect()]);
    return boxes.flatMap(([a, p], i) => boxes.slice(i + 1).filter(([, q]) =>
      Math.min(p.right, q.right) - Math.max(p.left, q.left) > 1 && Math.min(p.bottom, q.bottom) - Math.max(p.top, q.top) > 2).map(([b]) => `${a} over ${b}`));
  }));
  assert.deepEqual(over, [], `${name}: texts over each other`);
  if (pictures) {
    await page.setViewportSize({ width: 360, height: 740 });
    for (const colorScheme of ["light", "dark"]) {
      await page.emulateMedia({ colorScheme });
      await picture(page, pictures, `${name}-phone-${colorScheme}`, { fullPage: true });
    }
    await page.emulateMedia({ media: "print", colorScheme: "light" });
    await page.setViewportSize({ width: 780, height: 1100 });
    await picture(page, pictures, `${name}-print`, { fullPage: true });
  }
  clean(seen);
  await context.close();
  return told;
}

export async function testSets(browser, run, work, results, pictures) {
  const folder = lessons(results, path.join(work, "lessons"));
  const out = (name) => path.join(work, name);
  run("set", folder, "--quiet", "--player", "Sam Sample", "--label", "hips held", "--out", out("a-set"));
  run("set", folder, "--quiet", "--player", "Sam Sample", "--label", "hips held", "--against", "hips free", "--out", out("two-sets"));
  run("progress", folder, "--quiet", "--player", "Sam Sample", "--out", out("course"));

  const told = await page(browser, path.join(out("a-set"), "set.html"), "set", pictures, async (p) => {
    const rings = await p.$$eval(".card svg.dots", (all) => all.map((s) => s.querySelectorAll(".ring").length));
    assert.ok(rings.length >= 3 && rings.every((n) => n === 5), rings.join());
    const frames = () => p.$$eval("img.frame", (all) => all.map((i) => i.src.length + i.src.slice(-200)));
    const top = await frames();
    assert.equal(top.length, 10, "two views of five swings");
    await p.click("button:has-text('Impact')");
    const impact = await frames();
    top.forEach((src, i) => assert.notEqual(src, impact[i], "all films move together"));
    assert.equal(await p.textContent("[data-now=moment]"), "at impact");
    const words = await p.textContent(".student .story");
    assert.ok(/your hips/.test(words) && !/\b(should|must|try to)\b/i.test(words), words);
    return ["five rings on every ruler", "ten films in step", words];
  });
  told.push(...await page(browser, path.join(out("two-sets"), "sets.html"), "two-sets", pictures, async (p) => {
    const json = JSON.parse(readFileSync(path.join(out("two-sets"), "sets.json"), "utf8"));
    const hips = json.numbers.find((n) => n.number === "top_pelvis_turn_from_address");
    const card = await p.textContent(".card >> nth=0");
    const word = hips.word === "changed" ? "changed" : hips.word === "cant_tell" ? "can't tell" : "no change larger than";
    assert.ok(card.includes(word), `${word}: ${card}`);
    assert.ok((await p.textContent("table.typed")).includes("44"), "ball speeds beside");
    return [`hips: ${word}`];
  }));
  told.push(...await page(browser, path.join(out("course"), "progress.html"), "progress", pictures, async (p) => {
    assert.equal(await p.locator("img.top-picture").count(), 3);
    const lanes = await p.$$eval(".card svg.dots", (all) => all[0].querySelectorAll(".dot, .untold").length);
    assert.equal(lanes, 3, "a lane for each lesson and label");
    return ["three lanes with their pictures"];
  }));
  return told;
}
