//! Runs a reader on input after input and keeps what goes wrong.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::time::{Duration, Instant};

use crate::memory;

/// A text may take so long: so many milliseconds as `SLIPMARK_FUZZ_LONGEST` says.
pub fn longest() -> Duration {
    Duration::from_millis(setting("SLIPMARK_FUZZ_LONGEST", 500))
}

/// And so much memory.
const MOST_BYTES: isize = 64 << 20;

/// So much of the slowest input is shown.
const SHOWN: usize = 60;

/// So many faults are kept before a run ends.
const ENOUGH: usize = 10;

/// A number from the environment.
#[allow(clippy::disallowed_methods, reason = "how much is tested is the caller's choice")]
pub fn setting<T: std::str::FromStr>(name: &str, otherwise: T) -> T {
    match std::env::var(name) {
        Ok(text) => text.parse().unwrap_or_else(|_| panic!("{name} is not a number: {text}")),
        Err(_) => otherwise,
    }
}

/// Runs the reader so many times, each of which may take so long.
///
/// # Panics
/// If one of the inputs made it panic, took too long or too much memory.
#[allow(clippy::disallowed_macros, reason = "how much was tested is for the log")]
pub fn watch(name: &str, count: usize, longest: Duration, next: &mut dyn FnMut() -> Vec<u8>, reader: &dyn Fn(&[u8])) {
    let mut faults = Vec::new();
    let mut whole = Duration::ZERO;
    let (mut slowest, mut most, mut bytes) = ((Duration::ZERO, String::new()), 0, 0);
    for number in 0..count {
        let input = next();
        bytes += input.len();
        let seen = see(&input, longest, reader);
        if seen.took > slowest.0 {
            slowest = (seen.took, input[..input.len().min(SHOWN)].escape_ascii().to_string());
        }
        whole += seen.took;
        most = most.max(seen.memory);
        if let Some(fault) = seen.fault {
            faults.push(format!("input {number}: {fault}\n  \"{}\"", input.escape_ascii()));
            if faults.len() == ENOUGH {
                break;
            }
        }
    }
    println!(
        "{name}: {count} inputs, {bytes} bytes in {:.1} s, longest {:.1} ms, most memory {:.1} MiB, {} faults\n  the longest: \"{}\"",
        whole.as_secs_f64(),
        slowest.0.as_secs_f64() * 1e3,
        f64::from(i32::try_from(most >> 10).unwrap_or(i32::MAX)) / 1024.0,
        faults.len(),
        slowest.1
    );
    assert!(faults.is_empty(), "{name}:\n{}", faults.join("\n"));
}

/// What one input did.
struct Seen {
    took: Duration,
    memory: isize,
    fault: Option<String>,
}

fn see(input: &[u8], longest: Duration, reader: &dyn Fn(&[u8])) -> Seen {
    let mut seen = once(input, reader);
    // Something else may have had the processor.
    for _ in 0..2 {
        if seen.fault.is_none() && seen.took > longest {
            seen.took = seen.took.min(once(input, reader).took);
        }
    }
    if seen.fault.is_none() && seen.took > longest {
        seen.fault = Some(format!("took {:.0} ms", seen.took.as_secs_f64() * 1e3));
    }
    if seen.fault.is_none() && seen.memory > MOST_BYTES {
        seen.fault = Some(format!("took {} MiB", seen.memory >> 20));
    }
    seen
}

#[allow(clippy::disallowed_methods, reason = "how long it took is what is asked")]
fn once(input: &[u8], reader: &dyn Fn(&[u8])) -> Seen {
    let (start, begun) = (Instant::now(), processor());
    let mut result = Ok(());
    let memory = memory::most(|| result = catch_unwind(AssertUnwindSafe(|| reader(input))));
    let fault = result.err().map(|panic| {
        let text = panic.downcast_ref::<String>().map(String::as_str).or_else(|| panic.downcast_ref::<&str>().copied());
        format!("panicked: {}", text.unwrap_or("without a text"))
    });
    let (passed, used) = (start.elapsed(), processor().zip(begun).map(|(end, begun)| end.saturating_sub(begun)));
    // Waiting for a processor is not the reader's doing.
    Seen { took: used.unwrap_or(passed), memory, fault }
}

/// The time that this thread had a processor, where the system tells.
#[allow(clippy::disallowed_methods, reason = "the system tells it in a file")]
fn processor() -> Option<Duration> {
    let text = std::fs::read_to_string("/proc/thread-self/schedstat").ok()?;
    text.split(' ').next()?.parse().ok().map(Duration::from_nanos)
}

/// Keeps a processor for so long.
#[allow(clippy::disallowed_methods, reason = "time is what it is about")]
fn busy(long: Duration) {
    let (start, begun) = (Instant::now(), processor());
    let used = || processor().zip(begun).map_or_else(|| start.elapsed(), |(end, begun)| end.saturating_sub(begun));
    while used() < long {
        std::hint::black_box((0..1000_u64).sum::<u64>());
    }
}

/// What nothing could fail would show nothing.
#[test]
fn each_sort_of_fault_is_seen() {
    let fault = |reader: &dyn Fn(&[u8])| see(b"x", longest(), reader).fault.unwrap_or_default();
    assert!(fault(&|input| assert!(input.is_empty(), "not empty")).contains("panicked: not empty"));
    assert!(fault(&|_| busy(longest() * 2)).contains("took"));
    assert!(fault(&|_| drop(std::hint::black_box(vec![1_u8; 65 << 20]))).contains("MiB"));
    assert_eq!(fault(&|_| {}), "");
    let fails = catch_unwind(|| watch("faults", 3, longest(), &mut || vec![0], &|_| panic!("always")));
    assert!(fails.is_err());
}
