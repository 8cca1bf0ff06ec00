// With the keyboard alone: all that can be used is reached, in the order of the page, and shows that it is reached.

import { assert } from "../checks.mjs";
import { visit } from "../browser.mjs";

const PAGES = ["", "matrix", "requirement/ACT-010", "record/AN-004", "rows", "between", "revisions/ACT-040", "search", "keys"];

/** What a browser lets be reached, besides what it makes of a box that scrolls. */
const USABLE = "a[href], button, input, select, textarea, summary, [tabindex='0']";

export async function run({ checks, project, browser }) {
  for (const address of ["/", ...PAGES]) {
    await checks.that(`Tab reaches all of ${address || "the first page"}, in order, and shows where it is`, () =>
      browser.with({}, async (page) => {
        await visit(page, address === "/" ? project.origin : project.at(address));
        await walk(page);
      }));
  }
  await checks.that("a page on which something cannot be reached is found", () =>
    browser.with({}, async (page) => {
      await visit(page, project.at());
      await page.evaluate(() => document.querySelectorAll("main a[href]")[3].setAttribute("tabindex", "-1"));
      await assert.rejects(walk(page), /not reached/);
    }));
  await checks.that("a page on which the focus does not show is found", () =>
    browser.with({}, async (page) => {
      await visit(page, project.at("keys"));
      await page.evaluate(() => document.querySelector(".head nav a").style.setProperty("outline", "none"));
      await assert.rejects(walk(page), /does not show/);
    }));
  await keys(checks, project, browser);
}

async function walk(page) {
  const wanted = await page.evaluate((usable) => {
    const all = [...document.querySelectorAll(usable)].filter((own) => own.checkVisibility() && !own.disabled);
    all.forEach((own, at) => (own.dataset.walk = at));
    document.activeElement?.blur();
    getSelection().removeAllRanges();
    return all.map((own) => own.outerHTML.slice(0, 120));
  }, USABLE);
  assert.ok(wanted.length > 4, "there is hardly anything to reach");
  const order = [];
  // The blur leaves the browser where it was; the start is where nothing was reached yet.
  await page.evaluate(() => { document.body.tabIndex = -1; document.body.focus(); document.body.removeAttribute("tabindex"); });
  for (let step = 0; step < wanted.length + 40 && order.length < wanted.length; step += 1) {
    await page.keyboard.press("Tab");
    const own = await page.evaluate(() => {
      const own = document.activeElement;
      if (!own || own === document.body) return null;
      const style = getComputedStyle(own), box = own.getBoundingClientRect();
      const shows = style.outlineStyle !== "none" && parseFloat(style.outlineWidth) >= 1;
      return { at: own.dataset.walk, shows, seen: box.bottom > 0 && box.top < innerHeight, html: own.outerHTML.slice(0, 120) };
    });
    if (!own) break;
    if (own.at === undefined) continue;
    assert.ok(own.shows, `the focus does not show on ${own.html}`);
    assert.ok(own.seen, `the focus is out of sight on ${own.html}`);
    order.push(Number(own.at));
  }
  assert.deepEqual(order, [...order].sort((a, b) => a - b), "Tab goes in another order than the page");
  const missed = wanted.filter((_, at) => !order.includes(at));
  assert.deepEqual(missed, [], "not reached");
}

async function keys(checks, project, browser) {
  const leads = { m: "matrix", r: "rows", c: "between", o: "", "?": "keys", "/": "search" };
  for (const [key, address] of Object.entries(leads)) {
    await checks.that(`the key ${key} leads to ${address || "what is open"}`, () =>
      browser.with({}, async (page) => {
        await visit(page, project.at(address === "" ? "matrix" : ""));
        await Promise.all([page.waitForURL(project.at(address)), page.keyboard.press(key)]);
      }));
  }
  await checks.that("e leads to all events, and the page of keys tells every key", () =>
    browser.with({}, async (page) => {
      await visit(page, project.at("keys"));
      const told = (await page.$$eval("kbd", (all) => all.map((own) => own.textContent))).join("");
      for (const key of Object.keys(leads)) assert.ok(told.includes(key), key);
      await Promise.all([page.waitForURL(project.origin), page.keyboard.press("e")]);
    }));
  await checks.that("j and k go from row to row, Enter follows, and nothing happens while something is typed", () =>
    browser.with({}, async (page) => {
      await visit(page, project.at());
      const here = () => page.evaluate(() => [...document.querySelectorAll("main tbody tr")].findIndex((own) => own.classList.contains("here")));
      await page.keyboard.press("j");
      await page.keyboard.press("j");
      assert.equal(await here(), 1);
      await page.keyboard.press("k");
      assert.equal(await here(), 0);
      const href = await page.evaluate(() => document.activeElement.href);
      await Promise.all([page.waitForURL(href), page.keyboard.press("Enter")]);
      await visit(page, project.at("rows"));
      await page.focus("[name=q]");
      await page.keyboard.type("more");
      assert.equal(await page.inputValue("[name=q]"), "more");
      assert.equal(page.url(), project.at("rows"));
    }));
}
