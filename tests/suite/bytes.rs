//! Whatever is written comes out with the same bytes wherever and for whomever it is made: two clones of one project, in folders of
//! other names, with other time zones, languages, users, permissions and widths, and with files made in another order.

#![cfg(unix)]

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use clap::CommandFactory;
use slipmark::cli::args::Arguments;

use crate::support::{TODAY, TestRepo, files, output, program};

/// What is asked of every command that has formats, each time in every one of them.
const ASKED: &[(&str, &[&[&str]])] = &[
    ("before", &[&["hot-fire"], &["cold-flow", "--next"], &["hot-fire", "--by", "procedure", "--since", "TRR-1"]]),
    ("check", &[&["--notes"]]),
    ("show", &[&["MOV-020"]]),
    ("sheet", &[&["TP-03", "--serial", "MOV/SN02"]]),
    ("matrix", &[&[]]),
    ("changes", &[&["PDR..HEAD", "--who"]]),
    ("history", &[&["ACT-010"]]),
    ("trend", &[&["hot-fire"]]),
    ("packet", &[&["hot-fire"]]),
    ("concepts", &[&["MOV-ACT"]]),
    ("impact", &[&["ACT-010"]]),
    ("calc", &[&["AN-003"]]),
    ("explain", &[&[]]),
    ("templates", &[&[]]),
];

/// Every command line that makes something: what is asked of each command, in each of the formats that it has.
fn lines() -> Vec<Vec<String>> {
    let mut lines = Vec::new();
    for command in Arguments::command().get_subcommands() {
        let Some(format) = command.get_arguments().find(|own| own.get_id() == "format") else { continue };
        let name = command.get_name();
        let asked = ASKED.iter().find(|(own, _)| *own == name);
        let (_, asked) = asked.unwrap_or_else(|| panic!("nothing is asked of {name}, which has formats"));
        let formats = format.get_possible_values();
        assert!(!formats.is_empty(), "{name}");
        for format in &formats {
            for own in *asked {
                let mut line = vec![name.to_string()];
                line.extend(own.iter().map(|word| (*word).to_string()));
                lines.extend(in_format(line, format.get_name()));
            }
        }
    }
    lines.push(vec!["packet".into(), "hot-fire".into(), "--site".into(), "../site".into()]);
    lines
}

/// The forms of a packet that are one file.
const HELD: &[&str] = if cfg!(feature = "pdf") { &["html", "xlsx", "pdf"] } else { &["html", "xlsx"] };

/// The same in one format. Of a packet, some formats are those of its lists alone, and one says whether it holds.
fn in_format(line: Vec<String>, format: &str) -> Vec<Vec<String>> {
    let with = |more: &[&str]| -> Vec<String> {
        let more = more.iter().map(|word| (*word).to_string());
        line.iter().cloned().chain(more).collect()
    };
    match (line[0].as_str(), format) {
        ("packet", "markdown" | "csv") => {
            ["evidence", "serials", "files"].map(|list| with(&["--list", list, "--format", format])).to_vec()
        }
        ("packet", "json") => HELD
            .iter()
            .map(|ending| format!("../held.{ending}"))
            .chain(["../site".to_string()])
            .map(|path| ["packet", "--verify", &path, "--format", "json"].map(String::from).to_vec())
            .collect(),
        // Only a program that was built for it makes them.
        ("packet", "pdf") if !cfg!(feature = "pdf") => Vec::new(),
        ("packet", _) => vec![with(&["--format", format, "-o", "-"])],
        _ => vec![with(&["--format", format])],
    }
}

/// One place to work in.
struct World {
    folder: PathBuf,
    /// Names and values of the environment, in which `~` is the folder above.
    environment: &'static [(&'static str, &'static str)],
    umask: &'static str,
    more: &'static [&'static str],
}

impl World {
    fn command(&self, arguments: &[String], text: bool) -> Command {
        let mut command = Command::new("sh");
        command.args(["-c", "umask \"$0\"; exec \"$@\"", self.umask, &program(), "--today", TODAY]);
        command.args(self.more).args(arguments).current_dir(&self.folder).env_clear().stdout(Stdio::piped());
        let above = self.folder.parent().expect("a folder").display().to_string();
        for (name, value) in self.environment {
            // People lay text out as wide as they say.
            let value = if text && *name == "COLUMNS" { "100".to_string() } else { value.replace('~', &above) };
            command.env(name, value);
        }
        command
    }

    /// What a command line makes: its output, or the files that it writes.
    fn made(&self, line: &[String]) -> BTreeMap<String, Vec<u8>> {
        let text = line.windows(2).any(|pair| pair[0] == "--format" && pair[1] == "text");
        let output = output(&mut self.command(line, text));
        let code = output.status.code();
        let said = String::from_utf8_lossy(&output.stderr);
        assert!(matches!(code, Some(0 | 1)), "{line:?} ended with {code:?}: {said}");
        assert!(!output.stdout.is_empty(), "{line:?} said nothing: {said}");
        if line.iter().any(|word| word == "--site") {
            files(&self.folder.join("../site"))
        } else {
            BTreeMap::from([(String::new(), output.stdout)])
        }
    }
}

/// A clone whose files were made in the opposite order, which is the order in which some file systems list them.
fn cloned(repo: &TestRepo, folder: &Path) {
    std::fs::create_dir_all(folder.parent().expect("a folder")).expect("made");
    repo.git(&["clone", "--quiet", "--no-checkout", ".", &folder.display().to_string()]);
    let at = folder.display().to_string();
    let listed = repo.git(&["-C", &at, "ls-tree", "-r", "--name-only", "HEAD"]);
    repo.git(&["-C", &at, "reset", "--quiet"]);
    for path in listed.lines().rev() {
        repo.git(&["-C", &at, "checkout", "--quiet", "--", path]);
    }
}

/// Where two outputs begin to differ, with what stands there.
fn difference(one: &[u8], other: &[u8]) -> String {
    let at = one.iter().zip(other).take_while(|(a, b)| a == b).count();
    let part =
        |bytes: &[u8]| String::from_utf8_lossy(&bytes[at.saturating_sub(60)..bytes.len().min(at + 60)]).into_owned();
    format!("byte {at} of {} and {}:\n{}\n{}", one.len(), other.len(), part(one), part(other))
}

#[test]
fn whatever_is_made_has_the_same_bytes_everywhere() {
    let repo = TestRepo::demo();
    let here = World {
        folder: repo.path().to_path_buf(),
        environment: &[
            ("HOME", "~"),
            ("USER", "one"),
            ("TZ", "UTC"),
            ("LC_ALL", "C"),
            ("COLUMNS", "100"),
            ("PATH", "/usr/bin:/bin"),
        ],
        umask: "022",
        more: &[],
    };
    let there = World {
        folder: repo.path().join("../elsewhere/A pläce, deeper/of another name"),
        environment: &[
            ("HOME", "~"),
            ("USER", "another"),
            ("LOGNAME", "another"),
            ("EMAIL", "another@example.org"),
            ("TZ", "Pacific/Auckland"),
            ("LANG", "tr_TR.UTF-8"),
            ("LC_ALL", "tr_TR.UTF-8"),
            ("COLUMNS", "61"),
            ("TERM", "dumb"),
            ("PATH", "/usr/bin:/bin"),
        ],
        umask: "077",
        more: &["--no-cache"],
    };
    cloned(&repo, &there.folder);
    for world in [&here, &there] {
        for ending in HELD {
            let line = ["packet", "hot-fire", "-o", &format!("../held.{ending}")].map(String::from);
            assert!(output(&mut world.command(&line, false)).status.success());
        }
        world.made(&["packet", "hot-fire", "--site", "../site"].map(String::from));
    }
    // The environment does reach the program: text is as wide as it says.
    let text = ["before", "hot-fire"].map(String::from);
    let wide = |world: &World, text: &[String]| output(&mut world.command(text, false)).stdout;
    assert_ne!(wide(&here, &text), wide(&there, &text));
    let mut differ = Vec::new();
    for line in lines() {
        let (one, other) = (here.made(&line), there.made(&line));
        assert!(one.keys().eq(other.keys()), "{line:?} writes other files");
        let wrong = one.iter().filter(|(name, bytes)| other[*name] != **bytes);
        differ.extend(wrong.map(|(name, bytes)| format!("{line:?} {name}: {}", difference(bytes, &other[name]))));
    }
    assert!(differ.is_empty(), "{}", differ.join("\n"));
}
