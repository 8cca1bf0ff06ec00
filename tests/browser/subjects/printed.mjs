// On paper: all of the text, and nothing that only leads about.

import fs from "node:fs";
import { execFileSync } from "node:child_process";

import { assert } from "../checks.mjs";
import { visit } from "../browser.mjs";

/** The text of the page as it is printed. */
async function text(page, project) {
  const file = `${project.outside}/printed.pdf`;
  await page.pdf({ path: file, preferCSSPageSize: true });
  assert.equal(fs.readFileSync(file).subarray(0, 5).toString(), "%PDF-");
  return execFileSync("pdftotext", ["-layout", file, "-"], { encoding: "utf8" });
}

export async function run({ checks, project, browser }) {
  const pages = { "what is open": "", "the matrix": "matrix", "a requirement": "requirement/ACT-010", "rows": "rows", "a comparison": "between?from=PDR&to=TRR-1", "an analysis": "record/AN-004" };
  for (const [what, address] of Object.entries(pages)) {
    for (const colorScheme of ["light", "dark"]) {
      await checks.that(`${what}, printed from a ${colorScheme} screen`, () =>
        browser.with({ colorScheme }, async (page) => {
          await visit(page, project.at(address));
          const title = (await page.innerText("h1")).split("\n")[0].trim();
          await page.emulateMedia({ media: "print", colorScheme });
          const seen = await page.evaluate(() => [...document.querySelectorAll("nav, form, .skip, #news")].filter((own) => own.checkVisibility()).map((own) => own.outerHTML.slice(0, 90)));
          assert.deepEqual(seen, [], "what only leads about is printed");
          const ink = await page.evaluate(() => getComputedStyle(document.documentElement).color.match(/\d+/g).map(Number));
          assert.ok(Math.max(...ink) < 80, `the text is printed in ${ink}`);
          const printed = await text(page, project);
          assert.ok(printed.length > 300, "hardly anything is printed");
          assert.ok(printed.includes(title.split(" ")[0]), `${title} is not in what is printed`);
          assert.doesNotMatch(printed, /Read again|To the text/);
        }));
    }
  }
  await checks.that("a page that prints nothing is found", () =>
    browser.with({}, async (page) => {
      await visit(page, project.at());
      await page.evaluate(() => document.querySelector("main").remove());
      assert.ok((await text(page, project)).length < 1200);
    }));
}
