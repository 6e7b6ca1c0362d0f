// Measures two sample swings and drives every page in a real browser.
import { spawnSync } from "node:child_process";
import { copyFileSync, mkdirSync, writeFileSync } from "node:fs";
import path from "node:path";
import { open } from "./browser.mjs";
import { testComparison, testFolder, testReport, testUntold } from "./files.mjs";
import { testLibrary } from "./library.mjs";
import { testRange } from "./range.mjs";
import { testSets } from "./sets.mjs";

const [program, clips, work, pictures] = process.argv.slice(2);

function run(...args) {
  const end = spawnSync(program, args, { encoding: "utf8" });
  if (end.status !== 0) throw new Error(`${args[0]} ended with ${end.status}: ${end.stderr}`);
}

const results = path.join(work, "results");
for (const [name, speed] of [["first-lesson", "38 m/s"], ["sixth-lesson", "44 m/s"]]) {
  run("measure", "--quiet", "--face-on", path.join(clips, `${name}_face_on.mp4`),
    "--down-the-line", path.join(clips, `${name}_down_the_line.mp4`),
    "--player", "Sam Sample", "--club", "7 iron", "--ball-speed", speed, "--out", results);
}
// Limits that no interval can keep: what a swing too unsure to be of use looks like.
const strict = path.join(work, "strict.toml");
writeFileSync(strict, "[usable]\nhip_turn_deg = 0.1\nchest_turn_deg = 0.1\nturn_to_line_deg = 0.1\nseparation_deg = 0.1\n");
run("measure", "--quiet", "--face-on", path.join(clips, "sixth-lesson_face_on.mp4"),
  "--name", "unsure", "--pipeline", strict, "--out", path.join(work, "strict"));
run("compare", "--quiet", path.join(results, "first-lesson"), path.join(results, "sixth-lesson"),
  "--out", path.join(work, "compared"));
mkdirSync(path.join(work, "clips"));
for (const side of ["face_on", "down_the_line"]) {
  copyFileSync(path.join(clips, `first-lesson_${side}.mp4`), path.join(work, "clips", `sam_1_${side}.mp4`));
}
run("folder", "--quiet", path.join(work, "clips"), "--out", path.join(work, "folder"));

const browser = await open();
let failed = 0;
const tests = [
  ["the report", () => testReport(browser, path.join(results, "first-lesson"), pictures)],
  ["a swing that can't be told", () => testUntold(browser, path.join(work, "strict", "unsure"), pictures)],
  ["the comparison", () => testComparison(browser, path.join(work, "compared"), pictures)],
  ["the folder's page", () => testFolder(browser, path.join(work, "folder"), pictures)],
  ["two phones on the range", () => testRange(browser, program, results, clips, pictures)],
  ["sets of swings", () => testSets(browser, run, work, results, pictures)],
  ["the library", () => testLibrary(browser, program, results, work, pictures)],
];
for (const [name, test] of tests) {
  try {
    for (const line of await test()) console.log(`  ${line}`);
    console.log(`ok: ${name}`);
  } catch (error) {
    failed += 1;
    console.error(`FAILED: ${name}: ${error.stack}`);
  }
}
await browser.close();
process.exit(failed ? 1 : 0);
