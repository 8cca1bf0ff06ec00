//! Texts that nobody would write, through every reader: no panic, nothing that takes long, nothing that eats memory.
//!
//! Seeds are texts as people write them; each input is one or two of them with a few bytes, words or parts changed, by random numbers
//! with a fixed start. `SLIPMARK_FUZZ_INPUTS` says how many inputs each reader gets (2,000 if it is not set), `SLIPMARK_FUZZ_SEED` where the
//! random numbers start. What fails is printed so that it can be made a unit test where the fault is.
//!
//! In a build with optimisation an input may take 100 ms of a processor (the least of three tries); in one without it five times that. 64 KiB of
//! text may take 64 MiB of memory while they are read; what other threads take is not counted.

mod memory;
mod mutate;
mod readers;
mod watch;

use mutate::Mutator;
use watch::watch;

/// Runs one reader on as many inputs as asked for, divided by `share`, and fails with what went wrong.
fn fuzz(name: &str, seeds: Vec<Vec<u8>>, share: usize, reader: &dyn Fn(&[u8])) {
    let mut mutator = Mutator::new(seeds, watch::setting("SLIPMARK_FUZZ_SEED", 1));
    let count = (watch::setting("SLIPMARK_FUZZ_INPUTS", 2_000) / share).max(1);
    watch(name, count, &mut || mutator.input(), reader);
}

#[test]
fn quantities() {
    fuzz("quantities", mutate::lines(readers::QUANTITIES), 1, &readers::quantity);
}

#[test]
fn uncertainties() {
    fuzz("uncertainties", mutate::lines(readers::UNCERTAINTIES), 1, &readers::uncertainty);
}

#[test]
fn calculations() {
    let mut seeds = mutate::lines(readers::EXPRESSIONS);
    seeds.extend(readers::SHEETS.iter().map(|sheet| sheet.as_bytes().to_vec()));
    fuzz("calculations", seeds, 1, &readers::calculation);
}

#[test]
fn tables() {
    fuzz("tables", readers::TABLES.iter().map(|table| table.as_bytes().to_vec()).collect(), 1, &readers::table);
}

#[test]
fn conditions() {
    fuzz("conditions", mutate::lines(readers::CONDITIONS), 1, &readers::condition);
}

#[test]
fn front_matter() {
    fuzz("front matter", readers::example().into_iter().map(|(_, text)| text).collect(), 1, &readers::file);
}

/// The whole of the example with one of its files changed, down to the states: what the readers let through meets the rest.
#[test]
fn projects() {
    let files = readers::example();
    fuzz("projects", files.iter().map(|(_, text)| text.clone()).collect(), 200, &|bytes| {
        readers::project(&files, bytes)
    });
}
