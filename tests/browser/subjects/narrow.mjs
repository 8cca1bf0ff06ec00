// On a narrow screen nothing but what is meant to scroll does.

import { assert } from "../checks.mjs";
import { excess, visit } from "../browser.mjs";
import { every } from "./access.mjs";

export async function run({ checks, project, browser, shots }) {
  const narrow = { viewport: { width: 360, height: 740 }, expects: /404/ };
  for (const [what, pages] of Object.entries(every(project))) {
    await checks.that(`no page of ${what} is wider than 360 pixels`, () =>
      browser.with(narrow, async (page) => {
        for (const address of pages) {
          await visit(page, address);
          assert.ok((await excess(page)) <= 0, `${address} is too wide by ${await excess(page)}`);
        }
        if (shots) await page.screenshot({ path: `${shots}/narrow-${what.split(" ").join("-")}.png` });
      }));
  }
  await checks.that("how far each event is stands where it is seen without scrolling, and the matrix leads to its states", () =>
    browser.with(narrow, async (page) => {
      await visit(page, project.at());
      const ends = await page.evaluate(() => [...document.querySelectorAll(".stands svg text")]
        .filter((own) => /^(none open|nothing planned|\d+ of \d+ open)$/.test(own.textContent)).map((own) => own.getBoundingClientRect().right));
      assert.ok(ends.length > 1 && ends.every((right) => right <= 360), `${ends}`);
      await visit(page, project.at("matrix"));
      const row = await page.evaluate(() => document.querySelector(`tr[id="${new URL(document.querySelector(".lead a").href).hash.slice(1)}"]`)?.id);
      assert.equal(row, "m1");
    }));
  await checks.that("a page that is too wide is found", () =>
    browser.with(narrow, async (page) => {
      await visit(page, project.at());
      await page.evaluate(() => document.querySelector("main").append(Object.assign(document.createElement("pre"), { textContent: "x".repeat(90) })));
      assert.ok((await excess(page)) > 0);
    }));
}
