// What was: the range that moves through revisions, and two points compared.

import { assert } from "../checks.mjs";
import { visit } from "../browser.mjs";

const plain = (text) => text.replaceAll(/\s+/g, " ").trim();

export async function run({ checks, project, browser }) {
  const ids = new Set(project.json("matrix").rows.map((row) => row.requirement));
  const histories = [...ids].map((id) => project.json("history", id));
  const { id: ID, revisions } = histories.reduce((most, own) => (own.revisions.length > most.revisions.length ? own : most));
  await checks.that("the range moves through every revision, by key, and shows how it read", () =>
    browser.with({}, async (page) => {
      assert.ok(revisions.length > 2, "too few revisions to tell");
      await visit(page, project.at(`revisions/${ID}`));
      await page.focus("#at");
      await page.keyboard.press("Home");
      for (const own of revisions) {
        const shown = await page.$$eval(".revisions > li", (all) => all.filter((it) => it.offsetParent).map((it) => it.innerText));
        assert.equal(shown.length, 1);
        const text = plain(shown[0]);
        assert.ok(text.includes(`Revision ${own.number} `) && text.includes(own.oid.slice(0, 10)), text);
        if (own.statement) assert.ok(text.includes(plain(own.statement)), `${own.number}: ${text}`);
        await page.keyboard.press("ArrowRight");
      }
      assert.match(await page.getAttribute("#at", "aria-valuetext"), new RegExp(`revision ${revisions.at(-1).number}`));
    }));
  await checks.that("one revision has an address, and leads to those beside it", () =>
    browser.with({}, async (page) => {
      await visit(page, project.at(`revisions/${ID}?at=${revisions[1].oid}`));
      assert.equal(await page.locator(".revisions > li").count(), 1);
      await Promise.all([page.waitForURL((url) => url.search.includes(revisions[0].oid)), page.click("a[rel=prev]")]);
      assert.ok((await page.innerText(".revisions")).includes("Revision 1"));
    }));
  await checks.that("two points, chosen in the form, show what `changes` tells between them", () =>
    browser.with({}, async (page) => {
      await visit(page, project.at("between"));
      assert.ok((await page.locator("#points option").count()) > 10, "hardly anything is offered");
      await page.fill("[name=from]", "PDR");
      await page.fill("[name=to]", "TRR-1");
      await Promise.all([page.waitForURL(/from=PDR/), page.click(".filter button")]);
      const changes = project.json("changes", "PDR..TRR-1").changes;
      const text = await page.innerText("main");
      assert.ok(changes.length > 3);
      for (const own of changes) assert.ok(text.includes(own.id), `${own.id} is not on the page`);
    }));
  await checks.that("a point that there is not is said to be none, with what was typed", () =>
    browser.with({}, async (page) => {
      await visit(page, project.at("between?from=no-such-point"));
      assert.match(await page.innerText("[role=alert]"), /no-such-point/);
      assert.equal(await page.inputValue("[name=from]"), "no-such-point");
    }));
}
