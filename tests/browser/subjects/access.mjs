// For everybody: nothing that axe calls serious or critical, on any type of page, in the light and in the dark.

import { assert } from "../checks.mjs";
import { faults, visit } from "../browser.mjs";

/** How many pages of each sort of thing are looked at. */
const EACH = 2;

/** One or more pages of every type: those of `view`, those of the folder, and the packet. */
export function every(project) {
  const at = (address) => project.at(address);
  const site = few(project.sitePages());
  const live = site.map((file) => at(file.replace(/(^index)?\.html$/, "")));
  const revision = project.json("history", "ACT-040").revisions[0].oid;
  const more = ["rows", "rows?by=procedure&column=statement", "keys", "between", "between?from=PDR&to=TRR-1", "between?from=none", "revisions/ACT-040",
    `revisions/ACT-040?at=${revision}`, "search?q=torque", "no-such-page"];
  return { view: [project.origin, ...live, ...more.map(at)], "the folder": site.map((file) => project.site(file)), "the packet": [project.packet()] };
}

/** Every page at the top, and some of each sort below. */
function few(files) {
  const counts = new Map();
  return files.filter((file) => {
    const sort = file.includes("/") ? file.split("/")[0] : file;
    counts.set(sort, (counts.get(sort) ?? 0) + 1);
    return counts.get(sort) <= EACH;
  });
}

export async function run({ checks, project, browser, shots }) {
  for (const [what, pages] of Object.entries(every(project))) {
    // What is a file is for paper, and has one look.
    for (const colorScheme of what === "view" ? ["light", "dark"] : ["light"]) {
      await checks.that(`the browser complains about no page of ${what}, ${colorScheme}`, () =>
        browser.with({ colorScheme, expects: /404/ }, async (page) => {
          for (const address of pages) {
            await checks.that(`${address.replace(project.origin, "/")}, ${colorScheme}`, async () => {
              await visit(page, address);
              assert.deepEqual(await faults(browser, page), []);
            });
          }
        }));
      if (shots) await browser.with({ colorScheme }, async (page) => {
        await visit(page, pages[Math.min(1, pages.length - 1)]);
        await page.screenshot({ path: `${shots}/${what.split(" ").join("-")}-${colorScheme}.png` });
      });
    }
  }
  await checks.that("pictures, drawn in black, are turned light in the dark, and are as they were drawn elsewhere", () =>
    browser.with({ colorScheme: "dark" }, async (page) => {
      await visit(page, project.at());
      const filter = () => page.$eval(".picture svg", (own) => getComputedStyle(own).filter);
      assert.equal(await filter(), "invert(1)");
      await page.emulateMedia({ media: "print" });
      assert.equal(await filter(), "none");
      await page.emulateMedia({ media: "screen", colorScheme: "light" });
      assert.equal(await filter(), "none");
    }));
  await checks.that("pale text, a field without a name and a picture without words are found", () =>
    browser.with({}, async (page) => {
      await visit(page, project.at("search"));
      await page.evaluate(() => {
        const main = document.querySelector("main");
        const pale = Object.assign(document.createElement("p"), { textContent: "hardly to be read" });
        pale.style.color = "#bbb";
        main.append(pale, document.createElement("select"), document.createElement("img"));
      });
      const found = (await faults(browser, page)).join("\n");
      for (const rule of ["color-contrast", "select-name", "image-alt"]) assert.ok(found.includes(rule), `${rule} is not in ${found}`);
    }));
}
