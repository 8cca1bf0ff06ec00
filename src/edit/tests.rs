use super::{Place, Step, Toml, add_to_list, append_table, path, put};

fn file(front: &str) -> String {
    format!("+++\n{front}+++\nBody, with `mark = \"x\"` in it.\n")
}

fn marked(front: &str) -> String {
    put(&file(front), &path(&["verifies", "A-1", "mark"]), &Toml::text("m1-0"), Place::First).expect("an edit")
}

fn again(text: &str) -> String {
    let entries = [("mark", Toml::text("m1-1")), ("date", Toml::Bare("2026-06-01".into())), ("by", Toml::text("lead"))];
    append_table(text, &path(&["verifies", "A-1", "reaffirmed"]), &entries).expect("an edit")
}

const BLOCK: &str = "\n[[verifies.A-1.reaffirmed]]\nmark = \"m1-1\"\ndate = 2026-06-01\nby = \"lead\"\n";

#[test]
fn a_first_mark_is_one_line_under_its_header() {
    let front = "id = \"TR-1\"   # ours\n\n[verifies.A-1] # first\nresults.x = \"1\"\n\n[[data]]\nfile = \"a\"\n";
    let expected = front.replace("# first\n", "# first\nmark = \"m1-0\"\n");
    assert_eq!(marked(front), file(&expected));
}

#[test]
fn a_first_mark_finds_dotted_and_inline_tables() {
    let cases = [
        (
            "verifies.A-1.result = 1\nid = \"x\"\n",
            "verifies.A-1.mark = \"m1-0\"\nverifies.A-1.result = 1\nid = \"x\"\n",
        ),
        ("[verifies]\nA-1.result = 1\n", "[verifies]\nA-1.mark = \"m1-0\"\nA-1.result = 1\n"),
        ("[verifies]\nA-1 = { result = 1 }\n", "[verifies]\nA-1 = { result = 1, mark = \"m1-0\" }\n"),
        ("verifies = { A-1 = { result = 1, } }\n", "verifies = { A-1 = { result = 1, mark = \"m1-0\" } }\n"),
        ("[verifies]\nA-1 = {}\n", "[verifies]\nA-1 = { mark = \"m1-0\" }\n"),
        ("verifies.A-1 = { results.x = 1 } # c\n", "verifies.A-1 = { results.x = 1, mark = \"m1-0\" } # c\n"),
        (
            "id = \"x\"\n\n[verifies.A-1.results]\nx = 1\n",
            "id = \"x\"\n\n[verifies.A-1]\nmark = \"m1-0\"\n\n[verifies.A-1.results]\nx = 1\n",
        ),
        ("['verifies'.\"A-1\"]\nresult = 1\n", "['verifies'.\"A-1\"]\nmark = \"m1-0\"\nresult = 1\n"),
    ];
    for (before, after) in cases {
        assert_eq!(marked(before), file(after), "{before}");
    }
}

#[test]
fn a_mark_that_is_there_is_replaced_and_twice_is_the_same() {
    let once = marked("[verifies.A-1]\nmark = \"m1-9\" # old\nresult = 1\n");
    assert_eq!(once, file("[verifies.A-1]\nmark = \"m1-0\" # old\nresult = 1\n"));
    let twice = put(&once, &path(&["verifies", "A-1", "mark"]), &Toml::text("m1-0"), Place::First).expect("an edit");
    assert_eq!(once, twice);
}

#[test]
fn a_reaffirmation_follows_its_own_table() {
    let front = "[verifies.A-1]\nmark = \"m1-0\"\nresult = 1\n# about the next\n[verifies.B]\nresult = 1\n";
    let expected = front.replace("# about", &format!("{BLOCK}# about"));
    assert_eq!(again(&file(front)), file(&expected));
    let own = "[verifies.A-1]\nmark = \"m1-0\"\n# results.y = 2\n\n[verifies.B]\nresult = 1\n";
    assert_eq!(again(&file(own)), file(&own.replace("= 2\n", &format!("= 2\n{BLOCK}"))));
}

#[test]
fn a_second_reaffirmation_follows_the_first() {
    let once = again(&file("[verifies.A-1]\nmark = \"m1-0\"\n"));
    assert_eq!(once, file(&format!("[verifies.A-1]\nmark = \"m1-0\"\n{BLOCK}")));
    assert_eq!(again(&once), file(&format!("[verifies.A-1]\nmark = \"m1-0\"\n{BLOCK}{BLOCK}")));
}

#[test]
fn a_reaffirmation_never_swallows_keys_that_follow() {
    let front = "verifies.A-1.mark = \"m1-0\"\nstatus = \"signed\"\n\n[inputs.a]\nvalue = 1\n";
    let expected = front.replace("\"signed\"\n", &format!("\"signed\"\n{BLOCK}"));
    assert_eq!(again(&file(front)), file(&expected));
}

#[test]
fn a_reaffirmation_goes_into_inline_tables_and_lists() {
    let inline = "{ mark = \"m1-1\", date = 2026-06-01, by = \"lead\" }";
    let table = again(&file("[verifies]\nA-1 = { mark = \"m1-0\" }\n"));
    assert_eq!(table, file(&format!("[verifies]\nA-1 = {{ mark = \"m1-0\", reaffirmed = [{inline}] }}\n")));
    let list = again(&file("[verifies.A-1]\nreaffirmed = [{ mark = \"m1-0\" }]\n"));
    assert_eq!(list, file(&format!("[verifies.A-1]\nreaffirmed = [{{ mark = \"m1-0\" }}, {inline}]\n")));
}

#[test]
fn line_ends_and_byte_order_marks_stay() {
    let text = "\u{feff}+++\r\nid = \"é\"\r\n\r\n[verifies.A-1]\r\nresult = 1\r\n+++\r\nBody\r\n";
    let once = put(text, &path(&["verifies", "A-1", "mark"]), &Toml::text("m1-0"), Place::First).expect("an edit");
    assert_eq!(once, text.replace("[verifies.A-1]\r\n", "[verifies.A-1]\r\nmark = \"m1-0\"\r\n"));
    let block = BLOCK.replace('\n', "\r\n");
    assert_eq!(again(text), text.replace("result = 1\r\n", &format!("result = 1\r\n{block}")));
}

#[test]
fn keys_go_where_they_read_best() {
    let text =
        file("id = \"x\"\nstatus = \"draft\"\nconditions.a = 1\n\n[verifies.A-1]\nresults.x = 1\nresults.y = 1\n");
    let sealed = put(&text, &path(&["seal"]), &Toml::text("s1"), Place::After(&["status"])).expect("an edit");
    assert!(sealed.contains("status = \"draft\"\nseal = \"s1\"\nconditions.a"), "{sealed}");
    let outcome = path(&["verifies", "A-1", "outcome", "x"]);
    let judged = put(&text, &outcome, &Toml::text("met"), Place::Last).expect("an edit");
    assert!(judged.contains("results.y = 1\noutcome.x = \"met\"\n+++"), "{judged}");
    let by = put(&text, &path(&["performed_by"]), &Toml::text("a \"b\""), Place::After(&["stage"])).expect("an edit");
    assert!(by.contains("conditions.a = 1\nperformed_by = \"a \\\"b\\\"\"\n\n[verifies"), "{by}");
}

#[test]
fn elements_of_lists_of_tables_are_told_apart() {
    let second = |text: &str| {
        let at = [Step::Key("data".into()), Step::Index(1), Step::Key("sha256".into())];
        put(&file(text), &at, &Toml::text("ab"), Place::Last).expect("an edit")
    };
    let blocks = "[[data]]\nfile = \"a\"\n\n[[data]]\nfile = \"b\"\n";
    assert_eq!(second(blocks), file(&format!("{blocks}sha256 = \"ab\"\n")));
    let inline = "data = [{ file = \"a\" }, { file = \"b\" }]\n";
    assert_eq!(second(inline), file("data = [{ file = \"a\" }, { file = \"b\", sha256 = \"ab\" }]\n"));
}

#[test]
fn lists_grow() {
    let grown = |text: &str| add_to_list(&file(text), &path(&["w"]), "b", Place::Last).expect("an edit");
    assert_eq!(grown("w = \"a\" # one\n"), file("w = [\"a\", \"b\"] # one\n"));
    assert_eq!(grown("w = [\n  \"a\", # one\n]\n"), file("w = [\n  \"a\", \"b\" # one\n]\n"));
    assert_eq!(grown("w = []\n"), file("w = [\"b\"]\n"));
    assert_eq!(grown("id = \"x\"\n"), file("id = \"x\"\nw = [\"b\"]\n"));
}

#[test]
fn what_cannot_be_read_is_refused() {
    for text in ["", "no front matter", "+++\nid = \n+++\n", "+++\nid = 1\n"] {
        assert!(put(text, &path(&["seal"]), &Toml::text("s1"), Place::Last).is_err(), "{text:?}");
    }
    let closed = file("verifies = { A-1 = 5 }\n");
    let error = put(&closed, &path(&["verifies", "A-1", "mark"]), &Toml::text("m1-0"), Place::First).expect_err("no");
    assert_eq!(error.type_this, "verifies.A-1.mark = \"m1-0\"");
}

proptest::proptest! {
    /// Whatever is there, an edit either is refused or leaves every other line as it was.
    #[test]
    fn other_lines_stay(keys in proptest::collection::vec("[a-c](\\.[a-c]){0,2}", 0..6), header in "[a-c](\\.[a-c]){0,1}") {
        let mut front: String = keys.iter().enumerate().map(|(at, key)| format!("{key} = {at} # {at}\n")).collect();
        front.push_str(&format!("[{header}]\nz = 9\n"));
        let text = file(&front);
        if let Ok(edited) = put(&text, &path(&["a", "b", "new"]), &Toml::text("v"), Place::Last) {
            let mut rest = edited.lines();
            for line in text.lines() {
                proptest::prop_assert!(rest.any(|own| own == line), "{edited}");
            }
            let twice = put(&edited, &path(&["a", "b", "new"]), &Toml::text("v"), Place::Last);
            proptest::prop_assert_eq!(twice.ok(), Some(edited));
        }
    }
}

#[test]
fn a_line_that_waits_for_a_key_takes_it_in_its_own_table() {
    let front = "# results.x = \"\"  # not this one\n\n[verifies.A-1]\n# results.x = \"\"  # at most 1 s\n\n[verifies.B-1]\n# results.x = \"\"\n";
    let filled = |id: &str| {
        put(&file(front), &path(&["verifies", id, "results", "x"]), &Toml::text("1 s"), Place::Last).expect("an edit")
    };
    let expected = front.replace("# results.x = \"\"  # at most", "results.x = \"1 s\"  # at most");
    assert_eq!(filled("A-1"), file(&expected));
    assert_eq!(filled("B-1"), file(&front.replace("\n# results.x = \"\"\n", "\nresults.x = \"1 s\"\n")));
    // A note that only looks like it is left alone.
    let note = "[verifies.A-1]\n# results.x = \"\" was wrong\nresults.x = \"1 s\"\n";
    let twice = put(&file(note), &path(&["verifies", "A-1", "results", "x"]), &Toml::text("2 s"), Place::Last);
    assert_eq!(twice.expect("an edit"), file(&note.replace("1 s", "2 s")));
}
