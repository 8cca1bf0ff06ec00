//! A repository to run the program in.

use std::collections::BTreeMap;
use std::io::{Read, Write};
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};
use std::sync::{OnceLock, mpsc};
use std::time::Duration;

use tempfile::TempDir;

/// The day on which every question is asked, unless a test says otherwise.
pub const TODAY: &str = "2026-06-16";

/// The program: the one that was built with these tests, or another that `SLIPMARK_PROGRAM` names, which `tests/run` does for one that is
/// optimised and takes half the time.
pub fn program() -> String {
    std::env::var("SLIPMARK_PROGRAM").unwrap_or_else(|_| env!("CARGO_BIN_EXE_slipmark").to_string())
}

/// What a run printed, and how it ended.
#[derive(Debug)]
pub struct Run {
    pub out: String,
    pub err: String,
    pub code: i32,
}

impl Run {
    /// Fails unless the run ended like this; both streams are shown.
    #[track_caller]
    pub fn ended(self, code: i32) -> Run {
        assert_eq!(self.code, code, "--- stdout\n{}\n--- stderr\n{}", self.out, self.err);
        self
    }

    /// Runs a command to its end.
    pub fn of(command: &mut Command) -> Run {
        Run::into(command, Stdio::piped())
    }

    /// The same where what it prints goes elsewhere.
    pub fn into(command: &mut Command, stdout: impl Into<Stdio>) -> Run {
        let output = output(command.stdout(stdout));
        let text = |bytes: Vec<u8>| String::from_utf8(bytes).expect("UTF-8");
        // A run that a signal ended has no code: that is never right.
        Run { out: text(output.stdout), err: text(output.stderr), code: output.status.code().expect("an exit code") }
    }

    /// Standard output as JSON.
    #[track_caller]
    pub fn json(&self) -> serde_json::Value {
        serde_json::from_str(&self.out).unwrap_or_else(|error| panic!("{error}: {}", self.out))
    }
}

/// No run takes this long, whatever else the machine does: one that does will never end.
const LONG: Duration = Duration::from_secs(300);

/// What a run printed where that was piped, and how it ended. One that does not end fails its test by name: it would keep all tests from ending.
pub fn output(command: &mut Command) -> Output {
    let mut child = command.stdin(Stdio::null()).stderr(Stdio::piped()).spawn().expect("the program runs");
    let stdout = child.stdout.take().map(read);
    let stderr = child.stderr.take().map(read);
    let [stdout, stderr] = [stdout, stderr].map(|told| match told.map(|told| told.recv_timeout(LONG)) {
        None => Vec::new(),
        Some(Ok(bytes)) => bytes,
        Some(Err(_)) => {
            let _ = child.kill();
            panic!("{command:?} did not end in {LONG:?}");
        }
    });
    Output { status: child.wait().expect("it ended"), stdout, stderr }
}

/// Reads to the end, beside whoever waits for it.
fn read(mut pipe: impl Read + Send + 'static) -> mpsc::Receiver<Vec<u8>> {
    let (tell, told) = mpsc::channel();
    std::thread::spawn(move || {
        let mut bytes = Vec::new();
        if pipe.read_to_end(&mut bytes).is_ok() {
            let _ = tell.send(bytes);
        }
    });
    told
}

/// A folder for what is made once and copied for every test. Nobody removes it when the tests end: those of earlier runs are.
fn made_once() -> TempDir {
    let all = std::env::temp_dir().join("slipmark-suite");
    std::fs::create_dir_all(&all).expect("a folder");
    for old in all.read_dir().expect("a folder").filter_map(Result::ok) {
        let made = old.metadata().and_then(|data| data.modified()).ok();
        if made.and_then(|made| made.elapsed().ok()).is_some_and(|age| age > Duration::from_secs(3600)) {
            // Another run may be at it.
            drop(std::fs::remove_dir_all(old.path()));
        }
    }
    tempfile::tempdir_in(&all).expect("a temporary folder")
}

/// Copies what is in a folder into another that is there.
fn copy(from: &Path, to: &Path) {
    for entry in from.read_dir().expect("a folder") {
        let (entry, to) = entry.map(|entry| (entry.path(), to.join(entry.file_name()))).expect("a name");
        if entry.is_dir() {
            std::fs::create_dir(&to).expect("a folder");
            copy(&entry, &to);
        } else {
            std::fs::copy(&entry, &to).expect("a copy");
        }
    }
}

/// A folder of its own, removed afterwards.
pub struct TestRepo {
    dir: TempDir,
    inside: PathBuf,
}

impl TestRepo {
    /// An empty folder without git.
    pub fn folder() -> TestRepo {
        TestRepo::inside(tempfile::tempdir().expect("a temporary folder"))
    }

    fn inside(dir: TempDir) -> TestRepo {
        let inside = dir.path().join("here");
        std::fs::create_dir(&inside).expect("a folder");
        TestRepo { dir, inside }
    }

    /// The example project, with its history.
    pub fn demo() -> TestRepo {
        static MADE: OnceLock<TestRepo> = OnceLock::new();
        let make = || {
            let repo = TestRepo::inside(made_once());
            repo.run(&["demo", "."]).ended(0);
            repo
        };
        MADE.get_or_init(make).copied()
    }

    /// A small project in which everything is closed, committed twice, with a tag `review` on the first commit.
    pub fn closed() -> TestRepo {
        static MADE: OnceLock<TestRepo> = OnceLock::new();
        MADE.get_or_init(TestRepo::make_closed).copied()
    }

    fn make_closed() -> TestRepo {
        let repo = TestRepo::inside(made_once());
        repo.run(&["init", "--name", "Stand"]).ended(0);
        repo.run(&["new", "test", "--for", "R-001"]).ended(0);
        repo.replace("records/TR-001.md", "# results.leakage = \"\"", "results.leakage = \"3.1 ± 0.4 mL/min\"");
        repo.replace("records/TR-001.md", "# instruments = [\"\"]", "no_instrument = \"read off the panel\"");
        repo.run(&["sign", "TR-001", "--by", "test conductor"]).ended(0);
        repo.commit("Start");
        repo.git(&["tag", "-a", "review", "-m", "Review"]);
        repo.replace("items/VALVE.md", "title = \"Main valve\"", "title = \"Inlet valve\"");
        repo.commit("Say which valve it is");
        repo.run(&["before", "leak-check"]).ended(0);
        repo
    }

    /// Another, with the same in it.
    fn copied(&self) -> TestRepo {
        let dir = tempfile::tempdir().expect("a temporary folder");
        copy(self.dir.path(), dir.path());
        TestRepo { inside: dir.path().join("here"), dir }
    }

    /// Where the project is.
    pub fn path(&self) -> &Path {
        &self.inside
    }

    /// Runs the program there: nothing of the environment reaches it, and nothing is asked of the clock.
    pub fn run(&self, arguments: &[&str]) -> Run {
        self.run_at(&self.inside, TODAY, arguments)
    }

    /// The same on a terminal of another width.
    pub fn run_wide(&self, columns: &str, arguments: &[&str]) -> Run {
        Run::of(self.program(&self.inside, TODAY, arguments).env("COLUMNS", columns))
    }

    /// The same from another folder, on another day.
    pub fn run_at(&self, folder: &Path, today: &str, arguments: &[&str]) -> Run {
        let mut command = self.program(folder, today, arguments);
        Run::of(&mut command)
    }

    /// The program about to run: nothing of the environment reaches it, and nothing is asked of the clock.
    pub fn program(&self, folder: &Path, today: &str, arguments: &[&str]) -> Command {
        let mut command = Command::new(program());
        command.args(["--today", today]).args(arguments).current_dir(folder);
        command.env_clear().env("HOME", self.dir.path()).env("COLUMNS", "100");
        command
    }

    /// Runs git there, as somebody with an empty configuration, on a fixed day.
    #[track_caller]
    pub fn git(&self, arguments: &[&str]) -> String {
        self.git_at("2026-06-15T12:00:00+00:00", arguments)
    }

    /// The same at a time of its own.
    pub fn git_at(&self, time: &str, arguments: &[&str]) -> String {
        let mut command = Command::new("git");
        command.args(arguments).current_dir(&self.inside).env_clear().env("HOME", self.dir.path());
        command.envs(std::env::var_os("PATH").map(|path| ("PATH", path))).env("GIT_CONFIG_NOSYSTEM", "1");
        for who in ["AUTHOR", "COMMITTER"] {
            command.env(format!("GIT_{who}_NAME"), "engineer").env(format!("GIT_{who}_EMAIL"), "engineer@example.org");
            command.env(format!("GIT_{who}_DATE"), time);
        }
        Run::of(&mut command).ended(0).out
    }

    /// Commits everything that is there.
    pub fn commit(&self, message: &str) {
        self.git(&["add", "--all"]);
        self.git(&["commit", "--quiet", "-m", message]);
    }

    pub fn read(&self, path: &str) -> String {
        std::fs::read_to_string(self.inside.join(path)).unwrap_or_else(|error| panic!("{path}: {error}"))
    }

    pub fn write(&self, path: &str, text: &str) {
        let full = self.inside.join(path);
        std::fs::create_dir_all(full.parent().expect("a folder")).expect("a folder");
        std::fs::write(full, text).expect("a file");
    }

    /// Replaces the only place where a text stands.
    #[track_caller]
    pub fn replace(&self, path: &str, old: &str, new: &str) {
        let text = self.read(path);
        assert_eq!(text.matches(old).count(), 1, "{old} in {path}");
        self.write(path, &text.replace(old, new));
    }

    /// What git sees as changed, new or ignored.
    pub fn changed(&self) -> Vec<String> {
        let repo = git2::Repository::open(&self.inside).expect("a repository");
        let mut options = git2::StatusOptions::new();
        options.include_untracked(true).recurse_untracked_dirs(true).include_ignored(true);
        let statuses = repo.statuses(Some(&mut options)).expect("a status");
        statuses.iter().map(|entry| entry.path().expect("plain names").to_string()).collect()
    }

    /// The commit that is checked out.
    pub fn head(&self) -> String {
        let repo = git2::Repository::open(&self.inside).expect("a repository");
        repo.head().expect("a head").target().expect("a commit").to_string()
    }

    /// The states of a requirement's rows, by entry and subject.
    pub fn states(&self, requirement: &str) -> Vec<(String, String)> {
        let matrix = self.run(&["matrix", "--format", "json"]).ended(0).json();
        let rows = matrix["rows"].as_array().expect("rows").iter();
        let own = rows.filter(|row| row["requirement"] == requirement);
        let text = |value: &serde_json::Value| value.as_str().unwrap_or("null").to_string();
        own.map(|row| (format!("{} {}", row["entry"], text(&row["subject"])), text(&row["state"]))).collect()
    }

    /// The state of the only row of a requirement on a subject.
    #[track_caller]
    pub fn state(&self, requirement: &str, subject: &str) -> String {
        let states = self.states(requirement);
        let own: Vec<&String> =
            states.iter().filter(|(row, _)| row.ends_with(&format!(" {subject}"))).map(|(_, state)| state).collect();
        assert_eq!(own.len(), 1, "{states:?}");
        own[0].clone()
    }

    /// The faults that `check` reports, by code and path.
    pub fn faults(&self) -> Vec<String> {
        let findings = self.run(&["check", "--format", "json"]).json();
        let all = findings["findings"].as_array().expect("findings").iter();
        all.filter(|finding| finding["class"] == "fault")
            .map(|finding| format!("{} {}: {}", finding["code"], finding["path"], finding["message"]))
            .collect()
    }
}

/// Every file of a folder and of those below it, by its path in it with `/`.
pub fn files(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    let mut found = BTreeMap::new();
    let mut waiting = vec![folder.to_path_buf()];
    while let Some(at) = waiting.pop() {
        for entry in at.read_dir().expect("a folder") {
            let path = entry.expect("an entry").path();
            if path.is_dir() {
                waiting.push(path);
            } else {
                let name = path.strip_prefix(folder).expect("inside").to_str().expect("UTF-8").replace('\\', "/");
                found.insert(name, std::fs::read(&path).expect("a file"));
            }
        }
    }
    found
}

/// Says that a test could not be made here; past the harness, which keeps what passing tests print.
pub fn skipped(why: &str) {
    let _ = writeln!(std::io::stdout().lock(), "\nskipped: {why}");
}

/// The lines that are new in `after`; fails if any line of `before` is gone or out of place.
#[track_caller]
pub fn added(before: &str, after: &str) -> Vec<String> {
    let mut old = before.split_inclusive('\n').peekable();
    let mut new = Vec::new();
    for line in after.split_inclusive('\n') {
        if old.peek() == Some(&line) {
            old.next();
        } else {
            new.push(line.to_string());
        }
    }
    assert_eq!(old.next(), None, "a line is gone or was changed:\n{after}");
    new
}
