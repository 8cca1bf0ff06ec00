// The page follows the files: what is new is shown by itself, and whoever reads stays where they were.

import { assert } from "../checks.mjs";
import { visit } from "../browser.mjs";

const FILE = "act/ACT-010.md";
/** Far more than it takes, whatever else the machine does: how fast it is, is measured by tests/bench/view. */
const LONG = 20_000;

export async function run({ checks, project, browser }) {
  const file = project.run("show", "ACT-010", "--format", "json");
  const path = JSON.parse(file).path;
  const text = project.read(path);
  const edited = text.replace("\n## ", "\nSeen by nobody before.\n\n## ");
  assert.notEqual(edited, text, `${FILE} cannot be edited here`);
  try {
    await edit(checks, project, browser, { path, text });
    await place(checks, project, browser, { path, text });
    await broken(checks, project, browser, { path, text });
  } finally {
    project.write(path, text);
  }
}

async function edit(checks, project, browser, { path, text }) {
  await checks.that("a file that is saved changes the page by itself", () =>
    browser.with({}, async (page) => {
      await visit(page, project.at("requirement/ACT-010"));
      const took = [];
      for (const word of ["first", "second", "third"]) {
        const began = Date.now();
        project.write(path, text.replace(/^title = "/m, `title = "${word} edit, `));
        await page.waitForFunction((word) => document.querySelector("h1").textContent.includes(`${word} edit`), word, { timeout: LONG, polling: 5 });
        took.push(Date.now() - began);
        assert.ok((await page.title()).includes(`${word} edit`), "the window's title is the old one");
      }
      console.log(`  from the saved file to the changed page: ${took.join(", ")} ms, in this build`);
      project.write(path, text);
      await page.waitForFunction(() => !document.querySelector("h1").textContent.includes("edit,"), null, { timeout: LONG });
    }));
}

async function place(checks, project, browser, { path, text }) {
  await checks.that("a page that is renewed keeps its place, its focus and what is typed", () =>
    browser.with({}, async (page) => {
      await visit(page, project.at("rows"));
      await page.fill("[name=q]", "half a wo");
      await page.evaluate(() => scrollTo(0, 600));
      const number = await page.getAttribute("meta[name=slipmark-seen]", "content");
      project.write(path, text.replace(/^title = "/m, 'title = "moved, '));
      await page.waitForFunction((old) => document.querySelector("meta[name=slipmark-seen]").content !== old, number, { timeout: LONG });
      assert.ok((await page.innerText("main")).includes("moved, "));
      assert.equal(await page.evaluate(() => scrollY), 600);
      assert.equal(await page.evaluate(() => document.activeElement.name), "q");
      assert.equal(await page.inputValue("[name=q]"), "half a wo");
    }));
}

async function broken(checks, project, browser, { path, text }) {
  await checks.that("a file that cannot be read is shown at the top of what is open, with its place, and is gone when it is mended", () =>
    browser.with({}, async (page) => {
      project.write(path, text);
      await visit(page, project.at());
      const broken = text.replace(/^title = .*$/m, "title = = broken");
      const line = broken.split("\n").findIndex((own) => own.startsWith("title = = ")) + 1;
      project.write(path, broken);
      await page.waitForFunction((path) => document.querySelector("main").innerText.includes(path), path, { timeout: LONG });
      const main = await page.innerText("main");
      assert.match(main, new RegExp(`${path}:${line}(:\\d+)?`));
      const [fault, open] = [main.indexOf(`${path}:${line}`), main.indexOf("Open rows, safety first")];
      assert.ok(fault >= 0 && fault < open, "it does not come before what is open");
      assert.ok(!(await page.innerText(".sentence")).includes("Nothing"), "something that cannot be read is open");
      await visit(page, project.origin);
      assert.match(await page.innerText("[role=alert]"), new RegExp(`${path}:${line}`));
      project.write(path, text);
      await page.waitForFunction(() => !document.querySelector("[role=alert]"), null, { timeout: LONG });
    }));
}
