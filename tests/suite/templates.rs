//! Templates of a project in place of the program's: what they may change, and that they hide nothing.

use std::path::Path;

use sha2::{Digest, Sha256};

use crate::support::{Run, TestRepo};

/// The example with templates of its own, committed.
fn with(files: &[(&str, &str)]) -> TestRepo {
    let repo = TestRepo::demo();
    repo.replace("slipmark.toml", "name = \"Marram Point\"\n", "name = \"Marram Point\"\ntemplates = \"letterhead\"\n");
    for (name, text) in files {
        repo.write(&format!("letterhead/{name}"), text);
    }
    repo.commit("Have templates of our own");
    repo
}

/// Puts other templates into the example, not committed.
fn set(repo: &TestRepo, files: &[(&str, &str)]) {
    if !repo.read("slipmark.toml").contains("letterhead") {
        repo.replace(
            "slipmark.toml",
            "name = \"Marram Point\"\n",
            "name = \"Marram Point\"\ntemplates = \"letterhead\"\n",
        );
    }
    let _ = std::fs::remove_dir_all(repo.path().join("letterhead"));
    for (name, text) in files {
        repo.write(&format!("letterhead/{name}"), text);
    }
}

/// The program's own template.
fn ours(repo: &TestRepo, name: &str) -> String {
    repo.run(&["templates", name]).ended(0).out
}

/// The packet about the hot fire on the standard output.
fn packet(repo: &TestRepo) -> Run {
    repo.run(&["packet", "hot-fire", "-o", "-"])
}

/// With slashes as people write them, and nothing that only lets words be broken.
fn plain(page: &str) -> String {
    page.replace("&#x2f;", "/").replace("<wbr>", "")
}

fn kind(repo: &TestRepo) -> String {
    ours(repo, "packet/cover.html").replace("Verification packet", "Review of the Marram Point stand")
}

#[test]
fn a_packet_is_set_with_them_says_so_lists_them_and_is_made_again_with_them() {
    let plain_demo = TestRepo::demo();
    let cover = kind(&plain_demo);
    let repo = with(&[("packet/cover.html", &cover), ("README.md", "How the cover came about.\n")]);
    let page = plain(&packet(&repo).ended(0).out);
    assert!(page.contains("<p class=\"kind\">Review of the Marram Point stand</p>"));
    let note = "<b>15 open before hot-fire. This checks records, not hardware: whether to operate is for the people responsible, under \
                the codes that apply where they are.</b> <span>Set with templates of this project: letterhead/packet/cover.html.</span>";
    let body = page.split("<body>").nth(1).expect("a body").trim_start();
    assert!(body.starts_with("<aside class=\"slipmark-set\">") && body.contains(note), "{}", &body[..600]);
    let hash: String = Sha256::digest(&cover).iter().map(|byte| format!("{byte:02x}")).collect();
    let manifest = page.split("id=\"manifest\"").nth(1).expect("a manifest");
    assert!(manifest.contains("letterhead/packet/cover.html") && manifest.contains(&hash));
    assert_eq!(page.replace(note, ""), plain(&packet(&repo).ended(0).out).replace(note, ""));
    repo.run(&["check"]).ended(0);
    // It is made again from its commit with what that commit has.
    repo.run(&["packet", "hot-fire", "-o", "../held.html"]).ended(0);
    assert!(repo.run(&["packet", "--verify", "../held.html"]).ended(0).out.contains("it is the same\n"));
    repo.write("letterhead/packet/cover.html", &cover.replace("Review of", "View of"));
    let out = repo.run(&["packet", "--verify", "../held.html"]).ended(1).out;
    assert!(out.contains("it is the same\n") && out.contains("  changed  letterhead/packet/cover.html\n"), "{out}");
    assert!(plain(&packet(&repo).ended(0).out).contains("DRAFT: 1 file not committed"));
    assert!(plain(&repo.run(&["packet", "hot-fire", "--at", "HEAD", "-o", "-"]).out).contains("Review of the Marram"));
    let earlier = repo.run(&["packet", "hot-fire", "--at", "TRR-1", "-o", "-"]).ended(0).out;
    assert!(!earlier.contains("slipmark-set"), "the project had none then");
}

#[test]
fn copies_left_as_they_are_change_nothing() {
    let repo = TestRepo::demo();
    repo.run(&["templates", "--write", "letterhead"]).ended(0);
    repo.replace("slipmark.toml", "name = \"Marram Point\"\n", "name = \"Marram Point\"\ntemplates = \"letterhead\"\n");
    assert!(!packet(&repo).ended(0).out.contains("slipmark-set"));
    assert!(!repo.run(&["check"]).ended(0).out.contains("template"));
    // Written again, nothing is in the way; over what was changed only by force.
    repo.run(&["templates", "--write", "letterhead"]).ended(0);
    repo.write("letterhead/sheet.css", "p { color: navy }\n");
    let refused = repo.run(&["templates", "--write", "letterhead"]).ended(2).err;
    assert!(refused.contains("letterhead/sheet.css exists and was changed"), "{refused}");
    repo.run(&["templates", "sheet.css", "--write", "letterhead", "--force"]).ended(0);
    assert_eq!(repo.read("letterhead/sheet.css"), ours(&repo, "sheet.css"));
    let unknown = repo.run(&["templates", "packet/covers.html"]).ended(2).err;
    assert!(
        unknown.contains("no template is called `packet/covers.html`")
            && unknown.contains("did you mean `packet/cover.html`?")
    );
    repo.run(&["templates", "live/failed.html"]).ended(2);
}

#[test]
fn a_broken_one_stops_its_documents_with_the_place_and_no_others() {
    let repo = with(&[("packet/open.html", "<section>\n<p>{{ cover.no_such }}</p>\n"), ("sheet.html", "{% if x %}")]);
    for arguments in [&["packet", "hot-fire", "-o", "-"][..], &["packet", "hot-fire", "--site", "../site"]] {
        // Pages beside the packet do not use that part.
        let run = repo.run(arguments);
        match arguments.contains(&"--site") {
            true => drop(run.ended(0)),
            false => {
                let run = run.ended(2);
                assert!(
                    run.out.is_empty() && run.err.contains("letterhead/packet/open.html:2:7: undefined value"),
                    "{}",
                    run.err
                );
                assert!(run.err.contains("do: correct it; `slipmark templates packet/open.html` shows"), "{}", run.err);
            }
        }
    }
    let run = repo.run(&["sheet", "TP-03", "--serial", "MOV/SN02", "--format", "html"]).ended(2);
    assert!(run.err.contains("letterhead/sheet.html:1:"), "{}", run.err);
    repo.run(&["sheet", "TP-03", "--serial", "MOV/SN02"]).ended(0);
    repo.run(&["concepts", "MOV-ACT", "--format", "html"]).ended(0);
    repo.run(&["before", "hot-fire"]).ended(1);
    let found = repo.run(&["check"]).ended(0).out;
    assert!(found.contains("template-broken") && found.contains("letterhead/sheet.html"), "{found}");
    assert!(!found.contains("letterhead/packet/open.html"), "only filling it shows that: {found}");
}

#[test]
fn nothing_that_is_open_can_be_left_out() {
    let demo = TestRepo::demo();
    let row = ours(&demo, "packet/open_row.html");
    let matrix = ours(&demo, "packet/matrix_tables.html");
    let verdict = ours(&demo, "packet/verdict.html");
    let macros = ours(&demo, "packet/macros.html");
    let beside = ours(&demo, "packet/beside.html");
    let whole = ours(&demo, "packet.html");
    let without = |text: &str, what: &str| {
        assert!(text.contains(what), "{what}");
        text.replace(what, "")
    };
    let only_closed = |text: &str, start: &str| {
        text.replace(start, &format!("{{% if not row.open %}}{start}"))
            .replace("</tr>\n{% endfor %}{% endfor %}", "</tr>{% endif %}\n{% endfor %}{% endfor %}")
    };
    let hidden = only_closed(&matrix, "<tr id=\"m{{ row.number }}\">");
    assert_ne!(hidden, matrix);
    for (words, files) in [
        ("in one line", vec![("packet/open_row.html", "".to_string()), ("packet/matrix_tables.html", hidden.clone())]),
        ("in one line", vec![("packet/open_row.html", format!("<!--{row}-->")), ("packet/matrix_tables.html", hidden)]),
        (
            "in one line",
            vec![("packet/macros.html", macros.replace("</svg>{{ state }}</span>", "</svg>closed</span>"))],
        ),
        ("\"15 open before hot-fire.\"", vec![("packet/verdict.html", without(&verdict, "{{ it.sentence }}"))]),
        ("\"Cold metal and liquid burn", vec![("packet/cautions.html", "<p>none</p>".into())]),
        ("\"Less is asked than at TRR-1\"", vec![("packet/verdict.html", without(&verdict, "Less is asked than at"))]),
        ("in one line", vec![("packet/beside.html", "<p>nothing</p>".into())]),
        ("NC-", vec![("packet/beside.html", without(&beside, "{{ a(nonconformances[loop.index0]) }}"))]),
        (
            "a page begins with",
            vec![(
                "packet.html",
                whole.replace("<meta http-equiv=\"Content-Security-Policy\" content=\"{{ policy }}\">\n", ""),
            )],
        ),
        ("<script> may not stand", vec![("packet.html", whole.replace("<main", "<script>alert(1)</script>\n<main"))]),
    ] {
        let files: Vec<(&str, &str)> = files.iter().map(|(name, text)| (*name, text.as_str())).collect();
        set(&demo, &files);
        let run = packet(&demo);
        assert_eq!(run.code, 2, "{words}: {}", run.err);
        assert!(run.out.is_empty() && run.err.contains(words), "{words}: {}", run.err);
        assert!(run.err.contains("letterhead/") && run.err.contains("do: mend the template"), "{}", run.err);
    }
}

#[test]
fn a_draft_and_a_fault_must_be_said_too() {
    let demo = TestRepo::demo();
    let cover = ours(&demo, "packet/cover.html");
    let draft = "{% if it.draft %}<p class=\"draft\">{{ it.draft }}</p>{% endif %}";
    let files = "{% if it.draft %}{{ it.draft }}{% else %}clean: every file is as the commit holds it{% endif %}";
    assert!(cover.contains(draft) && cover.contains(files));
    let repo = with(&[
        ("packet/cover.html", &cover.replace(draft, "").replace(files, "as they are")),
        ("packet/faults.html", ""),
    ]);
    packet(&repo).ended(0);
    repo.write("odd.md", "+++\nkind = \"nothing\"\nid = \"ODD\"\ntitle = \"Odd\"\n+++\n");
    let said = packet(&repo).ended(2).err;
    assert!(said.contains("does not say \"DRAFT: 1 file not committed\""), "{said}");
    repo.commit("Add what is odd");
    let said = packet(&repo).ended(2).err;
    assert!(said.contains("does not say unknown-kind, there is no kind"), "{said}");
}

#[test]
fn pages_are_set_with_them_too_and_hide_nothing() {
    let demo = TestRepo::demo();
    let frame = ours(&demo, "pages/frame.html").replace("<main id", "<p>Ours</p>\n<main id");
    let repo = with(&[("pages/frame.html", &frame), ("pages/pages.css", "main { color: navy }\n")]);
    repo.run(&["packet", "hot-fire", "--site", "../site"]).ended(0);
    let site = repo.path().parent().expect("a folder").join("site");
    let read = |path: &Path| plain(&std::fs::read_to_string(path).expect("a page"));
    for name in ["index.html", "requirement/ACT-010.html", "search.html"] {
        let page = read(&site.join(name));
        assert!(page.contains("<p>Ours</p>") && page.contains("<b>15 open before hot-fire."), "{name}");
        assert!(
            page.contains(
                "Set with templates of this project: letterhead/pages/frame.html, letterhead/pages/pages.css."
            ),
            "{name}"
        );
    }
    let style = std::fs::read_dir(&site).expect("a folder").flatten().map(|entry| entry.path());
    let style = style
        .filter(|path| path.extension().is_some_and(|end| end == "css"))
        .map(|path| read(&path))
        .collect::<String>();
    assert!(
        style.contains("main { color: navy }") && style.starts_with("/*") && style.contains("@layer {"),
        "{}",
        &style[..200]
    );
    let row = ours(&demo, "packet/open_row.html");
    let hiding =
        with(&[("packet/open_row.html", &row.replace("<tr>", "<tr{% if row.state == 'void' %} hidden{% endif %}>"))]);
    let said = hiding.run(&["packet", "hot-fire", "--site", "../site"]).ended(2).err;
    assert!(
        said.contains(", void, ") && said.contains("letterhead/packet/open_row.html: the page does not say"),
        "{said}"
    );
    assert!(!hiding.path().parent().expect("a folder").join("site").exists());
}

#[test]
fn every_other_document_says_so_and_must_hold_its_cautions() {
    let demo = TestRepo::demo();
    let documents: &[(&str, &str, &[&str], &str)] = &[
        ("changes.html", "<p class=\"end\">{{ note }}</p>", &["changes", "PDR..HEAD"], "This compares records"),
        ("concepts.html", "<p class=\"note\">{{ note }}</p>", &["concepts", "MOV-ACT"], "Evidence on an option"),
        ("trend.html", "<p class=\"note\">{{ note }}</p>", &["trend", "hot-fire"], "This counts records"),
        ("worked.html", "{{ own.requirement }} {{ own.criterion }}", &["calc", "AN-003"], "in one line"),
        ("sheet.html", "{{ own.state }}", &["sheet", "TP-03", "--serial", "MOV/SN02"], "in one line"),
        (
            "sheet.html",
            "<span class=\"soft\">{{ own.what }}</span>",
            &["sheet", "TP-03", "--serial", "MOV/SN02"],
            "NC-004",
        ),
    ];
    for (name, needed, arguments, missed) in documents {
        let text = ours(&demo, name);
        assert!(text.contains(needed), "{name}");
        let ask = |text: &str| {
            set(&demo, &[(name, text)]);
            demo.run(&[arguments, &["--format", "html"][..]].concat())
        };
        let page = plain(&ask(&text.replace("</body>", "<p>Ours</p>\n</body>")).ended(0).out);
        assert!(
            page.contains("<p>Ours</p>")
                && page.contains(&format!("Set with templates of this project: letterhead/{name}.")),
            "{name}"
        );
        let said = ask(&text.replace(needed, "")).ended(2).err;
        assert!(
            said.contains(missed) && said.contains(&format!("letterhead/{name}: the page does not say")),
            "{name}: {said}"
        );
    }
}
