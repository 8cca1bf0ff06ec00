// Rows as somebody chose them: the choice stands in the address, and what is shown is what was asked for.

import { assert } from "../checks.mjs";
import { visit } from "../browser.mjs";
import { EVENT } from "../project.mjs";

const ids = (page) => page.$$eval("table.chosen td[data-label=requirement] .id", (all) => all.map((own) => own.textContent.trim()).sort());
const of = (rows) => rows.map((row) => row.requirement).sort();

export async function run({ checks, project, browser }) {
  const due = project.json("before", EVENT, "--all").rows;
  const choices = [
    ["states", [["state", "void"], ["state", "slipped"]], (row) => ["void", "slipped"].includes(row.state)],
    ["a method", [["method", "test"]], (row) => row.method === "test"],
    ["a procedure", [["procedure", "TP-03"]], (row) => row.procedure === "TP-03"],
    ["safety and a state", [["safety", "1"], ["state", "closed"]], (row) => row.safety && row.state === "closed"],
    ["words", [["q", "torque"]], (row) => `${row.requirement} ${row.title} ${row.subject} ${row.statement}`.toLowerCase().includes("torque")],
  ];
  const statements = new Map(project.json("matrix").rows.map((row) => [row.requirement, row.statement]));
  for (const row of due) row.statement = statements.get(row.requirement) ?? "";
  for (const [what, fields, wanted] of choices) {
    await checks.that(`the form, filled in for ${what}, shows those rows and puts the choice into the address`, () =>
      browser.with({}, async (page) => {
        await visit(page, project.at("rows"));
        for (const [name, value] of [["due", "due"], ...fields]) await fill(page, name, value);
        await Promise.all([page.waitForURL(/\?/), page.click(".filter button")]);
        const asked = new URL(page.url()).searchParams;
        for (const [name, value] of fields) assert.ok(asked.getAll(name).includes(value), `${name}=${value} is not in ${asked}`);
        const expected = of(due.filter(wanted));
        assert.ok(expected.length > 0 && expected.length < due.length, "the choice is one that tells nothing");
        assert.deepEqual(await ids(page), expected);
        for (const [name, value] of fields) assert.ok(await holds(page, name, value), `the form forgot ${name}=${value}`);
        await visit(page, page.url());
        assert.deepEqual(await ids(page), expected, "the address, kept, shows something else");
      }));
  }
  await checks.that("columns are those that were chosen", () =>
    browser.with({}, async (page) => {
      await visit(page, project.at("rows?column=owner&column=statement"));
      const heads = await page.$$eval("table.chosen thead", (all) => [...all[0].querySelectorAll("th")].map((own) => own.textContent.trim()));
      assert.deepEqual(heads, ["state", "requirement", "statement", "owner"]);
    }));
  await checks.that("rows are put together, and none is lost by it", () =>
    browser.with({}, async (page) => {
      await visit(page, project.at("rows?due=due&by=procedure"));
      assert.deepEqual(await ids(page), of(due));
      assert.ok((await page.locator("table.chosen caption").count()) > 3);
    }));
}

async function fill(page, name, value) {
  const field = page.locator(`.filter [name="${name}"]`).first();
  const tag = await field.evaluate((own) => own.tagName + own.type);
  if (tag.startsWith("SELECT")) await field.selectOption(value);
  else if (tag === "INPUTcheckbox") await page.check(`.filter [name="${name}"][value="${value}"]`);
  else await field.fill(value);
}

const holds = (page, name, value) =>
  page.evaluate(([name, value]) => new FormData(document.querySelector(".filter")).getAll(name).includes(value), [name, value]);
