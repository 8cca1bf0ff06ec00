// What the pages say is what the program says: every event, row and state, and whatever can be named is found.

import { assert } from "../checks.mjs";
import { visit } from "../browser.mjs";
import { EVENT } from "../project.mjs";

/** One word for a row, wherever it stands. */
const line = (row) => [row.requirement, row.subject, row.state].join(" | ");

export async function run({ checks, project, browser }) {
  const before = project.json("before", EVENT, "--all");
  await events(checks, project, browser);
  await checks.that("each open row is on the first page, with its state and what closes it", () =>
    browser.with({}, async (page) => {
      assert.equal(await visit(page, project.at()), 200);
      assert.ok((await page.textContent(".sentence")).includes(`${before.open_total}`));
      const open = before.rows.filter((row) => !["closed", "waived"].includes(row.state));
      const shown = await page.$$eval("#open .open-rows tbody tr", (all) =>
        all.map((own) => ({ state: own.querySelector(".state").textContent.trim(), text: own.innerText })));
      assert.equal(shown.length, open.length);
      for (const row of open) {
        const own = shown.filter((it) => it.state === row.state && it.text.includes(row.requirement) && it.text.includes(row.subject));
        assert.ok(own.length > 0, `nothing on the page is ${line(row)}`);
      }
    }));
  await checks.that("the rows, all chosen, are those of the answer", () =>
    browser.with({}, async (page) => {
      await visit(page, project.at("rows?due=due&column=shown"));
      const shown = await page.$$eval("table.chosen tbody tr", (all) =>
        all.map((own) => [own.querySelector("td[data-label=requirement] .id").textContent.trim(),
          own.querySelector("td[data-label=shown]").innerText.split("\non ")[1].trim(), own.querySelector(".state").textContent.trim()].join(" | ")));
      assert.deepEqual(shown.sort(), before.rows.map(line).sort());
    }));
  await checks.that("the matrix has each row due, and those due later", () =>
    browser.with({}, async (page) => {
      await visit(page, project.at("matrix"));
      const rows = project.json("matrix").rows;
      const text = await page.innerText("main");
      for (const row of rows) assert.ok(text.includes(row.requirement), row.requirement);
      assert.equal(await page.locator("table.second tbody tr").count(), rows.length);
    }));
  await search(checks, project, browser);
}

async function events(checks, project, browser) {
  await checks.that("the page to begin with has each event with how many rows are open, by state", () =>
    browser.with({}, async (page) => {
      assert.equal(await visit(page, project.origin), 200);
      const shown = await page.$$eval(".events tbody tr", (all) => all.map((own) => own.innerText.replaceAll(/\s+/g, " ")));
      const names = await page.$$eval(".events .id", (all) => all.map((own) => own.textContent.trim()));
      assert.equal(names.length, shown.length);
      for (const [at, name] of names.entries()) {
        const before = project.json("before", name);
        if (before.open_total > 0) assert.ok(shown[at].includes(`${before.open_total} open`), shown[at]);
        for (const [state, count] of Object.entries(before.counts)) {
          if (count > 0) assert.ok(shown[at].includes(`${state} ${count}`), `${name}: ${state} ${count} is not in ${shown[at]}`);
        }
      }
    }));
}

async function search(checks, project, browser) {
  const found = (page) => page.$$eval("#found li", (all) => all.map((own) => own.innerText.replaceAll(/\s+/g, " ")));
  const typed = async (page, words) => {
    await page.fill("#q", words);
    await page.waitForFunction((words) => new URLSearchParams(location.search).get("q") === words, words);
    return found(page);
  };
  await checks.that("everything is found by its id, first", () =>
    browser.with({}, async (page) => {
      await visit(page, project.at("all"));
      const ids = await page.$$eval("main section td[data-label=id] a", (all) => all.map((own) => own.textContent.trim()));
      assert.ok(ids.length > 60, `only ${ids.length}`);
      await visit(page, project.at("search"));
      for (const id of ids) assert.equal((await typed(page, id))[0]?.split(" ")[0], id);
    }));
  for (const [words, id] of [["lost motion", "ACT-050"], ["materials engineer", null], ["cold torque", "TP-03"], ["ACT-W/SN02", "ACT-W/SN02"], ["ACT", "ACT-010"], ["zzzz", undefined]]) {
    await checks.that(`searching for “${words}”`, () =>
      browser.with({}, async (page) => {
        await visit(page, project.at(`search?q=${encodeURIComponent(words)}`));
        const live = await found(page);
        await visit(page, `${project.site("search.html")}?q=${encodeURIComponent(words)}`);
        assert.deepEqual(await found(page), live, "the folder's script finds something else, or in another order");
        assert.equal(live.length > 0, id !== undefined);
        if (id) assert.ok(live.some((own) => own.startsWith(id)), `${id} is not among ${live.join("; ")}`);
      }));
  }
}
