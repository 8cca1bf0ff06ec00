// Without any script: every page says what it says, and every form answers.

import { assert } from "../checks.mjs";
import { visit } from "../browser.mjs";

export async function run({ checks, project, browser }) {
  const off = { javaScriptEnabled: false };
  await checks.that("every page of `view` has its text, and no link of it leads nowhere", () =>
    browser.with(off, async (page) => {
      const seen = new Set([project.origin]);
      const rest = [project.origin];
      while (rest.length > 0) {
        const address = rest.pop();
        assert.equal(await visit(page, address), 200, address);
        assert.ok((await page.innerText("main")).trim().length > 40, `${address} is all but empty`);
        for (const href of await page.$$eval("a[href]", (all) => all.map((own) => own.href.split("#")[0]))) {
          // What a form or a point in history leads to is looked at elsewhere.
          const own = href.replace(/\?.*/, "");
          if (!own.startsWith(project.at()) || seen.has(own)) continue;
          seen.add(own);
          rest.push(own);
        }
      }
      assert.ok(seen.size > 120, `only ${seen.size} pages`);
    }));
  await checks.that("rows are chosen by the form", () =>
    browser.with(off, async (page) => {
      await visit(page, project.at("rows"));
      await page.check('[name=state][value="void"]');
      await Promise.all([page.waitForURL(/state=void/), page.click(".filter button")]);
      const states = await page.$$eval("table.chosen .state", (all) => all.map((own) => own.textContent.trim()));
      assert.ok(states.length > 0 && states.every((own) => own === "void"), states.join());
    }));
  await checks.that("revisions are links, and the range that needs a script is not shown", () =>
    browser.with(off, async (page) => {
      await visit(page, project.at("revisions/ACT-010"));
      assert.equal(await page.locator("#at").isVisible(), false);
      assert.ok((await page.locator(".revisions > li").count()) > 1);
      await Promise.all([page.waitForURL(/\?at=/), page.click(".revisions > li:first-child h2 a")]);
      assert.equal(await page.locator(".revisions > li").count(), 1);
    }));
}
