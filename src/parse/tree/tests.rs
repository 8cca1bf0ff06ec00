//! The flat tree says what the library's says, of each text that it reads, and reads none that the library complains of.

use proptest::prelude::*;
use toml::de::DeTable;

use super::{Table, Value};

/// A table in words, each value with where it and its key stand.
fn told(table: &Table<'_>) -> Vec<String> {
    let mut lines = Vec::new();
    tell(table, "", &mut lines);
    lines
}

fn tell(table: &Table<'_>, path: &str, lines: &mut Vec<String>) {
    for (key, node) in table.entries() {
        let path = format!("{path}/{:?} {:?}", key.text(), key.span());
        tell_value(&node.value, &format!("{path} = {:?}", node.span()), lines);
        assert!(table.get(key.text()).is_some_and(|(found, _)| found == key));
    }
}

fn tell_value(value: &Value<'_>, path: &str, lines: &mut Vec<String>) {
    match value {
        Value::Table(table) => {
            lines.push(format!("{path} table of {}", table.len()));
            tell(table, path, lines);
        }
        Value::Array(array) => {
            lines.push(format!("{path} list of {}", array.len()));
            for (at, node) in array.iter().enumerate() {
                tell_value(&node.value, &format!("{path}[{at}] {:?}", node.span()), lines);
            }
        }
        scalar => lines.push(format!("{path} {scalar:?}")),
    }
}

/// Whether the flat tree is made of a text; if so it is the library's.
fn is_plain(text: &str) -> bool {
    let Some(table) = Table::plain(text) else { return false };
    let (library, faults) = DeTable::parse_recoverable(text);
    assert!(faults.is_empty(), "{text:?} is read, and is not TOML: {faults:?}");
    assert_eq!(told(&table), told(&Table::taken(library.into_inner()).0), "{text:?}");
    true
}

#[test]
fn what_people_write_is_read_without_the_library() {
    for text in [
        "",
        "\u{feff}a = 1\n",
        "# only a comment",
        "kind = \"test\"\r\nid = 'T-1' # why\r\n",
        "a = \"\"\"\nlines\n  of text\"\"\"\nb = '''\nmore'''\n",
        "a = \"tab\\t quote \\\" \\u00b5\"\n\"a key\" = 1\n'other key' = 2\n",
        "a = 0x1F\nb = 0o17\nc = 0b11\nd = -1_000\ne = +2.5e-3\nf = inf\ng = -nan\n",
        "a = 2026-03-14\nb = 2026-03-14T09:30:00Z\nc = 09:30:00\nd = 2026-03-14 09:30:00.5+02:00\n",
        "a = [1, 2.0, \"x\", [true, false], {b = 1}, ]\nb = []\nc = [\n  # none\n]\n",
        "a = { b = 1, c.d = \"x\", c.e = [1], f = {} }\n",
        "at.body = \"90 K\"\nat.supply = \"24 V\"\nother = 1\n",
        "[[verify]]\nmethod = \"test\"\n[[verify]]\nmethod = \"analysis\"\n[[verify.steps]]\nn = 1\n[[verify.steps]]\nn = 2\n",
        "z = 1\n[verifies]\n[verifies.R-1]\nmark = \"m\"\n[verifies.R-1.results]\nx = 1\n[verifies.\"R 2\".outcome]\nx = \"met\"\n[a]\n",
    ] {
        assert!(is_plain(text), "{text:?}");
    }
}

#[test]
fn what_is_unusual_or_wrong_is_left_to_the_library() {
    for text in [
        // A table is come back to, as TOML allows it.
        "[[a]]\n[b]\n[[a]]\n",
        "[a.b]\n[c]\n[a.d]\n",
        "[a.b]\n[a]\n",
        "a.b = 1\nc = 1\na.d = 1\n",
        // And as it does not.
        "a = 1\na = 2\n",
        "a = 1\nb = 1\na = 2\n",
        "[a]\n[a]\n",
        "[a]\n[[a]]\n",
        "a = []\n[[a]]\n",
        "a = {}\n[a.b]\n",
        "a = {}\na.b = 1\n",
        "a = {b = 1, b = 2}\n",
        "a.b = 1\n[a]\n",
        "a = 1\na.b = 1\n",
        "[[a]]\n[a]\n",
        "[a]\nb.c = 1\n[a.b]\n",
        "a = {b.c = 1, b = 2}\n",
        // Faults of each sort.
        "a",
        "a =",
        "= 1",
        "a = x",
        "a = \"",
        "a = 01",
        "a = 1979-02-30\n",
        "a = [1",
        "a = {b = 1",
        "[a",
        "[]",
        "a = 1 b = 2",
        "# bell \u{7}\n",
        "a = \"\\q\"\n",
        "a = \u{201c}x\u{201d}\n",
    ] {
        assert!(!is_plain(text), "{text:?}");
    }
    let deep = format!("a = {}{}", "[".repeat(100), "]".repeat(100));
    assert!(!is_plain(&deep));
    // Neither what is made of these nor what is left over of it may be too deep to be let go of.
    for parts in [40, 100, 300_000] {
        let key = "b.".repeat(parts);
        for text in [
            format!("{key}a = 1"),
            format!("[{key}a]\n[{key}b]"),
            format!("[[{key}a]]\na = 1"),
            format!("a = {{{key}a = 1}}"),
        ] {
            assert!(!is_plain(&text), "{parts}");
        }
    }
    let each = format!("{}1{}", "{b.c.d = ".repeat(12), "}".repeat(12));
    assert!(!is_plain(&format!("a = {each}")));
}

/// Lines of which most texts made at random are nearly TOML.
const LINES: [&str; 28] = [
    "a = 1",
    "b = 'x'",
    "a.b = \"y\"",
    "a.c = 2.5",
    "b.a = true",
    "a.b.c = 2026-01-01",
    "[a]",
    "[b]",
    "[a.b]",
    "[a.c]",
    "[a.b.c]",
    "[[a]]",
    "[[b]]",
    "[[a.b]]",
    "[[b.a]]",
    "c = [1, {a = 1}, [{}]]",
    "c = {a = 1, b.c = 2, b.d = 3}",
    "c = {a = {b = 1}, a.c = 2}",
    "c = [",
    "]",
    "d = \"\"\"",
    "\"\"\"",
    "\"a\" = 'q'",
    "'b'.c = \"\\u00e9\"",
    "# words",
    "",
    "d = 1e3 # more",
    "e = 07:30:00",
];

/// What is put somewhere into a text to spoil it.
const ODD: &str = "\"'[]{}=.,#\\\u{0}\u{e9} \n-_1eT:+";

proptest! {
    #![proptest_config(ProptestConfig::with_cases(4000))]

    #[test]
    fn the_tree_is_the_library_s(
        lines in prop::collection::vec(prop::sample::select(&LINES[..]), 0..9),
        ending in prop::sample::select(&["\n", "\r\n", "\r"][..]),
        odd in prop::option::weighted(0.3, (any::<prop::sample::Index>(), prop::sample::select(ODD.chars().collect::<Vec<_>>()))),
    ) {
        let mut text = lines.join(ending);
        if let Some((at, letter)) = odd {
            let places: Vec<usize> = text.char_indices().map(|(at, _)| at).chain([text.len()]).collect();
            text.insert(*at.get(&places), letter);
        }
        is_plain(&text);
    }
}

#[test]
fn the_same_is_told_from_other_values_wherever_it_is_written() {
    let read = |text: &'static str| Table::plain(text).expect("plain");
    let holds = |text: &'static str| Value::Table(read(text));
    let own = "a = [1, { b = \"x\" }]\nc = 2026-01-02\n[d]\ne = true\nf = 1.5\n";
    let elsewhere = "# a note\nd = { f = 1.5, e = true }\nc = 2026-01-02\na = [ 1,\n  { b = 'x' } ]\n";
    assert!(holds(own).says_the_same(&holds(elsewhere)));
    for other in [
        "a = [1, { b = \"y\" }]\nc = 2026-01-02\n[d]\ne = true\nf = 1.5\n",
        "a = [1]\nc = 2026-01-02\n[d]\ne = true\nf = 1.5\n",
        "a = [1, { b = \"x\" }]\nc = 2026-01-03\n[d]\ne = true\nf = 1.5\n",
        "a = [1, { b = \"x\" }]\nc = 2026-01-02\n[d]\ne = true\nf = 1.50\n",
        "a = [1, { b = \"x\" }]\nc = 2026-01-02\n[d]\ne = true\ng = 1.5\n",
        "a = [1, { b = \"x\" }]\nc = 2026-01-02\n",
    ] {
        assert!(!holds(own).says_the_same(&holds(other)), "{other}");
    }
}
