//! What a person may write for a value: the notations of JCGM 100:2008, 7.2.2 and 7.2.4, and the project's own convention
//! that a bare `±` is an expanded uncertainty with k = 2.

use super::super::{Measured, Shape, Uncertainty, is_placeholder, parse_measured, parse_number, parse_quantity};
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

/// (text, value, standard uncertainty, shape, degrees of freedom) in SI; the divisors are those of JCGM 100:2008, 4.3.
#[test]
fn the_spread_of_an_uncertainty_is_kept() {
    for (text, value, square, shape, freedom) in [
        ("20 ± 0.3 N (rectangular)", "20", "0.03", Shape::Rectangular, None),
        ("(20 ± 0.3) N (uniform)", "20", "0.03", Shape::Rectangular, None),
        ("20 N ± 1.5 % (rectangular)", "20", "0.03", Shape::Rectangular, None),
        ("[19.7, 20.3] N", "20", "0.03", Shape::Rectangular, None),
        ("[-20.3,  -19.7] N", "-20", "0.03", Shape::Rectangular, None),
        ("[19.7, 20.3] N (triangular)", "20", "0.015", Shape::Triangular, None),
        ("[19.7, 20.3] N (k=3)", "20", "0.01", Shape::Normal, None),
        ("[48, 52] %", "0.5", "0.0004/3", Shape::Rectangular, None),
        ("[20, 22] degC", "294.15", "1/3", Shape::Rectangular, None),
        ("20 ± 0.5 degC (U-shaped)", "293.15", "0.125", Shape::UShaped, None),
        ("20 N (resolution 0.6 N)", "20", "0.03", Shape::Rectangular, None),
        ("20 N (resolution = 600 mN)", "20", "0.03", Shape::Rectangular, None),
        ("20 N (resolution .6)", "20", "0.03", Shape::Rectangular, None),
        ("20 degC (resolution 0.6 delta_degC)", "293.15", "0.03", Shape::Rectangular, None),
        ("20.0(2) N (nu=9)", "20", "0.04", Shape::Normal, Some("9")),
        ("20.0 ± 0.4 N (k=2, nu=9)", "20", "0.04", Shape::Normal, Some("9")),
        ("20.0 ± 0.4 N (dof = 16.7, k = 2)", "20", "0.04", Shape::Normal, Some("16.7")),
        ("20.0 ± 0.4 N (normal, k=2, ν=9)", "20", "0.04", Shape::Normal, Some("9")),
        ("20.0 ± 0.4 N (normal)", "20", "0.04", Shape::Normal, None),
    ] {
        let read = quantity(text);
        assert_eq!(read.value, rational(value), "value of {text}");
        let uncertainty = read.uncertainty.unwrap_or_else(|| panic!("{text} has an uncertainty"));
        let off = &uncertainty.standard * &uncertainty.standard - rational(square);
        assert!(off.abs() < rational("1e-18"), "uncertainty of {text}");
        assert_eq!((uncertainty.shape, uncertainty.freedom.clone()), (shape, freedom.map(rational)), "{text}");
        match freedom {
            None => assert_eq!(uncertainty.expanded, &uncertainty.standard + &uncertainty.standard, "{text}"),
            Some(_) => assert!(uncertainty.expanded > &uncertainty.standard + &uncertainty.standard, "{text}"),
        }
        assert_eq!(read.approximate, freedom.is_some(), "{text}");
    }
    assert!(quantity("20 ± 1 N (95 %)").approximate && quantity("20 ± 1 N (95 %)").exact);
}

/// JCGM 100:2008, table G.2: t for 95.45 % is 2.32 of 9 degrees of freedom, 13.97 of one; and 2.00 of infinitely many.
#[test]
fn degrees_of_freedom_expand_by_student_t() {
    for (freedom, low, high) in [("1", "13.965", "13.975"), ("9", "2.315", "2.325"), ("1e9", "2", "2.00001")] {
        let uncertainty = quantity(&format!("5.0(10) (nu={freedom})")).uncertainty.expect("one is written");
        assert!(uncertainty.expanded > rational(low) && uncertainty.expanded < rational(high), "{uncertainty:?}");
    }
    // What is worked out may come to less than one; it never makes an uncertainty smaller, nor endless.
    let one = Uncertainty::with_freedom(rational("1"), rational("1"));
    assert_eq!(Uncertainty::with_freedom(rational("1"), rational("1e-300")).expanded, one.expanded);
    // At the ends of what is read.
    for (text, low, high) in [
        ("0 ± 1 (1 %)", "79.7", "79.9"),
        ("0 ± 1 (99.999999 %, nu=1)", "1.5e-8", "1.6e-8"),
        ("0 ± 1 (99.999999 %)", "0.174", "0.175"),
    ] {
        let standard = quantity(text).uncertainty.expect("one is written").standard;
        assert!(standard > rational(low) && standard < rational(high), "{text}: {standard}");
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
        ("20 ± 5 % mL/min", "in front of the unit", "`20 mL/min ± 5 %`"),
        ("2e+1 +/- 5 % mL/min", "in front of the unit", "`2e+1 mL/min ± 5 %`"),
        ("10 % mL/min", "in two ways", "`%·mL`"),
        ("3 N·m ± 5 % N·m", "in two ways", "behind the unit"),
        ("5 ppm kg", "in two ways", "`ppm·kg`"),
        ("5 kg ppm", "in two ways", "`kg·ppm`"),
        ("20 degC ± 2 %", "depends on its scale", "kelvin"),
        ("10.00 (-0.01, +0.02) mm", "a tolerance", "[9.99, 10.02] mm"),
        ("10.00(-0.01, +0.02) mm", "a tolerance", "`min` and `max`"),
        ("10.00 (+x) mm", "a tolerance", "[9.99, 10.02] mm"),
        ("10.00(x) mm", "standard uncertainty", "1.3200(15)"),
        ("[9.99 mm, 10.02 mm]", "between the brackets", "[9.99, 10.02] mm"),
        ("[9,99, 10,02] mm", "comma", "9.99"),
        ("[9,10] mm", "a comma and a space", "[9.99, 10.02] mm"),
        ("[10.02, 9.99] mm", "not below", "lower end first"),
        ("[9.99, 10.02", "not closed", "[9.99, 10.02] mm"),
        ("[9.99, 10.02] mm ± 0.1 mm", "two uncertainties", "one"),
        ("[TBD, 3] mm", "still to be decided", "once it is decided"),
        ("1.32 ± 0.08 N·m (trapezoidal)", "trapezoidal", "(rectangular)"),
        ("1.32 ± 0.08 N·m (nu=9)", "how far", "(k=2, nu=9)"),
        ("1.32 ± 0.08 N·m (95 %, k=2)", "the same thing", "`(k=2)` or `(95 %)`"),
        ("1.32 ± 0.08 N·m (rectangular, k=2)", "no coverage factor", "(k=1)"),
        ("1.32 ± 0.08 N·m (rectangular, nu=3)", "no coverage factor", "(k=1)"),
        ("1.32 ± 0.08 N·m (100 %)", "from 1 to 99.999999 %", "(95 %)"),
        ("1.32 ± 0.08 N·m (1e-300 %)", "from 1 to 99.999999 %", "(95 %)"),
        ("1.32 ± 0.08 N·m (99.9999999999 %, nu=1)", "from 1 to 99.999999 %", "(95 %)"),
        ("1.32 ± 0.08 N·m (95 %, nu=1e300)", "from 1 to 1000000000", "infinitely many"),
        ("1.32 ± 0.08 N·m (95 %, nu=nine)", "from 1 to 1000000000", "(95 %, nu=9)"),
        ("1.32 ± 0.08 N·m (95 %, nu=0.5)", "from 1 to", "n − 1"),
        ("1.32 ± 0.08 N·m (95 %, about)", "`(95 %, about)`", "(95 %, nu=9)"),
        ("1.32 ± 0.08 N·m (k=2, k=3)", "twice", "once"),
        ("1.32 ± 0.08 N·m (resolution 0.01)", "already stated", "one combined"),
        ("1.32 N·m (resolution 0.01 mm)", "its uncertainty length", "`N·m`"),
        ("1.32 N·m (resolution)", "does not say", "resolution 0.01 mm"),
        ("1.32 N·m (resolution 0.01, k=2)", "by itself", "alone"),
        ("1.3200(15) MPa (95 %)", "standard one", "±"),
        ("10 slpm(0 degC)", "ambiguous", "slpm(0 degC, 101.325 kPa)"),
        ("10 slpm(0 degC, 1 barg)", "from vacuum", "slpm(0 degC, 101.325 kPa)"),
        ("10 slpm(5 delta_K, 1 bar)", "from vacuum", "slpm(0 degC, 101.325 kPa)"),
        ("10 slpm(0 degC, 1 baar)", "not a known unit", "bara"),
        ("1.32 ± 0.08 ± 0.02 N·m", "two uncertainties", "one"),
        ("1.320(15) ± 0.02 N·m", "two uncertainties", "one"),
        ("1.32 ± -0.08", "not negative", "without its sign"),
        ("1.32 ± 0.08 (k=0)", "positive", "(k=2)"),
        ("1.32 N·m (k=2)", "but none stands here", "±"),
        ("1.32 N·m (rectangular)", "but none stands here", "±"),
        ("1.3200(15) MPa (k=2)", "standard one", "±"),
        ("1,32 N·m", "comma", "`1.32 N·m`"),
        ("1,320 N·m", "comma", "`1.320 N·m` or `1320 N·m`"),
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
