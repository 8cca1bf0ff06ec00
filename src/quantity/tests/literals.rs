//! What a person may write for a value: the notations of JCGM 100:2008, 7.2.2 and 7.2.4, and the project's own convention
//! that a bare `±` is an expanded uncertainty with k = 2.

use super::super::{Measured, is_placeholder, parse_measured, parse_number, parse_quantity};
use super::{measured, quantity, rational, refused};

/// (text, value, standard uncertainty) in SI.
const READ: [(&str, &str, &str); 22] = [
    ("1.32 ± 0.08 N·m", "1.32", "0.04"),
    ("1.32 ± 0.08 N·m (k=2)", "1.32", "0.04"),
    ("(1.32 ± 0.08) N·m (k=1)", "1.32", "0.08"),
    ("1.32 +/- 0.08 N·m (k = 2)", "1.32", "0.04"),
    ("1.32 N·m ± 80 mN·m (k=2)", "1.32", "0.04"),
    ("1.3200(15) MPa", "1320000", "1500"),
    ("1.320(15)", "1.32", "0.015"),
    // JCGM 100:2008, 7.2.2: the nominal 100 g standard.
    ("100.02147(35) g", "0.10002147", "0.00000035"),
    ("100.02147(0.00035) g", "0.10002147", "0.00000035"),
    // JCGM 100:2008, 7.2.4: U = 0.79 mg with k = 2.26.
    ("(100.02147 ± 0.00079) g (k=2.26)", "0.10002147", "0.00000079/2.26"),
    ("123(4)e-6 m", "0.000123", "0.000004"),
    ("1.5(12)", "1.5", "1.2"),
    ("12300(400) Pa", "12300", "400"),
    ("12300(4) Pa", "12300", "4"),
    ("4.00 MPa ± 2 % (k=2)", "4000000", "40000"),
    ("-4.00 MPa ± 2 % (k=2)", "-4000000", "40000"),
    ("90.2 ± 0.5 degC (k=2)", "363.35", "0.25"),
    ("-297.3 ± 0.9 degF (k=2)", "16237/180", "0.25"),
    ("20 degC ± 0.5 K", "293.15", "0.25"),
    ("1.32 ± 0", "1.32", "0"),
    ("(50 ± 2) %", "0.5", "0.01"),
    ("6.0 ± 0.2 MPa gauge", "6000000", "100000"),
];

#[test]
fn uncertainties_are_read_in_every_notation() {
    for (text, value, standard) in READ {
        let read = quantity(text);
        assert_eq!(read.value, rational(value), "value of {text}");
        let uncertainty = read.uncertainty.unwrap_or_else(|| panic!("{text} has an uncertainty"));
        assert_eq!(uncertainty.standard, rational(standard), "uncertainty of {text}");
        assert_eq!(uncertainty.expanded, &uncertainty.standard + &uncertainty.standard, "{text}");
        assert_eq!(read.text, text);
    }
}

#[test]
fn numbers_are_read_exactly() {
    for (text, value) in [
        ("1_320", "1320"),
        ("1\u{2009}320.5", "1320.5"),
        ("1\u{202f}320", "1320"),
        ("−5.40", "-5.4"),
        ("+5", "5"),
        (".5", "0.5"),
        ("0.1", "1/10"),
        ("1e-6", "0.000001"),
        ("1.5E3", "1500"),
        ("123456789012345678901234567890.5", "246913578024691357802469135781/2"),
        ("80 %", "0.8"),
        ("5ppm", "0.000005"),
    ] {
        let read = quantity(text);
        assert_eq!(read.value, rational(value), "{text}");
        assert!(read.uncertainty.is_none() && read.exact, "{text}");
    }
    assert_eq!(parse_number(" 1_000 ").map(|read| read.value), Ok(rational("1000")));
    assert_eq!(parse_number("-0.25").map(|read| read.text), Ok("-0.25".to_owned()));
}

/// What cannot be read, or could be read in two ways, names what to type.
#[test]
fn what_is_not_one_quantity_is_refused() {
    for (text, message, help) in [
        ("0 MPa ± 2 %", "percentage of zero", "unit of the value"),
        ("50 % ± 2 % (k=2)", "in percentage points", "(50 ± 2) %"),
        ("50 ± 2 %", "in percentage points", "(50 ± 2) %"),
        ("20 degC ± 2 %", "depends on its scale", "kelvin"),
        ("10.00 (-0.01, +0.02) mm", "not expected in a unit", "unit"),
        ("10.00(-0.01, +0.02) mm", "standard uncertainty", "`min` and `max`"),
        ("[9.99, 10.02] mm", "interval", "half width"),
        ("1.32 ± 0.08 ± 0.02 N·m", "two uncertainties", "one"),
        ("1.320(15) ± 0.02 N·m", "two uncertainties", "one"),
        ("1.32 ± -0.08", "not negative", "without its sign"),
        ("1.32 ± 0.08 (k=0)", "positive", "(k=2)"),
        ("1.32 ± 0.08 N·m (95 %)", "state the coverage factor", "(k=2)"),
        ("1.32 ± 0.08 N·m (rectangular)", "state the coverage factor", "(k=2)"),
        ("1.32 N·m (k=2)", "no uncertainty", "±"),
        ("1.3200(15) MPa (k=2)", "standard one", "±"),
        ("1,32 N·m", "comma", "`1.32`"),
        ("1,320 N·m", "comma", "`1.320` or `1320`"),
        ("1 320 N·m", "space inside a number", "`1320` or `1_320`"),
        ("4.00 MPa ± 0.02", "has no unit", "`± 0.02 MPa`"),
        ("4.00 MPa ± 0.02 N", "uncertainty force", "`MPa`"),
        ("6 MPa ± 0.1 MPa gauge", "uncertainty a gauge pressure", "`MPa`"),
        ("± 0.02 MPa", "no value", "±"),
        ("nan", "`nan` is not a quantity", "finite"),
        ("-inf", "`-inf` is not a quantity", "finite"),
        ("1e400", "exponent", "check"),
        ("1.2×10^-6 m", "power of ten", "`1.2e-6`"),
        ("", "no quantity", "number"),
        ("  ", "no quantity", "number"),
        ("TBD", "still to be decided", "once it is decided"),
        ("5 MPa (TBC)", "still to be decided", "once it is decided"),
        ("< 5 MPa", "bound", "alone"),
        ("abc", "`abc`", "number"),
        ("(5 MPa)", "inside this bracket", "(1.32 ± 0.08)"),
        ("5 MPa 6", "not expected", "unit"),
    ] {
        let error = refused(text);
        assert!(error.message.contains(message), "{text}: {}", error.message);
        assert!(error.help.contains(help), "{text}: {}", error.help);
        assert!(text.get(error.range.clone()).is_some(), "{text}: {:?} lies outside", error.range);
    }
    assert!(parse_quantity(&"9".repeat(400)).is_err());
    assert!(parse_number("5 MPa").is_err());
    assert!(parse_number("0x1F").is_err());
}

#[test]
fn bounds_are_read_as_such() {
    assert!(matches!(measured("< 1e-6 mbar*L/s"), Measured::Below(bound) if bound.value == rational("1/10000000")));
    assert!(matches!(measured("<= 5"), Measured::Below(_)));
    assert!(matches!(measured("≥ 5 MPa"), Measured::Above(_)));
    assert!(matches!(measured("> 5 MPa"), Measured::Above(_)));
    assert!(matches!(measured("5 MPa"), Measured::Value(_)));
    let error = parse_measured("< 5 ± 1 MPa").expect_err("a bound has no uncertainty");
    assert!(error.help.contains("< 4.2 MPa"), "{}", error.help);
    assert_eq!(parse_measured("<  5 Mpa").expect_err("Mpa is not a unit").range, 5..8);
    assert_eq!(measured("<1 mm").show(), "< 1 mm");
}

#[test]
fn placeholders_are_found() {
    for text in ["TBD", "tbd", "TBR", "TBC", "TBS", "???", "TBD MPa", "5 MPa (TBC)", "> TBD"] {
        assert!(is_placeholder(text), "{text}");
    }
    for text in ["5 MPa", "TBDx", "", "1.5 * meop"] {
        assert!(!is_placeholder(text), "{text}");
    }
}
