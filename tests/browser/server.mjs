// The local page: a phone's whole way from the code to the measured swing.
import assert from "node:assert/strict";
import { spawn } from "node:child_process";
import { existsSync, readdirSync } from "node:fs";
import path from "node:path";
import { accessible, clean, narrow, picture, watch } from "./browser.mjs";

function start(program, results) {
  const child = spawn(program, ["show", results], { stdio: ["ignore", "pipe", "inherit"] });
  const url = new Promise((resolve, reject) => {
    let text = "";
    child.stdout.on("data", (d) => {
      text += d;
      const found = text.match(/http:\/\/127\.0\.0\.1:\d+\/enter\?key=[0-9a-f]+/);
      if (found) resolve(found[0]);
    });
    child.on("exit", () => reject(new Error(`show ended: ${text}`)));
  });
  return { child, url };
}

export async function testServer(browser, program, results, clips, pictures) {
  const told = [];
  const { child, url } = start(program, results);
  try {
    const entry = await url;
    const origin = new URL(entry).origin;
    const { context, page, seen } = await watch(browser, (u) => u.startsWith(`${origin}/`),
      { viewport: { width: 1100, height: 900 } });
    await page.goto(entry);
    assert.equal(page.url(), `${origin}/`, "the key does not stay in the address");
    assert.ok((await page.textContent("main")).includes("Sam Sample"));
    let checks = await accessible(page, "library");
    await narrow(page, "library");
    await picture(page, pictures, "library-desktop");

    await page.click("text=Upload a swing");
    checks += await accessible(page, "upload");
    await narrow(page, "upload");
    if (pictures) {
      await page.setViewportSize({ width: 360, height: 740 });
      await picture(page, pictures, "upload-phone");
      await page.setViewportSize({ width: 1100, height: 900 });
    }
    // Without consent the browser does not even send.
    await page.setInputFiles("#face_on", path.join(clips, "first-lesson_face_on.mp4"));
    await page.click("text=Send and measure");
    assert.equal(page.url(), `${origin}/upload`);
    for (const box of await page.$$("input[name=consent]")) await box.check();
    await page.fill("#player", "Kim Example");
    await page.fill("#carry", "120 m");
    await page.click("text=Send and measure");
    await page.waitForURL(/\/job\/[0-9a-f]+$/);
    checks += await accessible(page, "job");
    await page.waitForSelector("#result:visible", { timeout: 180_000 });
    await page.click("#result");
    assert.ok((await page.textContent("main")).includes("120 m"));
    checks += await accessible(page, "swing");
    await narrow(page, "swing");
    const swing = decodeURIComponent(new URL(page.url()).pathname.split("/")[2]);
    assert.ok(existsSync(path.join(results, swing, "swing.json")));
    told.push("a clip went from the upload form to a measured swing");

    await page.fill("#notes", "Hips first.");
    await page.click("text=Keep the notes");
    assert.equal(await page.inputValue("#notes"), "Hips first.");
    await page.click("text=Open the whole page");
    assert.ok(await page.locator("#turn-chart .line").first().isVisible());
    await page.focus("#scrub");
    const before = await page.textContent("[data-now=time]");
    await page.keyboard.press("ArrowRight");
    assert.notEqual(await page.textContent("[data-now=time]"), before, "the script runs under the server's policy");
    await page.goto(`${origin}/compare?first=first-lesson&second=sixth-lesson`);
    assert.equal(await page.locator("svg.curves").count(), 3);
    assert.ok((await page.locator("[data-now=first-pelvis]").textContent()).includes("°"));

    await page.goto(`${origin}/`);
    await page.click("text=Delete everything of Kim Example");
    checks += await accessible(page, "delete");
    await page.click("button:has-text('for good')");
    assert.equal(page.url(), `${origin}/`);
    assert.ok(!existsSync(path.join(results, swing)));
    assert.deepEqual(readdirSync(`${results}-uploads`), [], "the clip is gone too");
    told.push(`axe: ${checks} checks passed on six pages, none serious`);
    clean(seen);
    await context.close();

    // Someone without the key sees nothing.
    const stranger = await watch(browser, (u) => u.startsWith(`${origin}/`));
    stranger.seen.allowStatus = true;
    const answer = await stranger.page.goto(`${origin}/`);
    assert.equal(answer.status(), 401);
    await stranger.context.close();
  } finally {
    child.kill();
  }
  return told;
}
