//! The project's own templates, from a folder in memory.

use super::*;
use crate::source::{Limits, Memory, PROJECT_FILE};
use crate::text::{FileId, Span};

fn named(folder: &str) -> Spanned<String> {
    Spanned::new(folder.to_string(), Span::new(FileId(0), 0..1))
}

/// A project with these files in its folder `t`.
fn with(files: &[(&str, &str)]) -> Templates {
    with_in("t", files)
}

fn with_in(folder: &str, files: &[(&str, &str)]) -> Templates {
    let mut source = Memory::new().file(PROJECT_FILE, "name = \"P\"\n").file("outside.html", "outside");
    for (name, text) in files {
        source = source.file(&format!("t/{name}"), text);
    }
    let snapshot = source.snapshot(&Limits::default()).unwrap();
    Templates::read(&source, &snapshot, Some(&named(folder)))
}

/// What is wrong with one template that stands in the place of the verdict, once it is filled.
fn wrong(text: &str) -> Wrong {
    let own = with(&[("packet/verdict.html", text)]);
    match own.engine(&["packet/verdict.html"]) {
        Err(wrong) => wrong,
        Ok(engine) => {
            let template = engine.get_template("packet/verdict.html").unwrap();
            let view = minijinja::context! { it => minijinja::context! { sentence => "<b>1 open</b>" } };
            own.located(&template.render(view).unwrap_err())
        }
    }
}

#[test]
fn a_mistake_is_told_with_its_place_and_what_to_do() {
    for (text, place, words) in [
        ("<p>\n{{ it.sentense }}</p>", "2:4", "undefined value"),
        ("<p>{{ nothing }}</p>", "1:7", "undefined value"),
        ("<p>{% if it %}</p>", "1:15", "unexpected end of input"),
        ("{% include \"../outside.html\" %}", "1:4", "template not found"),
        ("{% include \"outside.html\" %}", "1:4", "template not found"),
        ("<p>ä {{ it.sentence|safe }}", "1:21", "unknown filter"),
        ("{% autoescape false %}{{ it.sentence }}{% endautoescape %}", "1:26", "escaping cannot be turned off"),
        ("{{ it.sentence }}\n{{ it.sentence|no_such }}", "2:16", "unknown filter"),
    ] {
        let wrong = wrong(text);
        assert_eq!(wrong.place(), format!("t/packet/verdict.html:{place}"), "{wrong}");
        assert!(wrong.message.contains(words), "{wrong}");
        assert!(wrong.help.contains("slipmark templates packet/verdict.html"), "{}", wrong.help);
    }
}

#[test]
fn a_template_that_goes_on_and_on_is_stopped() {
    let mut text = String::from("{{ it.sentence }}");
    for name in ["a", "b", "c", "d"] {
        text = format!("{{% for {name} in range(9999) %}}{text}{{% endfor %}}");
    }
    let own = with(&[("packet/verdict.html", &text)]);
    let mut engine = own.engine(&["packet/verdict.html"]).unwrap();
    engine.set_fuel(Some(100_000));
    let template = engine.get_template("packet/verdict.html").unwrap();
    let error = template.render(minijinja::context! { it => minijinja::context! { sentence => "x" } }).unwrap_err();
    assert!(own.located(&error).to_string().contains("it goes on and on"));
    let again = wrong("{% include \"packet/verdict.html\" %}");
    assert!(again.message.contains("recursion"), "{again}");
}

#[test]
fn everything_is_escaped() {
    let own = with(&[(
        "packet/verdict.html",
        "{% set x %}{{ it.sentence }}{% endset %}{{ x }}|{{ [it.sentence]|join(\"<br>\") }}|{{ \"<\" ~ it.sentence }}",
    )]);
    let engine = own.engine(&["packet/verdict.html"]).unwrap();
    let view = minijinja::context! { it => minijinja::context! { sentence => "<i>" } };
    let made = engine.get_template("packet/verdict.html").unwrap().render(view).unwrap();
    assert_eq!(made, "&lt;i&gt;|&lt;i&gt;|&lt;&lt;i&gt;");
}

#[test]
fn only_what_differs_takes_a_place_and_only_where_it_is_used() {
    let same = our("packet/cover.html").unwrap().text;
    let with_windows_ends = same.replace('\n', "\r\n");
    let own = with(&[
        ("packet/cover.html", same),
        ("packet/open.html", &with_windows_ends),
        ("packet/verdict.html", "<p>ours</p>"),
        ("sheet.css", "p { color: red }"),
        ("pages/front.htm", "x"),
        ("live/failed.html", "x"),
    ]);
    let names = |roots: &[&'static str]| own.own_of(roots).into_iter().map(|(name, _)| name).collect::<Vec<_>>();
    assert_eq!(names(&["packet.html"]), ["packet/open.html", "packet/verdict.html"]);
    assert_eq!(names(&["pages/front.html"]), ["packet/verdict.html"]);
    assert_eq!(names(&["sheet.html", "sheet.css"]), ["sheet.css"]);
    assert!(names(&["changes.html", "packet/packet.css"]).is_empty());
    let unknown: Vec<&str> = own.unknown().iter().map(RepoPath::as_str).collect();
    assert_eq!(unknown, ["t/live/failed.html", "t/pages/front.htm"]);
}

#[test]
fn a_folder_outside_is_none() {
    for folder in ["..", "../t", "/t", ".", "t/../..", "C:\\t", ""] {
        let own = with_in(folder, &[("packet/verdict.html", "x")]);
        assert!(own.no_folder().is_some() && own.own_of(&["packet.html"]).is_empty(), "{folder}");
    }
    assert!(with_in("./t//", &[("packet/verdict.html", "x")]).no_folder().is_none());
    assert!(with(&[]).no_folder().is_some_and(|why| why.contains("no file in `t`")));
}

#[test]
fn a_style_cannot_end_itself_and_must_be_text() {
    let own = with(&[("sheet.css", "p {}\n</style><script>")]);
    let wrong = own.style("sheet.css").unwrap_err();
    assert_eq!(wrong.to_string(), "t/sheet.css:2:1: `</` would end the style");
    assert_eq!(own.wrong(), [wrong]);
    let source = Memory::new().file(PROJECT_FILE, "name = \"P\"\n").file("t/sheet.css", b"p\n\xff".as_slice());
    let source = source.file("t/sheet.html", vec![b'x'; LARGEST + 1]);
    let snapshot = source.snapshot(&Limits::default()).unwrap();
    let own = Templates::read(&source, &snapshot, Some(&named("t")));
    let said: Vec<String> = own.wrong().iter().map(ToString::to_string).collect();
    assert_eq!(
        said,
        ["t/sheet.css:2:1: it is not UTF-8", "t/sheet.html: it has 1048577 bytes, and a template has at most 1048576"]
    );
}

#[test]
fn every_template_of_the_program_can_be_used_and_says_what_it_uses() {
    let names: Vec<&'static str> = ours().iter().map(|own| own.name).collect();
    Templates::default().engine(&names).unwrap();
    let cover = our("packet/cover.html").unwrap();
    assert_eq!(cover.takes(), ["changes", "cover", "manifest"]);
    assert!(our("sheet.css").unwrap().takes().is_empty());
}
