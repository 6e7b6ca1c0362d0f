// The local page, started and watched.
import assert from "node:assert/strict";
import { spawn } from "node:child_process";
import { watch } from "./browser.mjs";

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

// Runs `test` with the page's address and a maker of browsers that have entered, each like a device
// of its own.
export async function served(browser, program, results, test) {
  const { child, url } = start(program, results);
  try {
    const entry = await url;
    const origin = new URL(entry).origin;
    const enter = async (options) => {
      const device = await watch(browser, (u) => u.startsWith(`${origin}/`), options);
      await device.page.goto(entry);
      assert.equal(device.page.url(), `${origin}/`, "the key does not stay in the address");
      return device;
    };
    const told = await test(origin, enter);

    // Someone without the key sees nothing.
    const stranger = await watch(browser, (u) => u.startsWith(`${origin}/`));
    stranger.seen.allowStatus = true;
    const answer = await stranger.page.goto(`${origin}/`);
    assert.equal(answer.status(), 401);
    await stranger.context.close();
    return told;
  } finally {
    child.kill();
  }
}
