//! What results rest on: the instruments and uncertainties that values bring with them from one record into another, and into a waiver.

use crate::support::TestRepo;

const REQUIREMENT: &str = "+++\nkind = \"requirement\"\nid = \"ID\"\ntitle = \"Pressure\"\nsource = \"the stand's sheet\"\nCRITERIA\n\n\
     [[verify]]\nmethod = \"METHOD\"\n+++\nThe stand shall hold its pressure.\n\n## Rationale\n\nInvented.\n";

fn requirement(id: &str, method: &str, criteria: &str) -> String {
    REQUIREMENT.replace("ID", id).replace("METHOD", method).replace("CRITERIA", criteria)
}

/// Two pressures reduced from data in one record, their sum and difference worked out in another. Each gauge is good to 0.2 bar.
fn two_pressures(first: &str, second: &str, more: &str) -> (String, String) {
    let repo = TestRepo::folder();
    repo.git(&["init", "--quiet"]);
    repo.write("slipmark.toml", "name = \"Stand\"\nevents = [\"first-run\"]\n");
    let gauge =
        |id: &str| format!("[{id}]\nwhat = \"gauge\"\nrange = \"0 bar to 10 bar\"\nuncertainty = \"± 0.2 bar\"\n\n");
    repo.write("instruments.toml", &format!("{}{}", gauge("PG-01"), gauge("PG-02")));
    repo.write(
        "R-001.md",
        &requirement("R-001", "test", "criteria.inlet = { max = \"4 bar\" }\ncriteria.outlet = { max = \"4 bar\" }"),
    );
    repo.write(
        "R-002.md",
        &requirement("R-002", "analysis", "criteria.sum = { max = \"9 bar\" }\ncriteria.drop = { max = \"9 bar\" }"),
    );
    let reduced = |column: &str, instrument: &str| {
        format!(
            "{column} = {{ data = \"run.csv\", column = \"{column}\", reduce = \"max\", instrument = \"{instrument}\" }}"
        )
    };
    let results = format!("{}, {}", reduced("inlet", first), reduced("outlet", second));
    repo.write(
        "records/TR-001.md",
        &format!(
            "+++\nkind = \"test\"\nid = \"TR-001\"\ntitle = \"Run\"\ndate = 2026-06-09\nperformed_by = \"conductor\"\n\
             status = \"draft\"\ninstruments = [\"PG-01\", \"PG-02\"]\n\n[verifies.R-001]\nresults = {{ {results} }}\n+++\nRun.\n"
        ),
    );
    repo.write("../run.csv", "time [s],inlet [bar],outlet [bar]\n0,2.9,1.9\n1,3.0,2.0\n");
    repo.run(&["fill", "TR-001", "--data", "../run.csv"]).ended(0);
    repo.write(
        "records/AN-001.md",
        &format!(
            "+++\nkind = \"analysis\"\nid = \"AN-001\"\ntitle = \"Drop\"\ndate = 2026-06-10\nperformed_by = \"designer\"\nstatus = \"draft\"\n\
             inputs.a = {{ from = \"TR-001.inlet\" }}\ninputs.b = {{ from = \"TR-001.outlet\" }}\n{more}\n[verifies.R-002]\n\
             results = {{ sum = {{ calc = \"s\" }}, drop = {{ calc = \"d\" }} }}\n+++\n```calc\ns = a + b to bar\nd = a - b to bar\n```\n"
        ),
    );
    let answer = repo.run(&["calc", "AN-001", "--format", "json"]).ended(0).json();
    let text = |at: usize| answer["results"][at]["text"].as_str().expect("a result").to_string();
    (text(0), text(1))
}

/// Of two readings of one gauge it is not known what they share, so that the larger uncertainty counts: off together for a sum, 0.2 + 0.2; independently for a
/// difference, 0.2·√2. Another gauge, or a coefficient that is stated, says more.
#[test]
fn the_instrument_of_data_goes_with_the_value() {
    let of = |(sum, drop): (String, String)| {
        let half = |text: &str| {
            let width = text.split("± ").nth(1).and_then(|rest| rest.split(' ').next()).map(str::parse::<f64>);
            width.and_then(Result::ok).unwrap_or_else(|| panic!("{text}"))
        };
        [half(&sum), half(&drop)].map(|width| (width * 1e4).round() / 1e4)
    };
    let stated = |r: &str| format!("\n[[correlations]]\nbetween = [\"a\", \"b\"]\nr = {r}\n");
    assert_eq!(of(two_pressures("PG-01", "PG-01", "")), [0.4, 0.2828]);
    assert_eq!(of(two_pressures("PG-01", "PG-02", "")), [0.2828, 0.2828]);
    assert_eq!(of(two_pressures("PG-01", "PG-01", &stated("0"))), [0.2828, 0.2828]);
    assert_eq!(of(two_pressures("PG-01", "PG-01", &stated("1"))), [0.4, 0.0]);
}

/// The same small project in the units of one person and of another; every number in the second is the first's, exactly: 1 lbf is 4.448 221 615 260 5 N,
/// 1 in is 25.4 mm, 1 atm is 101.325 kPa.
const RESTATED: &[(&str, &str, &str)] = &[
    ("TORQUE", "250 lbf*in", "28.246207256904175 N*m"),
    ("GAP", "2 in", "50.8 mm"),
    ("GAP_BY", "0.01 in", "0.254 mm"),
    ("MOST", "5 atm", "506.625 kPa"),
    ("WARM", "212 degF", "100 degC"),
    ("ARM", "10 in", "0.254 m"),
    ("FORCE", "30 ± 1 lbf", "133.446648457815 ± 4.4482216152605 N"),
    ("NEED", "180 lbf*in", "20337.269224971006 N*mm"),
    ("READ_1", "1.999 in", "50.7746 mm"),
    ("READ_2", "2.002 in", "5.08508 cm"),
    ("READ_3", "2.001 in", "50825.4 um"),
    ("PIECE_1", "260 lbf*in", "29.376055547180342 N*m"),
    ("PIECE_2", "262 lbf*in", "29.6020252052355754 N*m"),
    ("PIECE_3", "261 lbf*in", "29.4890403762079587 N*m"),
    ("GAUGE", "0 atm to 10 atm", "0 MPa to 1.01325 MPa"),
    ("GOOD", "± 0.2 atm", "± 20265 Pa"),
    ("COLUMNS", "time [s],p [atm],T [degF]", "time [min],p [kPa],T [degC]"),
    ("ROW_1", "0,4.1,140", "0,415.4325,60"),
    ("ROW_2", "60,4.2,176", "1,425.565,80"),
    ("ROW_3", "120,4.9,230", "2,496.4925,110"),
];

/// The project in one set of units or the other.
fn restated(other: bool) -> TestRepo {
    let in_units = |text: &str| {
        // The longest name first, so that none is found inside of another.
        let mut names: Vec<_> = RESTATED.to_vec();
        names.sort_by_key(|(name, ..)| std::cmp::Reverse(name.len()));
        names.iter().fold(text.to_string(), |text, (name, one, two)| {
            text.replace(&format!("<{name}>"), if other { two } else { one })
        })
    };
    let repo = TestRepo::folder();
    repo.git(&["init", "--quiet"]);
    let write = |path: &str, text: &str| repo.write(path, &in_units(text));
    write("slipmark.toml", "name = \"Stand\"\nevents = [\"first-run\"]\n");
    write("parameters.toml", "[arm]\nvalue = \"<ARM>\"\nsource = \"drawing 12\"\n");
    write(
        "instruments.toml",
        "[PG-01]\nwhat = \"gauge\"\nrange = \"<GAUGE>\"\nuncertainty = \"<GOOD>\"\n\n[[PG-01.calibrations]]\non = 2026-01-10\n\
         due = 2027-01-10\ncertificate = \"C-1\"\n",
    );
    write(
        "R-001.md",
        &requirement("R-001", "analysis", "criteria.torque = { min = \"<TORQUE>\" }\ncriteria.margin = { min = 0.5 }"),
    );
    write(
        "R-002.md",
        &requirement("R-002", "test", "criteria.pressure = { max = \"<MOST>\", at = { body = { max = \"<WARM>\" } } }"),
    );
    write(
        "R-003.md",
        &requirement("R-003", "analysis", "criteria.gap = { equals = \"<GAP>\", tolerance = \"<GAP_BY>\" }"),
    );
    write(
        "R-004.md",
        &requirement(
            "R-004",
            "test",
            "criteria.strength = { min = \"<TORQUE>\", covers = \"90 %\", confidence = \"90 %\" }",
        ),
    );
    let record = |id: &str, kind: &str, rest: &str| {
        format!(
            "+++\nkind = \"{kind}\"\nid = \"{id}\"\ntitle = \"Work\"\ndate = 2026-06-10\nperformed_by = \"designer\"\nstatus = \"draft\"\n{rest}"
        )
    };
    write(
        "records/AN-001.md",
        &record(
            "AN-001",
            "analysis",
            "inputs.force = { value = \"<FORCE>\", source = \"load cell\" }\ninputs.need = { value = \"<NEED>\", source = \"maker\" }\n\
             inputs.gap = { readings = [\"<READ_1>\", \"<READ_2>\", \"<READ_3>\"] }\n\n[verifies.R-001]\n\
             results = { torque = { calc = \"T\" }, margin = { calc = \"n\" } }\n\n[verifies.R-003]\nresult = { calc = \"g\" }\n+++\n\
             ```calc\nT = force * arm\nn = T / need - 1\ng = gap\n```\n",
        ),
    );
    write(
        "records/TR-001.md",
        &record(
            "TR-001",
            "test",
            "instruments = [\"PG-01\"]\nconditions.body = \"<WARM>\"\n\n[verifies.R-002]\nresult = { data = \"run.csv\", column = \"p\", reduce = \
             \"max\", where = \"T < <WARM>\", instrument = \"PG-01\" }\n\n[verifies.R-004]\n\
             result = { sample = [\"<PIECE_1>\", \"<PIECE_2>\", \"<PIECE_3>\"] }\n+++\nRun.\n",
        ),
    );
    write("../run.csv", "<COLUMNS>\n<ROW_1>\n<ROW_2>\n<ROW_3>\n");
    repo.run(&["fill", "TR-001", "--data", "../run.csv"]).ended(0);
    repo
}

/// All that a program is told of the working of a record, and of what was decided; numbers to ten digits.
fn told(repo: &TestRepo) -> Vec<String> {
    let number =
        |value: &serde_json::Value| value.as_f64().map_or_else(|| value.to_string(), |own| format!("{own:.9e}"));
    let mut all = Vec::new();
    for record in ["AN-001", "TR-001"] {
        let answer = repo.run(&["calc", record, "--format", "json"]).ended(0).json();
        for result in answer["results"].as_array().expect("results") {
            for key in ["value", "standard_uncertainty", "expanded_uncertainty", "degrees_of_freedom", "worst_case"] {
                all.push(format!("{record} {} {key}: {}", result["name"], number(&result[key])));
            }
        }
        for own in answer["verdicts"].as_array().expect("verdicts") {
            let said = |key: &str| format!("{} {}", own["criterion"], own[key]);
            all.extend([said("verdict"), format!("{} {}", own["criterion"], number(&own["risk"]))]);
        }
        repo.run(&["sign", record, "--by", "designer"]).ended(0);
        let text = repo.read(&format!("records/{record}.md"));
        all.extend(
            text.lines().filter(|line| line.starts_with("mark = ") || line.starts_with("outcome.")).map(str::to_string),
        );
    }
    let matrix = repo.run(&["matrix", "--format", "json"]).ended(0).json();
    for row in matrix["rows"].as_array().expect("rows") {
        let codes: Vec<String> =
            row["reasons"].as_array().into_iter().flatten().map(|reason| reason["code"].to_string()).collect();
        all.push(format!("{}: {} {codes:?}", row["requirement"], row["state"]));
        for own in row["criteria"].as_array().into_iter().flatten() {
            all.push(format!("{} {} {}", own["name"], number(&own["margin_si"]), number(&own["risk"])));
        }
    }
    all
}

/// Whoever writes the same project in other units gets the same verdicts, the same marks, and the same numbers.
#[test]
fn a_project_in_other_units_is_the_same_project() {
    let (one, other) = (told(&restated(false)), told(&restated(true)));
    assert_eq!(one, other);
    let all = one.join("\n");
    // 300 lbf·in against 250, a gap of 2.0007 in within 0.01 in, 4.2 atm against 5, three pieces a hair apart.
    for decided in [
        "\"R-001\": \"closed\"",
        "\"R-002\": \"closed\"",
        "\"R-003\": \"closed\"",
        "\"R-004\": \"closed\"",
        "mark = \"m1-",
    ] {
        assert!(all.contains(decided), "{decided}\n{all}");
    }
}

/// The square of 0.1 ± 1 m is 0.01 ± 0.2 m² to first order; nearly all of the trials lie below 1.35. The waiver's limit is held against what the
/// trials say, as the requirement's own is.
#[test]
fn a_relief_is_held_against_what_trials_say() {
    let repo = TestRepo::folder();
    repo.git(&["init", "--quiet"]);
    repo.write("slipmark.toml", "name = \"Stand\"\nevents = [\"first-run\"]\n");
    repo.write("R-001.md", &requirement("R-001", "analysis", "criteria.area = { max = \"0.2 m^2\" }"));
    repo.write(
        "records/AN-001.md",
        "+++\nkind = \"analysis\"\nid = \"AN-001\"\ntitle = \"Area\"\ndate = 2026-06-10\nperformed_by = \"designer\"\nstatus = \"draft\"\n\
         inputs.x = { value = \"0.1 ± 1 m\", source = \"guess\" }\n\n[verifies.R-001]\nresult = { calc = \"A\" }\n+++\n```calc\nA = x^2\n```\n",
    );
    let answer = repo.run(&["calc", "AN-001", "--format", "json"]).ended(0).json();
    assert_eq!(answer["results"][0]["trials"]["decides"], true, "{answer}");
    let first_order = answer["results"][0]["expanded_uncertainty"].as_f64().expect("a number");
    assert!((first_order - 0.2).abs() < 1e-12, "{first_order}");
    repo.run(&["sign", "AN-001", "--by", "designer"]).ended(0);
    assert_eq!(repo.state("R-001", "project"), "inconclusive");
    let record = repo.read("records/AN-001.md");
    let mark = record.lines().find(|line| line.starts_with("mark = ")).expect("a mark");
    // Normal about 0.1 with 0.5: all but 2.275 % of the sizes are below 1.161, so that 95.45 % lie up to its square.
    for (limit, state) in [("0.3 m^2", "inconclusive"), ("1 m^2", "inconclusive"), ("1.6 m^2", "waived")] {
        repo.write(
            "W-001.md",
            &format!(
                "+++\nkind = \"waiver\"\nid = \"W-001\"\ntitle = \"More area\"\nrequirement = \"R-001\"\n{mark}\naccepts.area = {{ max = \
                 \"{limit}\" }}\nbefore = \"first-run\"\nstatus = \"approved\"\napproved_by = \"lead\"\napproved = 2026-06-12\n\
                 reason = \"there is room\"\n+++\n"
            ),
        );
        assert_eq!(repo.state("R-001", "project"), state, "{limit}");
    }
}

/// A rounding has no slope: first order would call its result certain. Where what goes in may fall on either side, trials decide.
#[test]
fn a_rounding_of_what_is_uncertain_is_not_certain() {
    let repo = TestRepo::folder();
    repo.git(&["init", "--quiet"]);
    repo.write("slipmark.toml", "name = \"Stand\"\nevents = [\"first-run\"]\n");
    repo.write("R-001.md", &requirement("R-001", "analysis", "criteria.turns = { min = 3 }"));
    for (value, verdict) in [("3.1 ± 0.4", "inconclusive"), ("3.5 ± 0.2", "met")] {
        repo.write(
            "records/AN-001.md",
            &format!(
                "+++\nkind = \"analysis\"\nid = \"AN-001\"\ntitle = \"Turns\"\ndate = 2026-06-10\nperformed_by = \"designer\"\nstatus = \"draft\"\n\
                 inputs.x = {{ value = \"{value}\", source = \"guess\" }}\n\n[verifies.R-001]\nresult = {{ calc = \"n\" }}\n+++\n```calc\n\
                 n = floor(x)\n```\n"
            ),
        );
        let answer = repo.run(&["calc", "AN-001", "--format", "json"]).ended(0).json();
        assert_eq!(answer["verdicts"][0]["verdict"], verdict, "{value}: {answer}");
    }
}
