// A calculation with other values: what the form comes to is what `calc --what-if` says, beside what is recorded, and nothing is written.

import { execFileSync } from "node:child_process";

import { assert } from "../checks.mjs";
import { visit } from "../browser.mjs";

const ID = "AN-004";
const plain = (text) => text.replaceAll(/\s+/g, " ");

/** What the program says of it, as the page shows it. */
function expected(project, ...more) {
  return project.json("calc", ID, ...more).verdicts.map((own) => [own.result, own.verdict, own.margin ? `margin ${own.margin}` : ""]);
}

const shown = (page, column) => page.$$eval(`#supposed td[data-label="${column}"]`, (all) => all.map((own) => own.innerText));

async function same(page, column, wanted) {
  const all = (await shown(page, column)).map(plain);
  assert.equal(all.length, wanted.length);
  for (const [at, parts] of wanted.entries()) for (const part of parts) assert.ok(all[at].includes(plain(part)), `${part} is not in ${all[at]}`);
}

export async function run({ checks, project, browser, shots }) {
  const before = execFileSync("git", ["status", "--porcelain"], { cwd: project.folder, encoding: "utf8" });
  const recorded = expected(project);
  const other = expected(project, "--what-if", "d=1.2 ± 0.03 mm");
  assert.notDeepEqual(other, recorded);
  await checks.that("without a script the form leads to the other result, beside what is recorded", () =>
    browser.with({ javaScriptEnabled: false }, async (page) => {
      await visit(page, project.at(`record/${ID}`));
      await same(page, "recorded", recorded);
      assert.deepEqual(await shown(page, "what if"), []);
      assert.equal(await page.locator(".suppose input[type=range]:visible").count(), 0);
      await page.fill(".suppose [name=d]", "1.2");
      await Promise.all([page.waitForURL(/d=1\.2/), page.click(".suppose button")]);
      await same(page, "recorded", recorded);
      await same(page, "what if", other);
      assert.match(await page.innerText("#what-if"), /no evidence/);
    }));
  await checks.that("a slider changes the result as it is moved, by key, and the address with it", () =>
    browser.with({}, async (page) => {
      await visit(page, project.at(`record/${ID}`));
      const range = page.locator('.suppose [name=d] ~ input[type=range]');
      await range.focus();
      for (let step = 0; step < 60 && Number(await page.inputValue(".suppose [name=d]")) > 1.2; step += 1) await page.keyboard.press("ArrowLeft");
      const value = await page.inputValue(".suppose [name=d]");
      await page.waitForFunction((value) => new URLSearchParams(location.search).get("d") === value, value);
      await same(page, "what if", expected(project, "--what-if", `d=${value} ± 0.03 mm`));
      assert.equal(await page.evaluate(() => document.activeElement.type), "range", "the slider lost the focus");
      if (shots) await page.locator("#what-if").screenshot({ path: `${shots}/what-if.png` });
      await visit(page, page.url());
      assert.equal(await page.inputValue(".suppose [name=d]"), value);
    }));
  await checks.that("what cannot be read or is not there is said, and what is recorded stands", () =>
    browser.with({}, async (page) => {
      for (const [query, words] of [["d=wide", /wide/], ["zz=3", /nothing called/], ["d=3%20kg", /./]]) {
        assert.equal(await visit(page, project.at(`record/${ID}?${query}`)), 200);
        await same(page, "recorded", recorded);
        assert.match(await page.innerText("#supposed"), words);
      }
    }));
  await checks.that("nothing is written, and no other page says anything else for it", () =>
    browser.with({}, async (page) => {
      await visit(page, project.at(`record/${ID}?d=1.2`));
      assert.equal(execFileSync("git", ["status", "--porcelain"], { cwd: project.folder, encoding: "utf8" }), before);
      await visit(page, project.at(`record/${ID}`));
      assert.deepEqual(await shown(page, "what if"), []);
      await page.emulateMedia({ media: "print" });
      assert.equal(await page.locator("#what-if").isVisible(), false, "what counts for nothing is printed");
    }));
}
