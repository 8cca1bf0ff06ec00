use crate::support::{TODAY, TestRepo};

#[test]
fn from_an_empty_folder_to_nothing_open() {
    let repo = TestRepo::folder();
    let run = repo.run(&["init", "--name", "Pad \"7\""]).ended(0);
    assert!(run.out.contains("made a git repository"), "{}", run.out);
    assert_eq!(repo.faults(), Vec::<String>::new());
    let open = repo.run(&["before", "leak-check"]).ended(1);
    assert!(open.out.contains("slipmark new test --for R-001 --serial VALVE/SN01"), "{}", open.out);
    repo.run(&["new", "test", "--for", "R-001"]).ended(0);
    repo.run(&["before", "leak-check"]).ended(1);
    repo.replace("records/TR-001.md", "# results.leakage = \"\"", "results.leakage = \"3.1 ± 0.4 mL/min\"");
    repo.replace("records/TR-001.md", "# instruments = [\"\"]", "no_instrument = \"read off the panel\"");
    repo.run(&["sign", "TR-001", "--by", "test conductor"]).ended(0);
    let uncommitted = repo.run(&["before", "leak-check"]).ended(1);
    assert!(uncommitted.out.contains("[nothing-committed]"), "{}", uncommitted.out);
    repo.commit("Start");
    let closed = repo.run(&["before", "leak-check"]).ended(0);
    assert!(closed.out.contains("Nothing that this project lists before leak-check is open."), "{}", closed.out);
    assert!(repo.run(&["before", "first-run", "--format", "json"]).ended(0).json()["project"] == "Pad \"7\"");
}

#[test]
fn a_project_or_a_file_that_is_there_is_left_alone() {
    let repo = TestRepo::folder();
    repo.run(&["init"]).ended(0);
    let mine = repo.read("slipmark.toml");
    assert!(repo.run(&["init"]).ended(2).err.contains("a project already"));
    assert_eq!(repo.read("slipmark.toml"), mine);
    let other = TestRepo::folder();
    other.write("items/VALVE.md", "mine");
    other.run(&["init"]).ended(2);
    assert_eq!(other.read("items/VALVE.md"), "mine");
    assert!(!other.path().join("slipmark.toml").exists());
}

#[test]
fn in_a_folder_of_its_own_and_inside_what_is_there() {
    let repo = TestRepo::folder();
    let run = repo.run(&["init", "the stand"]).ended(0);
    assert!(
        run.out.contains("written: the stand/slipmark.toml") && run.out.contains("cd \"the stand\""),
        "{}",
        run.out
    );
    let project = repo.path().join("the stand");
    assert!(project.join(".git").is_dir());
    // Inside another project: said, with what to type, and a fault of the outer one until it is done.
    let inner = repo.run_at(&project, TODAY, &["init", "inner"]).ended(0);
    assert!(!project.join("inner/.git").exists(), "one repository is enough");
    assert!(
        inner.err.contains("this folder lies in another project") && inner.err.contains("add \"inner\" to `projects`")
    );
    let check = repo.run_at(&project, TODAY, &["check"]).ended(1);
    assert!(check.out.contains("inner: fault [nested-project]"), "{}", check.out);
    repo.replace("the stand/slipmark.toml", "\nevents =", "\nprojects = [\"inner\"]\nevents =");
    repo.run_at(&project, TODAY, &["check"]).ended(0);
    repo.run_at(&project.join("inner"), TODAY, &["check"]).ended(0);
}

#[test]
fn what_cannot_be_a_project_is_refused_and_leaves_nothing() {
    let repo = TestRepo::folder();
    repo.write("file", "mine");
    for (arguments, said) in [
        (&["init", "file"][..], "cannot write file"),
        (&["init", "file/x"], "cannot write file/x"),
        (&["init", "--name", " "], "name is empty"),
        (&["init", "--at", "HEAD"], "init takes no --at"),
        (&["--project", "x", "init"], "slipmark init DIR"),
        (&["demo", "--project", "x"], "slipmark demo DIR"),
    ] {
        let run = repo.run(arguments).ended(2);
        assert!(run.err.contains(said) && run.out.is_empty(), "{arguments:?}: {}", run.err);
    }
    let names: Vec<_> = repo.path().read_dir().expect("a folder").flatten().map(|entry| entry.file_name()).collect();
    assert_eq!(names, ["file"]);
}
