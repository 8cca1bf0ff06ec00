//! What people see: every command on the example project, at 80 and at 120 columns, in a pipe and so without colour.
//!
//! Each text is kept as a snapshot, to be read by eye when it changes (`cargo insta review`); what holds for all of them
//! is asserted.

use crate::support::{Run, TODAY, TestRepo, skipped};

/// A name for the snapshot, and what is typed.
const SHOWN: &[(&str, &[&str])] = &[
    ("next", &[]),
    ("before", &["before", "hot-fire"]),
    ("before_all", &["before", "cold-shock", "--all"]),
    ("before_nothing_open", &["before", "leak-check", "--at", "TRR-1"]),
    ("before_by_procedure", &["before", "hot-fire", "--by", "procedure"]),
    ("before_by_serial_only", &["before", "hot-fire", "--by", "serial", "--only", "no-evidence"]),
    ("before_next", &["before", "hot-fire", "--next"]),
    ("check", &["check", "--notes"]),
    ("check_past", &["check", "--at", "PDR"]),
    ("matrix", &["matrix"]),
    ("show_requirement", &["show", "ACT-010"]),
    ("show_children", &["show", "STD-030"]),
    ("show_record", &["show", "TR-006"]),
    ("show_analysis", &["show", "AN-003"]),
    ("show_item", &["show", "MOV"]),
    ("show_piece", &["show", "MOV/SN02"]),
    ("show_slot", &["show", "MOV-ACT"]),
    ("show_procedure", &["show", "TP-03"]),
    ("show_decision", &["show", "D-001"]),
    ("show_nonconformance", &["show", "NC-004"]),
    ("show_waiver", &["show", "W-001"]),
    ("show_event", &["show", "cold-flow"]),
    ("show_parameter", &["show", "meop"]),
    ("show_instrument", &["show", "TQ-01"]),
    ("sheet", &["sheet", "TP-03", "--serial", "MOV/SN02"]),
    ("sheet_of_project", &["sheet", "TP-06"]),
    ("sheet_refused", &["sheet", "TP-03"]),
    ("changes", &["changes", "PDR..HEAD"]),
    ("changes_last", &["changes", "HEAD~1..HEAD"]),
    ("history", &["history", "ACT-010"]),
    ("history_record", &["history", "TR-006"]),
    ("trend", &["trend", "hot-fire"]),
    ("trend_by_week", &["trend", "leak-check", "--by", "week"]),
    ("explain", &["explain"]),
    ("explain_state", &["explain", "slipped"]),
    ("explain_templates", &["explain", "templates"]),
    ("templates", &["templates"]),
    ("explain_codes", &["explain", "placeholder", "seal-broken", "no-plan-entry"]),
    ("concepts", &["concepts", "MOV-ACT"]),
    ("impact_revision", &["impact", "ACT-W", "--revision", "C"]),
    ("impact_requirement", &["impact", "ACT-010"]),
    ("impact_piece", &["impact", "MOV/SN02"]),
    ("impact_parameter", &["impact", "meop"]),
    ("impact_record", &["impact", "AN-001"]),
    ("impact_refused", &["impact", "D-001"]),
    ("calc_record", &["calc", "AN-002"]),
    ("calc_margin", &["calc", "AN-003"]),
    ("calc", &["calc", "-e", "T = (1.32 ± 0.08 N*m); T / (2.1 ± 0.2 N*m) - 1"]),
    ("calc_refused", &["calc", "-e", "a = 3 m; b = a + 2 s; c = 1 furlongg"]),
    ("help", &["--help"]),
    ("help_before", &["before", "--help"]),
    ("help_new", &["new", "--help"]),
    ("help_sheet", &["sheet", "--help"]),
    ("help_fill", &["fill", "--help"]),
    ("help_calc", &["calc", "--help"]),
    ("unknown_name", &["show", "ACT-01"]),
    ("unknown_topic", &["explain", "nothing-of-the-kind"]),
    ("unknown_option", &["before", "hot-fire", "--formt", "json"]),
];

/// The same for commands that write, in this order, each in the project as the one before left it.
const WRITING: &[(&str, &[&str])] = &[
    ("packet", &["packet", "hot-fire", "-o", "../packet.html"]),
    (
        "mark",
        &[
            "mark",
            "TR-006",
            "--by",
            "responsible engineer",
            "--because",
            "The limit rose; the result is inside it by 3 U.",
        ],
    ),
    (
        "mark_again",
        &[
            "mark",
            "TR-006",
            "--by",
            "responsible engineer",
            "--because",
            "The limit rose; the result is inside it by 3 U.",
        ],
    ),
    ("mark_refused", &["mark", "AN-001", "--by", "responsible engineer", "--because", "It is on paper only."]),
    ("sign", &["sign", "TR-010", "--by", "test conductor", "--witness", "pad chief"]),
    ("sign_again", &["sign", "TR-010", "--by", "test conductor"]),
    ("new_record", &["new", "demonstration", "--for", "ACT-060", "--serial", "ACT-W/SN02"]),
    ("sign_refused", &["sign", "DM-002", "--by", "test conductor"]),
    ("new_requirement", &["new", "requirement", "--for", "MOV-070", "--item", "MOV"]),
    ("new_nonconformance", &["new", "nonconformance", "--found-by", "TR-009"]),
    ("changes_here", &["changes", "HEAD"]),
    ("new_from", &["new", "test", "--from", "TP-03", "--serial", "MOV/SN02"]),
    ("fill", &["fill", "TR-011", "closing=1.31 ± 0.02", "supply=19.8 ± 0.1", "stall_torque=31.0 ± 0.8 N·m"]),
    ("fill_refused", &["fill", "TR-011", "closing=1.31 N", "aplied=6 N·m", "applied=60 N·m"]),
    ("fill_signed", &["fill", "TR-006", "closing=1.31 s"]),
];

#[test]
fn every_answer_at_two_widths() {
    let repo = TestRepo::demo();
    let commits = commits(&repo);
    for (name, arguments) in SHOWN {
        for width in [80, 120] {
            shown(&repo, name, arguments, width, &commits);
        }
    }
}

#[test]
fn every_command_that_writes_at_two_widths() {
    for width in [80, 120] {
        let repo = TestRepo::demo();
        let commits = commits(&repo);
        for (name, arguments) in WRITING {
            shown(&repo, name, arguments, width, &commits);
        }
        let folder = TestRepo::folder();
        for (name, arguments) in
            [("init", &["init", "--name", "Stand"][..]), ("init_again", &["init"]), ("demo", &["demo", "x"])]
        {
            shown(&folder, name, arguments, width, &commits);
        }
    }
}

/// Commits of the example, as far as their ids are shown. They change with every word of it, so the snapshots hold
/// zeros in their place.
fn commits(repo: &TestRepo) -> Vec<String> {
    let all = repo.git(&["log", "--all", "--format=%H"]);
    all.lines().filter_map(|oid| oid.get(..10)).map(str::to_string).collect()
}

/// Keeps what a command prints, on both streams, and how it ended.
fn shown(repo: &TestRepo, name: &str, arguments: &[&str], width: usize, commits: &[String]) {
    let mut program = repo.program(repo.path(), TODAY, arguments);
    let run = Run::of(program.env("COLUMNS", width.to_string()));
    let text = format!("{}--- beside it\n{}--- exit {}\n", run.out, run.err, run.code);
    assert!(!text.contains('\u{1b}'), "{name}: a colour in a pipe");
    let wide: Vec<&str> = run.out.lines().filter(|line| line.chars().count() > width).collect();
    assert_eq!(wide, Vec::<&str>::new(), "{name}: wider than {width}");
    for line in text.lines() {
        assert_eq!(line.trim_end(), line, "{name}: blanks at the end");
    }
    // The list of every code grows with every check, and is held elsewhere.
    let text = match name {
        "explain" => text.lines().take(30).map(|line| format!("{line}\n")).collect(),
        _ => text,
    };
    let mut settings = insta::Settings::clone_current();
    settings.set_prepend_module_to_snapshot(false);
    settings.set_omit_expression(true);
    settings.set_description(format!("slipmark {}", arguments.join(" ")));
    let text = text.replace(repo.path().to_str().expect("a path"), "HERE");
    let text = commits.iter().fold(text, |text, oid| text.replace(oid, "0000000000"));
    settings.bind(|| insta::assert_snapshot!(format!("{name}_{width}"), text));
}

#[test]
fn the_width_stays_within_what_can_be_read() {
    let repo = TestRepo::demo();
    let widest = |columns: &str| {
        let mut program = repo.program(repo.path(), TODAY, &["before", "hot-fire"]);
        let run = Run::of(program.env("COLUMNS", columns)).ended(1);
        run.out.lines().map(|line| line.chars().count()).max().unwrap_or(0)
    };
    // What has no blank in it, such as a place in a file, is not broken.
    assert!((30..=60).contains(&widest("1")) && (30..=60).contains(&widest("0")));
    assert!((120..=140).contains(&widest("100000")));
    // Not told, and not a terminal.
    for nothing in ["", "wide", "-80"] {
        assert!((90..=100).contains(&widest(nothing)), "{nothing}");
    }
}

/// In a terminal there is colour, unless it is declined. The terminal is made by `script`, a program of the system.
#[test]
fn colour_can_be_declined() {
    let repo = TestRepo::demo();
    let in_terminal = |variables: &[(&str, &str)]| {
        let program = crate::support::program();
        let mut script = std::process::Command::new("script");
        let typed = format!("{program} --today {TODAY} before hot-fire");
        script.args(["--quiet", "--return", "--command", &typed, "/dev/null"]).current_dir(repo.path()).env_clear();
        script
            .envs(std::env::var_os("PATH").map(|path| ("PATH", path)))
            .env("TERM", "xterm")
            .envs(variables.iter().copied());
        script
            .stdin(std::process::Stdio::null())
            .output()
            .map(|output| String::from_utf8_lossy(&output.stdout).into_owned())
    };
    let Ok(plain) = in_terminal(&[("COLUMNS", "100")]) else {
        skipped("there is no `script` here to make a terminal");
        return;
    };
    let run = repo.run(&["before", "hot-fire"]).ended(1).out;
    let bare = |text: &str| text.replace("\r\n", "\n");
    assert!(plain.contains("\u{1b}[1;31m15 open before hot-fire\u{1b}[0m"), "{plain}");
    for declined in [("NO_COLOR", "1"), ("TERM", "dumb")] {
        let shown = in_terminal(&[("COLUMNS", "100"), declined]).expect("a terminal");
        assert_eq!(bare(&shown), run, "{declined:?}");
    }
    // An empty NO_COLOR declines nothing (no-color.org).
    assert!(in_terminal(&[("NO_COLOR", "")]).expect("a terminal").contains('\u{1b}'));
}

/// What takes longer than a second says so, where somebody sees it: nothing of it is in the result, and nothing stays.
#[test]
fn a_long_answer_says_that_it_is_at_work() {
    let repo = TestRepo::demo();
    let stream: String = (0..60).map(commit_of).collect();
    let mut import = std::process::Command::new("git");
    import.args(["fast-import", "--quiet", "--force"]).current_dir(repo.path()).stdin(std::process::Stdio::piped());
    let mut import = import.spawn().expect("git runs");
    std::io::Write::write_all(&mut import.stdin.take().expect("a pipe"), stream.as_bytes()).expect("written");
    assert!(import.wait().expect("it ends").success());
    let typed = format!("{} --today {TODAY} trend hot-fire --by commit --no-cache", crate::support::program());
    let seen = |term: &str| {
        let mut script = std::process::Command::new("script");
        script
            .args(["--quiet", "--return", "--command", &format!("{typed} >out.txt"), "/dev/null"])
            .current_dir(repo.path());
        script.env_clear().envs(std::env::var_os("PATH").map(|path| ("PATH", path))).env("TERM", term);
        script
            .stdin(std::process::Stdio::null())
            .output()
            .map(|output| String::from_utf8_lossy(&output.stdout).into_owned())
    };
    let begun = std::time::Instant::now();
    let Ok(terminal) = seen("xterm") else {
        skipped("there is no `script` here to make a terminal");
        return;
    };
    if begun.elapsed().as_millis() < 1500 {
        skipped("the answer came too soon for anything to be said meanwhile");
        return;
    }
    assert!(terminal.contains("at work: 1 s, commit ") && terminal.ends_with("\r\u{1b}[K"), "{terminal:?}");
    let result = repo.read("out.txt");
    assert!(result.contains("hot-fire") && !result.contains("at work"), "{result}");
    let dumb = seen("dumb").expect("a terminal");
    assert!(!dumb.contains("at work"), "{dumb:?}");
}

/// One more commit on the branch, as `git fast-import` reads it.
fn commit_of(number: usize) -> String {
    let from = if number == 0 { "from refs/heads/main^0\n" } else { "" };
    let time = 1_781_524_800 + number;
    format!(
        "commit refs/heads/main\ncommitter engineer <engineer@example.org> {time} +0000\ndata 1\n.\n{from}\
         M 644 inline note.txt\ndata {}\n{number}\n\n",
        number.to_string().len() + 1
    )
}
