//! Times trials and calculations, for `tests/bench/numbers`: one line of JSON. `cargo bench --bench numbers` builds it as the program is
//! built.
#![allow(clippy::disallowed_methods, clippy::disallowed_macros, reason = "times are what this is for")]

use std::sync::Arc;
use std::time::Instant;

use rayon::prelude::*;
use slipmark::calc::{Correlations, Given, Scope, Source, Worked, parse};
use slipmark::quantity::{Shape, parse_quantity};
use slipmark::statistics::{Distribution, Draw, Settings, Trials, simulate};
use slipmark::table::Table;

#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;

/// The torque margin of a motor with a gear: eight inputs, one of them exact, one rectangular, six normal. `numbers` has the same for numpy.
const INPUTS: [(&str, &str); 8] = [
    ("n", "150"),
    ("V", "[20, 28] V"),
    ("eta", "0.420 ± 0.015"),
    ("K", "0.0400 ± 0.0008 N·m/A"),
    ("R_w", "1.60 ± 0.05 ohm"),
    ("T_f", "0.010 ± 0.002 N·m"),
    ("T_stem", "11.5 ± 1.5 N·m"),
    ("T_seal", "5.0 ± 0.8 N·m"),
];

const MARGIN: &str = "margin = n * eta * (K * V / R_w - T_f) / (T_stem + T_seal) - 1";

/// Six lines, as an analysis has them.
const SIX: &str = "stall = K * V / R_w - T_f\navailable = n * eta * stall\nneeded = T_stem + T_seal\nmargin = available / needed - 1\n\
                   loss = (V / R_w)^2 * R_w to W\nratio = max(available, needed) / needed\n";

struct Inputs;

impl Scope for Inputs {
    fn given(&self, name: &str) -> Option<Given> {
        let (key, text) = INPUTS.iter().find(|(key, _)| *key == name)?;
        let quantity = parse_quantity(text).expect("an input");
        Some(Given::Source(Source { key: (*key).into(), name: (*key).into(), quantity, instrument: None }))
    }

    fn names(&self) -> Vec<String> {
        INPUTS.map(|(key, _)| key.to_owned()).to_vec()
    }

    fn table(&self, file: &str) -> Result<Arc<Table>, (String, String)> {
        Err((format!("there is no `{file}`"), String::new()))
    }
}

/// The last line of a calculation, parsed, checked and worked out with its uncertainty.
fn work_out(text: &str) -> Arc<Worked> {
    let steps =
        parse(text).and_then(|sheet| sheet.check(&Inputs)).and_then(|program| program.work_out(&Correlations::none()));
    let steps = steps.expect("it can be worked out");
    Arc::clone(steps.last().and_then(|step| step.worked()).expect("a value"))
}

fn draws(worked: &Worked) -> Vec<Draw> {
    let draw = |source: &Arc<Source>| {
        let middle = source.quantity.value.to_f64().expect("a double");
        let Some(own) = &source.quantity.uncertainty else {
            return Draw { middle, standard: 0.0, distribution: Distribution::Normal };
        };
        let distribution =
            if own.shape == Shape::Rectangular { Distribution::Rectangular } else { Distribution::Normal };
        Draw { middle, standard: own.standard.to_f64().expect("a double"), distribution }
    };
    worked.sources().iter().map(draw).collect()
}

fn seconds<T>(run: impl FnOnce() -> T) -> (f64, T) {
    let start = Instant::now();
    let result = run();
    (start.elapsed().as_secs_f64(), result)
}

/// So many calculations, no two the same text, worked out on as many threads as there are.
fn calculations(count: usize) -> f64 {
    let texts: Vec<String> = (0..count).map(|at| format!("{SIX}# {at}\n")).collect();
    seconds(|| {
        texts
            .par_iter()
            .with_min_len(8)
            .map(|text| work_out(text).quantity.value.is_zero())
            .filter(|zero| *zero)
            .count()
    })
    .0
}

fn main() {
    let worked = work_out(MARGIN);
    let draws = draws(&worked);
    let trials = |count, threads| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().expect("threads");
        let settings = Settings { seed: 1, trials: Trials::Fixed(count), coverage: 0.9545 };
        pool.install(|| {
            seconds(|| {
                simulate(&|columns, out| worked.columns(columns, out), &draws, &[], &settings).expect("no correlations")
            })
        })
    };
    trials(100_000, 1);
    calculations(1_000);
    let (one, simulation) = trials(1_000_000, 1);
    let (two, _) = trials(1_000_000, 2);
    let report = serde_json::json!({
        "trials_one_thread": one, "trials_two_threads": two,
        "mean": simulation.mean, "standard": simulation.standard, "symmetric": simulation.symmetric, "shortest": simulation.shortest,
        "calculations_1000": calculations(1_000), "calculations_10000": calculations(10_000), "calculations_100000": calculations(100_000),
        "threads": rayon::current_num_threads(),
    });
    println!("{report}");
}
