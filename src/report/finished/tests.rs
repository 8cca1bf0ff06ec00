//! Pages that hide what is open, in every way that was thought of; and honest ones, which must pass.

use super::must::Must;
use super::read::{Fault, Read};

const POLICY: &str = "default-src 'none'";

const HEAD: &str = "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n<meta http-equiv=\"Content-Security-Policy\" \
                    content=\"default-src 'none'\">\n<meta name=\"generator\" content=\"slipmark packet 1\">\n<title>T</title>\n</head>\n";

fn page(body: &str) -> String {
    format!("{HEAD}<body>\n{body}\n</body>\n</html>\n")
}

fn must() -> Vec<Must> {
    let row = |id: &str, state: &str| vec![id.to_string(), state.to_string(), "MOV/SN02".to_string()];
    vec![
        Must::Say("2 open before hot-fire.".into()),
        Must::Say("a < b & \"c\"".into()),
        Must::Lines(vec![row("ACT-01", "not met"), row("ACT-01", "not met"), row("ACT-010", "void")]),
    ]
}

/// What is missed in a page, in words; none if nothing is.
fn missed(page: &str) -> Result<Option<String>, Fault> {
    let read = Read::of(page, POLICY)?;
    Ok(must().iter().find_map(|must| must.missed(&read)).map(|must| must.what()))
}

/// Three rows, as a table has them.
const ROWS: &str = "<table><tbody><tr><td><b class=\"x\">not met</b></td><td><a href=\"#a\">ACT-01</a></td><td>on MOV/SN02, now</td></tr>\n\
                    <tr><td>not\n met</td><td>ACT-01.</td><td>MOV/SN02</td></tr>\
                    <tr><td>void</td><td>ACT-<wbr>010</td><td>MOV/SN02</td></tr></tbody></table>";

const SAID: &str = "<p>2 <b>open</b> before <a href=\"#o\">hot-fire</a>.</p><p>a &lt; b &amp; &quot;c&quot;</p>";

#[test]
fn an_honest_page_passes_however_it_is_laid_out() {
    for body in [
        format!("{SAID}{ROWS}"),
        format!("<!-- a note --><main>{ROWS}<svg viewBox=\"0 0 1 1\"><path d=\"M0 0\"/></svg>{SAID}</main>"),
        format!(
            "{SAID}<ul><li>ACT-01: not met, on MOV/SN02</li><li>not met ACT-01 MOV/SN02</li></ul><p>void MOV/SN02 ACT-010</p>"
        ),
        format!("{SAID}<details open><summary>Rows</summary>{ROWS}</details><hr><br/>"),
    ] {
        assert_eq!(missed(&page(&body)), Ok(None), "{body}");
    }
}

#[test]
fn what_is_left_out_or_hidden_is_missed() {
    let row = "<tr><td>void</td><td>ACT-<wbr>010</td><td>MOV/SN02</td></tr>";
    assert!(ROWS.contains(row));
    let without = ROWS.replace(row, "");
    let again = "<tr><td>not met</td><td>ACT-010</td><td>MOV/SN02</td></tr>";
    let wanted = "ACT-010, void, MOV/SN02 in one line";
    for (how, body) in [
        ("left out", format!("{SAID}{without}")),
        ("another state", format!("{SAID}{}", ROWS.replace(row, again))),
        ("a comment", format!("{SAID}{}", ROWS.replace(row, &format!("<!--{row}-->")))),
        ("hidden", format!("{SAID}{}", ROWS.replace(row, &row.replace("<tr>", "<tr hidden>")))),
        ("hidden above", format!("{SAID}{without}<div HIDDEN=''><table>{row}</table></div>")),
        ("popped up", format!("{SAID}{without}<div popover><table>{row}</table></div>")),
        (
            "one of several",
            format!("{SAID}{without}<details open name=\"x\"><summary>a</summary><table>{row}</table></details>"),
        ),
        ("folded up", format!("{SAID}{without}<details><summary>more</summary><table>{row}</table></details>")),
        ("in an attribute", format!("{SAID}{without}<p title=\"ACT-010 void MOV/SN02\">x</p>")),
        ("in a drawing", format!("{SAID}{without}<svg><text>ACT-010 void MOV/SN02</text></svg>")),
        ("in a list to choose from", format!("{SAID}{without}<select><option>ACT-010 void MOV/SN02</option></select>")),
        ("torn apart", format!("{SAID}{without}<p>ACT-010 void</p><p>MOV/SN02</p>")),
        ("part of a longer id", format!("{SAID}{without}<p>ACT-0100 void MOV/SN02</p><p>ACT-010-A void MOV/SN02</p>")),
        ("part of a longer piece", format!("{SAID}{without}<p>ACT-010 void MOV/SN021</p>")),
    ] {
        assert_eq!(missed(&page(&body)), Ok(Some(wanted.into())), "{how}");
    }
    let once = ROWS.replacen("<tr><td>not\n met</td><td>ACT-01.</td><td>MOV/SN02</td></tr>", "", 1);
    assert_eq!(
        missed(&page(&format!("{SAID}{once}"))),
        Ok(Some("ACT-01, not met, MOV/SN02 in one line".into())),
        "of two alike"
    );
    let quiet = SAID.replace("2 <b>", "0 <b>");
    assert_eq!(missed(&page(&format!("{quiet}{ROWS}"))), Ok(Some("\"2 open before hot-fire.\"".into())));
}

#[test]
fn a_page_in_which_browsers_could_hide_or_load_is_refused() {
    let body = format!("{SAID}{ROWS}");
    for (words, page) in [
        ("begins with", page(&body).replacen(&HEAD[..40], "<html>", 1)),
        ("begins with", page(&body).replacen("default-src 'none'", "default-src *", 1)),
        (
            "begins with",
            page(&body).replacen("<meta http-equiv", "<link rel=\"stylesheet\" href=\"https://x\"><meta http-equiv", 1),
        ),
        ("one <body>", page(&body).replacen("<meta http-equiv", "<!--<meta http-equiv", 1)),
        ("begins with", page(&body).replacen("slipmark packet", "another packet", 1)),
        ("<script>", page(&format!("<script src=\"x.js\"></script>{body}"))),
        ("<script>", page(&body).replacen("<title>", "<script></script><title>", 1)),
        (
            "<meta http-equiv>",
            page(&body).replacen("<title>", "<meta http-equiv=\"refresh\" content=\"0;url=https://x\"><title>", 1),
        ),
        (
            "anything but a style",
            page(&body).replacen("<title>", "<link rel=\"preconnect\" href=\"https://x\"><title>", 1),
        ),
        ("`onclick`", page(&format!("<p onclick=\"x()\">x</p>{body}"))),
        ("`style`", page(&format!("<p style=\"display:none\">x</p>{body}"))),
        ("<iframe>", page(&format!("<iframe src=\"x\"></iframe>{body}"))),
        ("<template>", page(&format!("<template>{body}</template>"))),
        ("<textarea>", page(&format!("<textarea>{body}</textarea>"))),
        ("<noscript>", page(&format!("<noscript>{body}</noscript>"))),
        ("ends what was not begun last", page(&format!("<div hidden><table></div>{body}</table></div>"))),
        ("<! may not stand", page(&format!("<svg><![CDATA[ > </svg>{body}<svg>]]></svg>"))),
        ("<! may not stand", page(&format!("<!x>{body}"))),
        ("<? may not stand", page(&format!("<?x ?>{body}"))),
        ("<div> may not stand", page(&format!("<svg><div hidden/></svg>{body}</div>"))),
        ("<g> may not stand", page(&format!("<svg><title><g/></title></svg>{body}"))),
        ("<foreignobject> may not stand", page(&format!("<svg><foreignObject></foreignObject></svg>{body}"))),
        ("ends what was not begun last", page(&format!("<svg><title></svg>{body}</title></svg>"))),
        ("is not ended", format!("{HEAD}<body>{body}")),
        ("one <body>", page(&body).replacen("<body>", "<body class=\"x\">", 1)),
        ("one <body>", page(&body).replacen("<body>", "", 1).replacen("</body>", "", 1)),
        ("one <body>", page(&body).replacen("<body>", "<body><body></body>", 1)),
        ("one <body>", page(&body).replacen("<title>", "<!--<body>--><title>", 1)),
        ("one <body>", page(&body).replacen("<title>", "<!--<body>--><title>", 1).replacen("\n<body>", "\n<BODY>", 1)),
    ] {
        let fault = Read::of(&page, POLICY).expect_err(words);
        assert!(fault.message.contains(words), "{words}: {fault:?}");
    }
    let with = HEAD.replace("'none'", "'none'; script-src 'self'");
    let script = "default-src 'none'; script-src 'self'";
    let told =
        |inside: &str| Read::of(&format!("{with}<body><script src=\"s.js\">{inside}</script></body></html>"), script);
    assert!(told("").is_ok());
    assert!(told("<!--<script>").is_err_and(|fault| fault.message.contains("a script in words")));
}

#[test]
fn what_stands_in_the_templates_of_the_program_may_stand() {
    for own in crate::templates::ours().iter().filter(|own| own.name.ends_with(".html")) {
        let words = own
            .text
            .split('<')
            .skip(1)
            .map(|rest| rest.split(|c: char| !c.is_ascii_alphanumeric()).next().unwrap_or(""));
        for name in words.filter(|name| !name.is_empty()) {
            // Headings are numbered when they are filled, and the rest is inside of drawings.
            let drawn = ["h", "symbol", "use", "path", "circle"].contains(&name);
            let body = if ["html", "head", "body", "meta", "link", "script", "style", "title"].contains(&name) {
                ""
            } else {
                name
            };
            let read = Read::of(&page(&format!("<{body}></{body}>")), POLICY);
            let known =
                body.is_empty() || drawn || !read.is_err_and(|fault| fault.message.contains("may not stand in a page"));
            assert!(known, "{}: <{name}>", own.name);
        }
    }
}

#[test]
fn whatever_is_read_ends() {
    let whole = page(&format!("{SAID}{ROWS}<svg><path d='x'/></svg><!-- x --><? y ?><!z>&#x41;&nosuch;&"));
    for cut in (0..whole.len()).filter(|at| whole.is_char_boundary(*at)) {
        let _ = Read::of(&whole[..cut], POLICY);
        let _ = Read::of(&format!("{}<{}", &whole[..cut], &whole[cut..]), POLICY);
    }
}
