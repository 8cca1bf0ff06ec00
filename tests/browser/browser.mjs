// Chromium, without a window, and what is asked of its pages.

import fs from "node:fs";

import { assert } from "./checks.mjs";

const QUIET = [
  "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking", "--disable-component-update", "--disable-sync",
];

export class Browser {
  static async start(installed, executablePath) {
    const { chromium } = installed("playwright-core");
    const browser = new Browser();
    browser.chromium = await chromium.launch({ executablePath, headless: true, args: QUIET });
    browser.axe = fs.readFileSync(installed.resolve("axe-core/axe.min.js"), "utf8");
    return browser;
  }

  async stop() {
    await this.chromium.close();
  }

  /** A page of its own, which is closed afterwards; whatever the browser complains about meanwhile is a failure. */
  async with(options, use) {
    const context = await this.chromium.newContext({ viewport: { width: 1200, height: 800 }, ...options });
    const page = await context.newPage();
    const complaints = [];
    page.on("pageerror", (error) => complaints.push(String(error)));
    page.on("console", (own) => own.type() === "error" && complaints.push(own.text()));
    page.on("request", (own) => {
      if (!/^(http:\/\/127\.0\.0\.1:|file:|data:)/.test(own.url())) complaints.push(`asked for ${own.url()}`);
    });
    try {
      const came = await use(page);
      assert.deepEqual(complaints.filter((own) => !options?.expects?.test(own)), []);
      return came;
    } finally {
      await context.close();
    }
  }
}

/** Goes to a page. Pages listen for news, so that the network is never idle. */
export async function visit(page, address) {
  const reply = await page.goto(address, { waitUntil: "load" });
  return reply?.status() ?? 200;
}

/** By how many pixels the page is wider than what shows it. */
export const excess = (page) => page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);

/** What axe finds in a page that is serious or worse: rule, and where. */
export async function faults(browser, page) {
  // Evaluated from outside: the pages' own policy lets no strange script in.
  await page.evaluate(browser.axe);
  const found = await page.evaluate(() => window.axe.run(document, { resultTypes: ["violations"], preload: false }));
  const bad = found.violations.filter((own) => own.impact === "serious" || own.impact === "critical");
  return bad.flatMap((own) => own.nodes.map((node) => `${own.id}: ${node.target.join(" ")} ${node.any[0]?.message ?? own.help}`));
}
