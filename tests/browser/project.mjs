// The example project in a folder of its own, `view` listening on it, and what the program says as JSON.

import { execFileSync, spawn } from "node:child_process";
import fs from "node:fs";
import os from "node:os";
import path from "node:path";
import { pathToFileURL } from "node:url";

export const TODAY = "2026-06-16";
export const EVENT = "hot-fire";

export class Project {
  static async start(program) {
    const outside = fs.mkdtempSync(path.join(os.tmpdir(), "slipmark-browser-"));
    const project = new Project(program, outside);
    project.run("demo", project.folder);
    project.origin = await project.#view();
    return project;
  }

  constructor(program, outside) {
    this.program = program;
    this.outside = outside;
    this.folder = path.join(outside, "demo");
    // Whatever ends the checks, nothing goes on listening.
    process.on("exit", () => this.stop());
    this.env = {
      PATH: process.env.PATH, HOME: outside, GIT_CONFIG_NOSYSTEM: "1", GIT_AUTHOR_NAME: "engineer", GIT_AUTHOR_EMAIL: "engineer@example.org",
      GIT_COMMITTER_NAME: "engineer", GIT_COMMITTER_EMAIL: "engineer@example.org",
    };
  }

  /** What the program prints; it may end with 1, which says that something is open. */
  run(...args) {
    const cwd = fs.existsSync(this.folder) ? this.folder : this.outside;
    try {
      return execFileSync(this.program, args, { cwd, env: this.env, encoding: "utf8", maxBuffer: 1 << 28, stdio: ["ignore", "pipe", "pipe"] });
    } catch (error) {
      if (error.status === 1) return error.stdout;
      throw new Error(`slipmark ${args.join(" ")} ended with ${error.status}: ${error.stderr}`);
    }
  }

  json(...args) {
    return JSON.parse(this.run(...args, "--today", TODAY, "--format", "json"));
  }

  /** The address of a page about the event. */
  at(address = "") {
    return `${this.origin}${EVENT}/${address}`;
  }

  /** Writes the same pages as files, once; the address of one. */
  site(address) {
    const site = path.join(this.outside, "site");
    if (!fs.existsSync(site)) this.run("packet", EVENT, "--site", site, "--today", TODAY, "--force");
    return pathToFileURL(path.join(site, address)).href;
  }

  /** Writes the packet, once; its address. */
  packet() {
    const file = path.join(this.outside, "review.html");
    if (!fs.existsSync(file)) this.run("packet", EVENT, "-o", file, "--today", TODAY, "--force");
    return pathToFileURL(file).href;
  }

  /** Every page of the site, as its path in the folder. */
  sitePages() {
    this.site("index.html");
    const site = path.join(this.outside, "site");
    const all = fs.readdirSync(site, { recursive: true }).map(String);
    return all.filter((own) => own.endsWith(".html")).sort();
  }

  read(file) {
    return fs.readFileSync(path.join(this.folder, file), "utf8");
  }

  write(file, text) {
    fs.writeFileSync(path.join(this.folder, file), text);
  }

  stop() {
    this.child?.kill();
    fs.rmSync(this.outside, { recursive: true, force: true });
  }

  #view() {
    const args = ["view", "--port", "0", "--today", TODAY];
    this.child = spawn(this.program, args, { cwd: this.folder, env: this.env, stdio: ["ignore", "pipe", "ignore"] });
    return new Promise((done, failed) => {
      let said = "";
      this.child.on("exit", (code) => failed(new Error(`view ended with ${code}`)));
      this.child.stdout.on("data", (bytes) => {
        said += bytes;
        const address = said.match(/http:\/\/127\.0\.0\.1:\d+\//);
        if (address) done(address[0]);
      });
    });
  }
}
