//! Findings for programs that show test reports: JUnit XML, as the schema of the Jenkins xUnit plugin (junit-10.xsd) has it.
//!
//! A suite for each class. A finding that fails the run is a failure; one that does not is a case that was skipped, with what was
//! found, so that it is seen and fails nothing. A class in which nothing was found is one case that passed: an empty report would be
//! taken for one that was never made.

use crate::diag::Class;

use super::style::acting;
use super::view::{CheckView, FindingView};

/// The findings as a report; `fails` says which classes fail the run.
pub fn render(view: &CheckView, fails: impl Fn(Class) -> bool) -> String {
    let suites: Vec<Suite> = Class::ALL.iter().filter_map(|class| suite(view, *class, fails(*class))).collect();
    let sum = |count: fn(&Suite) -> usize| suites.iter().map(count).sum::<usize>();
    let (tests, failures) = (sum(|suite| suite.tests), sum(|suite| suite.failures));
    let mut text = String::from("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n");
    text.push_str(&format!(
        "<testsuites name=\"slipmark check\" tests=\"{tests}\" failures=\"{failures}\" errors=\"0\">\n"
    ));
    for suite in suites {
        text.push_str(&suite.text);
    }
    text.push_str("</testsuites>\n");
    text
}

struct Suite {
    tests: usize,
    failures: usize,
    text: String,
}

/// The suite of a class; none for notes that were not asked for.
fn suite(view: &CheckView, class: Class, fails: bool) -> Option<Suite> {
    let own: Vec<&FindingView> = view.findings.iter().filter(|finding| finding.class == class.word()).collect();
    if own.is_empty() && view.count(class) > 0 {
        return None;
    }
    let name = format!("{}s", class.word());
    let (failures, skipped) = if fails { (own.len(), 0) } else { (0, own.len()) };
    let tests = own.len().max(1);
    let mut text = format!(
        "  <testsuite name=\"{name}\" tests=\"{tests}\" failures=\"{failures}\" errors=\"0\" skipped=\"{skipped}\">\n"
    );
    for finding in &own {
        text.push_str(&case(finding, fails));
    }
    if own.is_empty() {
        text.push_str(&format!("    <testcase classname=\"project\" name=\"no {name}\"/>\n"));
    }
    text.push_str("  </testsuite>\n");
    Some(Suite { tests, failures, text })
}

/// One finding. Its name holds no line, so that it is the same case after lines have moved.
fn case(finding: &FindingView, fails: bool) -> String {
    let element = if fails { "failure" } else { "skipped" };
    let class = escaped(finding.path.as_deref().unwrap_or("project"));
    let name = escaped(&format!("{}: {}", finding.code, finding.message));
    let mut said = format!("{}: {}\n{}\n", finding.place(), finding.class, finding.message);
    for place in &finding.also {
        said.push_str(&format!("see {}:{}:{}: {}\n", place.path, place.line, place.column, place.label));
    }
    said.push_str(&format!("to do: {}\n", finding.help));
    format!(
        "    <testcase classname=\"{class}\" name=\"{name}\">\n      <{element} type=\"{}\" message=\"{}\">{}</{element}>\n    </testcase>\n",
        escaped(finding.code),
        escaped(&finding.message),
        escaped(&said).replace("&#10;", "\n")
    )
}

/// Text inside an element or an attribute in double quotes. XML cannot hold most control characters, however they are written, so
/// what would act on a terminal is named instead; a line end is written as a reference, which attributes keep.
fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for character in text.chars() {
        match character {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\n' => out.push_str("&#10;"),
            '\u{fffe}' | '\u{ffff}' => out.push('\u{fffd}'),
            other => match acting(other) {
                Some(name) => out.push_str(&format!("[{name}]")),
                None => out.push(other),
            },
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeMap;

    fn found(class: &'static str, message: &str) -> FindingView {
        FindingView {
            code: "unknown-key",
            class,
            path: Some("a&b.md".into()),
            line: Some(3),
            column: Some(1),
            message: message.into(),
            help: "remove it".into(),
            also: Vec::new(),
            excerpt: None,
        }
    }

    fn view(findings: Vec<FindingView>) -> CheckView {
        let mut counts = BTreeMap::from([("note", 2)]);
        for finding in &findings {
            *counts.entry(finding.class).or_default() += 1;
        }
        CheckView { findings, counts }
    }

    #[test]
    fn what_fails_the_run_is_a_failure_and_the_rest_is_seen() {
        let view = view(vec![found("fault", "bad\u{1b}[2J <key> \"x\"\nmore"), found("warning", "old")]);
        insta::assert_snapshot!(render(&view, |class| class == Class::Fault), @r#"
        <?xml version="1.0" encoding="UTF-8"?>
        <testsuites name="slipmark check" tests="3" failures="1" errors="0">
          <testsuite name="faults" tests="1" failures="1" errors="0" skipped="0">
            <testcase classname="a&amp;b.md" name="unknown-key: bad[U+001B][2J &lt;key&gt; &quot;x&quot;&#10;more">
              <failure type="unknown-key" message="bad[U+001B][2J &lt;key&gt; &quot;x&quot;&#10;more">a&amp;b.md:3:1: fault
        bad[U+001B][2J &lt;key&gt; &quot;x&quot;
        more
        to do: remove it
        </failure>
            </testcase>
          </testsuite>
          <testsuite name="gaps" tests="1" failures="0" errors="0" skipped="0">
            <testcase classname="project" name="no gaps"/>
          </testsuite>
          <testsuite name="warnings" tests="1" failures="0" errors="0" skipped="1">
            <testcase classname="a&amp;b.md" name="unknown-key: old">
              <skipped type="unknown-key" message="old">a&amp;b.md:3:1: warning
        old
        to do: remove it
        </skipped>
            </testcase>
          </testsuite>
        </testsuites>
        "#);
        let strict = render(&view, |class| class != Class::Note);
        assert_eq!((strict.matches("<failure ").count(), strict.matches("<skipped ").count()), (2, 0));
    }

    #[test]
    fn a_report_is_never_empty() {
        let text = render(&view(Vec::new()), |_| true);
        assert!(text.contains("tests=\"3\" failures=\"0\"") && text.contains("name=\"no faults\""), "{text}");
    }
}
