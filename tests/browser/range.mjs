// Two phones on the range: each films one side of a swing, and the page puts them together.
import assert from "node:assert/strict";
import { existsSync, readdirSync } from "node:fs";
import path from "node:path";
import { accessible, clean, narrow, phone } from "./browser.mjs";
import { served } from "./server.mjs";

const PHONE = { viewport: { width: 360, height: 740 }, isMobile: true, hasTouch: true };

// Fills in the form with the thumb and sends it.
async function film(page, clip, { player, label, view }) {
  await page.fill("#player", player);
  for (const box of await page.$$("input[name=consent]")) if (await box.isVisible()) await box.check();
  await page.tap(`input[name=label][value="${label}"]`);
  await page.tap(`input[name=view][value="${view}"]`);
  await page.setInputFiles("#record", clip);
  await page.tap("text=Send and measure");
}

export async function testRange(browser, program, results, clips, pictures) {
  return served(browser, program, results, async (origin, enter) => {
    const told = [];
    const first = await enter(PHONE);
    const page = first.page;
    await page.tap("p.doing a:has-text('Film a swing')");
    let checks = await accessible(page, "film");
    await narrow(page, "film");
    await phone(page, pictures, "film", { fullPage: true });
    // What a thumb must hit is as high as a thumb.
    for (const tap of await page.$$(".tap")) assert.ok((await tap.boundingBox()).height >= 60);
    // Without consent, and without a side, the browser does not even send.
    await page.setInputFiles("#record", path.join(clips, "first-lesson_face_on.mp4"));
    await page.tap("text=Send and measure");
    assert.equal(page.url(), `${origin}/upload`);
    await film(page, path.join(clips, "first-lesson_face_on.mp4"),
      { player: "Kim Example", label: "hips held", view: "face_on" });
    await page.waitForURL(/\/job\/[0-9a-f]+$/);
    assert.ok((await page.textContent("main")).includes("hips held"));
    checks += await accessible(page, "measuring");
    await phone(page, pictures, "measuring");

    const second = await enter(PHONE);
    await second.page.goto(`${origin}/upload`);
    await film(second.page, path.join(clips, "first-lesson_down_the_line.mp4"),
      { player: "Kim Example", label: "hips held", view: "down_the_line" });
    // The result comes by itself.
    await second.page.waitForURL(/\/swing\//, { timeout: 400_000 });
    await second.page.locator("#job").waitFor({ state: "detached", timeout: 400_000 });
    const main = await second.page.textContent("main");
    assert.match(main, /hips held/);
    assert.match(main, /°/);
    assert.equal(await second.page.locator(".views figure").count(), 2, "both sides");
    const swing = decodeURIComponent(new URL(second.page.url()).pathname.split("/")[2]);
    assert.ok(existsSync(path.join(results, swing, "swing.json")));
    const kims = readdirSync(results).filter((n) => n.startsWith("kim-example"));
    assert.deepEqual(kims, [swing], "one swing of two phones");
    checks += await accessible(second.page, "swing");
    await narrow(second.page, "swing");
    await phone(second.page, pictures, "swing", { fullPage: true });
    told.push("two phones' clips became one swing");

    // The next swing of the same player asks for nothing again.
    await second.page.tap("text=Film the next swing");
    assert.equal(await second.page.inputValue("#player"), "Kim Example");
    assert.ok(await second.page.isChecked("input[name=label][value='hips held']"));
    assert.equal(await second.page.locator("#consent").isVisible(), false);
    await second.page.fill("#player", "Somebody Else");
    assert.equal(await second.page.locator("#consent").isVisible(), true, "another player is asked");
    checks += await accessible(second.page, "next swing");
    // The first phone is led to the same swing.
    await page.waitForURL(/\/swing\//, { timeout: 100_000 });
    await page.reload();
    assert.equal(decodeURIComponent(new URL(page.url()).pathname.split("/")[2]), swing);
    told.push(`axe: ${checks} checks passed on five pages, none violated`);
    for (const device of [first, second]) {
      clean(device.seen);
      await device.context.close();
    }
    return told;
  });
}
