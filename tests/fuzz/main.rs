//! Texts that nobody would write, through every reader: no panic, nothing that takes long, nothing that eats memory.
//!
//! Seeds are texts as people write them; each input is one or two of them with a few bytes, words or parts changed, by random numbers
//! with a fixed start. `SLIPMARK_FUZZ_INPUTS` says how many inputs each reader gets (2,000 if it is not set), `SLIPMARK_FUZZ_SEED` where the
//! random numbers start. What fails is printed so that it can be made a unit test where the fault is.
//!
//! An input may take 500 ms of a processor (the least of three tries), or as many as `SLIPMARK_FUZZ_LONGEST` says: 100 where the readers are built
//! as for users. 64 KiB of text may take 64 MiB of memory while they are read; what other threads take is not counted.

mod memory;
mod mutate;
mod readers;
mod watch;

use mutate::Mutator;
use watch::{longest, watch};

/// Runs one reader on as many inputs as asked for, and fails with what went wrong.
fn fuzz(name: &str, seeds: Vec<Vec<u8>>, reader: &dyn Fn(&[u8])) {
    let mut mutator = Mutator::new(seeds, watch::setting("SLIPMARK_FUZZ_SEED", 1));
    watch(name, watch::setting("SLIPMARK_FUZZ_INPUTS", 2_000), longest(), &mut || mutator.input(), reader);
}

#[test]
fn quantities() {
    fuzz("quantities", mutate::lines(readers::QUANTITIES), &readers::quantity);
}

#[test]
fn uncertainties() {
    fuzz("uncertainties", mutate::lines(readers::UNCERTAINTIES), &readers::uncertainty);
}

#[test]
fn calculations() {
    let mut seeds = mutate::lines(readers::EXPRESSIONS);
    seeds.extend(readers::SHEETS.iter().map(|sheet| sheet.as_bytes().to_vec()));
    fuzz("calculations", seeds, &readers::calculation);
}

#[test]
fn tables() {
    fuzz("tables", readers::TABLES.iter().map(|table| table.as_bytes().to_vec()).collect(), &readers::table);
}

#[test]
fn conditions() {
    fuzz("conditions", mutate::lines(readers::CONDITIONS), &readers::condition);
}

#[test]
fn front_matter() {
    fuzz("front matter", readers::example().into_iter().map(|(_, text)| text).collect(), &readers::file);
}

/// The whole of the example with one of its files changed, down to the states: what the readers let through meets the rest. One for 200 of the
/// inputs of a reader, and with time for the trials that the example makes.
#[test]
fn projects() {
    let files = readers::example();
    let mut mutator =
        Mutator::new(files.iter().map(|(_, text)| text.clone()).collect(), watch::setting("SLIPMARK_FUZZ_SEED", 1));
    let count = watch::setting("SLIPMARK_FUZZ_INPUTS", 2_000) / 200;
    watch("projects", count, 20 * longest(), &mut || mutator.input(), &|bytes| readers::project(&files, bytes));
}

/// Texts that took long once.
#[test]
fn slow_once() {
    let columns = format!("t [ms]{}\n", ",T [degCs]".repeat(6_500));
    watch("many columns of unknown units", 1, longest(), &mut || columns.clone().into_bytes(), &readers::table);
    for part in [
        "4 4 ",
        "4.5.",
        "1))))2 lbfin t",
        "1 m, 2 ft, ",
        "-1-1",
        "0 ^ ",
        "1e-40m) *",
        "30 deg)",
        "-2 ^1e-92 ",
        "1.320(11e-4",
        "1e308.0",
        "atan2(1 m, 2 m) to de",
        "(12.3 ± 0.4 Kv), ",
    ] {
        let text = format!("max({}", part.repeat(64_000 / part.len()));
        watch(part, 1, longest(), &mut || text.clone().into_bytes(), &readers::calculation);
    }
    let list =
        format!("a = [{}1]\n{}", "1, ".repeat(13_000), (0..1300).map(|at| format!("b{at}=a\n")).collect::<String>());
    watch("a list over and over", 1, longest(), &mut || list.clone().into_bytes(), &readers::calculation);
    watch("a power without end", 1, longest(), &mut || b"1e99^999999999".to_vec(), &readers::calculation);
}
