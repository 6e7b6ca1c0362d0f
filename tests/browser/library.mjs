// The library: players, search, what was typed in, the file for the student, one player with another,
// deleting for good.
import assert from "node:assert/strict";
import { existsSync, readdirSync } from "node:fs";
import path from "node:path";
import { accessible, clean, narrow, phone, picture } from "./browser.mjs";
import { testShared } from "./files.mjs";
import { served } from "./server.mjs";

export async function testLibrary(browser, program, results, work, pictures) {
  return served(browser, program, results, async (origin, enter) => {
    const told = [];
    const { context, page, seen } = await enter({ viewport: { width: 1100, height: 900 } });
    assert.ok((await page.textContent("main")).includes("Sam Sample"));
    await page.waitForFunction(() => [...document.querySelectorAll("img.shot")].some((i) => i.naturalWidth > 50));
    let checks = await accessible(page, "library");
    await narrow(page, "library");
    await picture(page, pictures, "library-desktop");
    await phone(page, pictures, "library");

    await page.fill("#q", "sam iron");
    await page.click("button:has-text('Search')");
    assert.match(page.url(), /\/find\?q=sam/);
    assert.equal(await page.locator("ul.swings > li").count(), 2);
    await page.click("text=Narrow it down");
    await page.click("text=Narrow it down");
    checks += await accessible(page, "find");
    await narrow(page, "find");
    await picture(page, pictures, "find-desktop");
    await phone(page, pictures, "find");
    await page.fill("#q", "nobody at all");
    await page.click("button:has-text('Search')");
    assert.ok((await page.textContent("main")).includes("No swing fits"));

    // What was typed in is changed on the swing's page; a label and a day move it.
    for (const [swing, label] of [["first-lesson", "hips held"], ["sixth-lesson", "hips free"]]) {
      await page.goto(`${origin}/swing/${swing}`);
      await page.fill("#label", label);
      await page.fill("#lesson", "2026-05-14");
      await page.fill("#notes", "Hips first.\nThen the rest.");
      await page.click("text=Keep this");
      assert.equal(await page.inputValue("#label"), label);
      assert.equal(await page.inputValue("#lesson"), "2026-05-14");
    }
    checks += await accessible(page, "swing");
    await picture(page, pictures, "swing-desktop", { fullPage: true });
    await page.click("text=Open the whole page");
    assert.ok((await page.textContent(".facts")).includes("hips free"), "the page made before says so too");
    assert.ok(await page.locator("#turn-chart .line").first().isVisible());
    await page.focus("#scrub");
    const before = await page.textContent("[data-now=time]");
    await page.keyboard.press("ArrowRight");
    assert.notEqual(await page.textContent("[data-now=time]"), before, "the script runs under the server's policy");

    await page.goto(`${origin}/player?name=Sam%20Sample`);
    assert.ok((await page.textContent("main")).includes("14 May 2026"));
    assert.equal(await page.locator(".lesson h3").count(), 2);
    checks += await accessible(page, "player");
    await narrow(page, "player");
    await picture(page, pictures, "player-desktop");
    await phone(page, pictures, "player", { fullPage: true });

    await page.goto(`${origin}/compare?first=first-lesson&second=sixth-lesson`);
    assert.equal(await page.locator("svg.curves").count(), 3);
    assert.ok((await page.locator("[data-now=first-pelvis]").textContent()).includes("°"));

    // The student's file, as the browser saves it.
    await page.goto(`${origin}/swing/first-lesson`);
    await page.check("#head");
    const [download] = await Promise.all([page.waitForEvent("download"), page.click("text=Make the file")]);
    assert.equal(download.suggestedFilename(), "swing-2026-05-14.html");
    const kept = path.join(work, "kept.html");
    await download.saveAs(kept);
    checks += await testShared(browser, kept, "Sam Sample", pictures);
    told.push("a file without a name and with the head hidden, whole without any network");

    // Renamed, then put together with another one after asking.
    await page.goto(`${origin}/player?name=Sam%20Sample`);
    await page.fill("#to", "Sam Renamed");
    await page.click("button:has-text('Rename')");
    assert.match(page.url(), /Sam%20Renamed/);
    await page.goto(`${origin}/`);
    assert.ok((await page.textContent("main")).includes("Kim Example"));
    await page.click("text=Kim Example");
    await page.fill("#to", "Sam Renamed");
    await page.click("button:has-text('Rename')");
    checks += await accessible(page, "two players");
    await picture(page, pictures, "together-desktop");
    await page.click("button:has-text('Put both together')");
    assert.ok((await page.textContent("main")).includes("3 swings"));

    await page.click("text=Delete everything of Sam Renamed");
    const listed = await page.textContent("main");
    assert.match(listed, /first-lesson/);
    assert.match(listed, /2 uploads?/);
    checks += await accessible(page, "delete");
    await narrow(page, "delete");
    await phone(page, pictures, "delete");
    await page.click("button:has-text('for good')");
    assert.equal(page.url(), `${origin}/`);
    assert.deepEqual(readdirSync(results).filter((n) => existsSync(path.join(results, n, "swing.json"))), []);
    assert.deepEqual(readdirSync(`${results}-uploads`), [], "the clips are gone too");
    told.push(`axe: ${checks} checks passed on eight pages, none violated`);
    clean(seen);
    await context.close();
    return told;
  });
}
