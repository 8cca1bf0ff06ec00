use crate::support::TestRepo;

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
