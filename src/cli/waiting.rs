//! A line on the terminal that says that the program is still at it, for answers that take longer than a second.
//!
//! It stands on the error stream, where no result goes, and only if that is a terminal that can take a line back. It is gone before
//! anything else is written. A few lines of our own: a library for bars draws more, and would be a second writer to the terminal.

use std::io::Write;
use std::sync::{Arc, Condvar, Mutex, PoisonError};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

use crate::history::Progress;

/// Answers that come sooner say nothing.
const PATIENCE: Duration = Duration::from_secs(1);
/// How often the line is written anew.
const PACE: Duration = Duration::from_millis(250);
/// Back to the start of the line, and nothing on it.
const TAKEN_BACK: &str = "\r\x1b[K";

/// The line, from when it is started until it is ended or dropped.
pub(super) struct Waiting {
    over: Arc<(Mutex<bool>, Condvar)>,
    drawer: Option<JoinHandle<()>>,
}

impl Waiting {
    /// Starts to wait for an answer.
    pub(super) fn start(progress: Arc<Progress>, mut to: impl Write + Send + 'static) -> Waiting {
        let over = Arc::new((Mutex::new(false), Condvar::new()));
        let (told, begun) = (over.clone(), Instant::now());
        let draw = move || {
            let mut drawn = false;
            while !is_over(&told, if drawn { PACE } else { PATIENCE }) {
                drawn = true;
                put(&mut to, &line(begun.elapsed(), &progress));
            }
            if drawn {
                put(&mut to, TAKEN_BACK);
            }
        };
        // Without a thread there is no line, and nothing else is lost.
        Waiting { over, drawer: std::thread::Builder::new().spawn(draw).ok() }
    }

    /// Takes the line back: afterwards it is gone and stays so.
    pub(super) fn end(&mut self) {
        let Some(drawer) = self.drawer.take() else { return };
        *self.over.0.lock().unwrap_or_else(PoisonError::into_inner) = true;
        self.over.1.notify_all();
        let _ = drawer.join();
    }
}

impl Drop for Waiting {
    fn drop(&mut self) {
        self.end();
    }
}

/// Waits this long, or until it is over.
fn is_over(told: &(Mutex<bool>, Condvar), long: Duration) -> bool {
    let over = told.0.lock().unwrap_or_else(PoisonError::into_inner);
    let waited = told.1.wait_timeout_while(over, long, |over| !*over);
    *waited.unwrap_or_else(PoisonError::into_inner).0
}

fn line(since: Duration, progress: &Progress) -> String {
    let far = progress.get().map_or(String::new(), |(done, of)| format!(", commit {done} of {of}"));
    format!("{TAKEN_BACK}at work: {} s{far}", since.as_secs())
}

/// A terminal that is gone needs no line.
fn put(to: &mut impl Write, text: &str) {
    let _ = to.write_all(text.as_bytes()).and_then(|()| to.flush());
}

#[cfg(test)]
mod tests {
    use super::*;

    #[derive(Clone, Default)]
    struct Screen(Arc<Mutex<Vec<u8>>>);

    impl Write for Screen {
        fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
            self.0.lock().unwrap().extend_from_slice(bytes);
            Ok(bytes.len())
        }
        fn flush(&mut self) -> std::io::Result<()> {
            Ok(())
        }
    }

    impl Screen {
        fn text(&self) -> String {
            String::from_utf8(self.0.lock().unwrap().clone()).unwrap()
        }
    }

    #[test]
    fn a_quick_answer_says_nothing() {
        let screen = Screen::default();
        let mut waiting = Waiting::start(Arc::default(), screen.clone());
        waiting.end();
        waiting.end();
        assert_eq!(screen.text(), "");
    }

    #[test]
    fn a_slow_one_says_how_far_it_is_and_leaves_nothing() {
        let screen = Screen::default();
        let waiting = Waiting::start(Arc::default(), screen.clone());
        while screen.text().is_empty() {
            std::thread::sleep(PACE);
        }
        drop(waiting);
        let text = screen.text();
        assert!(text.starts_with("\r\x1b[Kat work: 1 s") && text.ends_with(TAKEN_BACK), "{text:?}");
        assert!(!text.contains('\n'));
    }
}
