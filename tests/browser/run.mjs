// The pages in a real browser: those of `view`, of `packet --site`, and the packet itself.
//
//   node tests/browser/run.mjs --slipmark target/debug/slipmark --modules target/browser/node_modules [--chromium PROGRAM]
//                              [--only WORD] [--shots FOLDER]
//
// What stands on the pages is held against what the program says as JSON. Means of finding something wrong (pale text, a page that is
// too wide, a blank print) are tried on pages that were harmed first. With --shots the pages are pictured, to be looked at.

import { execFileSync } from "node:child_process";
import { createRequire } from "node:module";
import path from "node:path";
import { parseArgs } from "node:util";

import { Checks } from "./checks.mjs";
import { Project } from "./project.mjs";
import { Browser } from "./browser.mjs";

import * as answers from "./subjects/answers.mjs";
import * as chosen from "./subjects/chosen.mjs";
import * as past from "./subjects/past.mjs";
import * as supposed from "./subjects/supposed.mjs";
import * as follows from "./subjects/follows.mjs";
import * as keyboard from "./subjects/keyboard.mjs";
import * as bare from "./subjects/bare.mjs";
import * as narrow from "./subjects/narrow.mjs";
import * as printed from "./subjects/printed.mjs";
import * as access from "./subjects/access.mjs";

const SUBJECTS = { answers, chosen, past, supposed, follows, keyboard, bare, narrow, printed, access };

const { values: args } = parseArgs({
  options: {
    slipmark: { type: "string", default: "target/debug/slipmark" },
    modules: { type: "string", default: "target/browser/node_modules" },
    chromium: { type: "string" },
    only: { type: "string" },
    shots: { type: "string" },
  },
});

const installed = createRequire(path.join(path.resolve(args.modules), "x.js"));
const checks = new Checks();
const project = await Project.start(path.resolve(args.slipmark));
const browser = await Browser.start(installed, args.chromium ?? execFileSync("sh", ["-c", "command -v chromium"], { encoding: "utf8" }).trim());
try {
  for (const [name, subject] of Object.entries(SUBJECTS)) {
    if (args.only && args.only !== name) continue;
    const began = Date.now();
    await subject.run({ checks: checks.about(name), project, browser, shots: args.shots });
    console.log(`${name}: ${((Date.now() - began) / 1000).toFixed(1)} s`);
  }
} finally {
  await browser.stop();
  project.stop();
}
process.exitCode = checks.end();
