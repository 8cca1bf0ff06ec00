// Counts what was looked at, and says what was not as it should be.

import assert from "node:assert/strict";

export class Checks {
  #counts;
  #subject;

  constructor(counts = { passed: 0, failed: 0 }, subject = "") {
    this.#counts = counts;
    this.#subject = subject;
  }

  /** The same count, under a heading. */
  about(subject) {
    return new Checks(this.#counts, subject);
  }

  /** One check: it holds unless `look` throws. */
  async that(what, look) {
    try {
      await look();
      this.#counts.passed += 1;
    } catch (error) {
      this.#counts.failed += 1;
      console.log(`FAILED ${this.#subject}: ${what}\n  ${String(error.message ?? error).slice(0, 3000).replaceAll("\n", "\n  ")}`);
    }
  }

  /** Prints the last line; the exit code. */
  end() {
    const { passed, failed } = this.#counts;
    console.log(`${passed} passed, ${failed} failed`);
    return failed === 0 && passed > 0 ? 0 : 1;
  }
}

export { assert };
