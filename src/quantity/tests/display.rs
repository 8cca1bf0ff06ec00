//! Rounding for display, after JCGM 100:2008, 7.2.6: two significant digits of the uncertainty, nearest, ties to even on the
//! decimal value. are examples of JCGM 100:2008; the others were worked out in decimals.

use super::super::rounding::pair;
use super::super::{Kind, Quantity, Uncertainty, Unit};
use super::{quantity, rational};

/// (id, value, uncertainty, shown)
const CASES: [(&str, &str, &str, &str); 28] = [
    ("R-01", "10.05762", "0.027", "10.058 ± 0.027"),
    ("R-02", "0", "10.47", "0 ± 10"),
    ("R-03", "0", "28.05", "0 ± 28"),
    ("R-04", "100.021472", "0.00035", "100.02147 ± 0.00035"),
    ("R-05", "1.32", "0.08", "1.320 ± 0.080"),
    ("R-06", "1.31951", "0.0794", "1.320 ± 0.079"),
    ("R-07", "1.31951", "0.0995", "1.32 ± 0.10"),
    ("R-08", "1.31951", "0.0994", "1.320 ± 0.099"),
    ("R-09", "1.31951", "0.09951", "1.32 ± 0.10"),
    ("R-10", "0.0042", "0.31", "0.00 ± 0.31"),
    ("R-11", "-0.0042", "0.31", "0.00 ± 0.31"),
    ("R-12", "1234.5", "67.8", "1234 ± 68"),
    ("R-13", "123456", "7891", "123500 ± 7900"),
    ("R-14", "123456", "998", "123500 ± 1000"),
    ("R-15", "5.25", "0.125", "5.25 ± 0.12"),
    ("R-16", "5.25", "0.135", "5.25 ± 0.14"),
    ("R-17", "2.675", "0.1", "2.68 ± 0.10"),
    ("R-18", "0.000123456", "0.0000078", "0.0001235 ± 0.0000078"),
    ("R-19", "6894.757293", "0.5", "6894.76 ± 0.50"),
    ("R-20", "90.188", "0.05", "90.188 ± 0.050"),
    ("R-21", "1e3", "1.0", "1000.0 ± 1.0"),
    ("R-22", "50000838", "32", "50000838 ± 32"),
    ("R-23", "0.83", "0.11", "0.83 ± 0.11"),
    ("R-24", "-5.47", "0.05", "-5.470 ± 0.050"),
    ("R-25", "3.14159", "0.0000195", "3.141590 ± 0.000020"),
    ("R-26", "9.996", "0.05", "9.996 ± 0.050"),
    ("R-27", "99.96", "0.5", "99.96 ± 0.50"),
    ("R-28", "0.43000", "0.0083", "0.4300 ± 0.0083"),
];

#[test]
fn the_uncertainty_keeps_two_digits_and_the_value_the_same_place() {
    for (id, value, uncertainty, shown) in CASES {
        let (value, uncertainty) = pair(&rational(value), &rational(uncertainty));
        assert_eq!(format!("{value} ± {uncertainty}"), shown, "{id}");
    }
}

fn computed(value: &str, unit: &str) -> Quantity {
    Quantity::computed(rational(value), Unit::parse(unit).expect(unit), true)
}

#[test]
fn computed_values_are_shown_in_their_unit() {
    for (value, unit, shown) in [
        ("6000000", "MPa gauge", "6 MPa gauge"),
        ("0.25", "", "0.25"),
        ("1/3", "m", "0.333333 m"),
        ("2/3", "µm", "666667 µm"),
        ("0.0000001", "mbar*L/s", "1e-6 mbar*L/s"),
        ("1234567890123", "Pa", "1.23457e12 Pa"),
        ("-1/700000000", "m", "-1.42857e-9 m"),
        ("293.15", "degC", "20 degC"),
        ("0.5", "%", "50 %"),
        ("0", "N·m", "0 N·m"),
    ] {
        assert_eq!(computed(value, unit).show(), shown);
    }
}

#[test]
fn an_expanded_uncertainty_is_shown_with_its_coverage_factor() {
    for (value, standard, unit, shown) in [
        ("1.32", "0.04", "N·m", "1.320 ± 0.080 N·m (k=2)"),
        ("1.32", "0", "N·m", "1.32 ± 0 N·m (k=2)"),
        ("0.5", "0.01", "%", "(50.0 ± 2.0) % (k=2)"),
        ("0.00000012", "0.00000001", "mbar*L/s", "1.20e-6 ± 0.20e-6 mbar*L/s (k=2)"),
        ("293.15", "0.25", "degC", "20.00 ± 0.50 degC (k=2)"),
        ("0.83", "0.055", "", "0.83 ± 0.11 (k=2)"),
    ] {
        let mut quantity = computed(value, unit);
        quantity.uncertainty = Some(Uncertainty::from_standard(rational(standard)));
        assert_eq!(quantity.show(), shown);
        let again = super::quantity(shown);
        assert_eq!((again.value, again.uncertainty), (quantity.value, quantity.uncertainty), "{shown} is read back");
    }
}

#[test]
fn a_quantity_is_shown_in_another_unit_where_that_makes_sense() {
    let unit = |text: &str| Unit::parse(text).expect(text);
    assert_eq!(quantity("12 lbf*in").show_in(&unit("N·m")), "1.35582 N·m");
    assert_eq!(quantity("0.0254 m ± 0.254 mm").show_in(&unit("in")), "1.000 ± 0.010 in (k=2)");
    assert_eq!(quantity("9 delta_degF").show_in(&unit("degC")), "5 delta_degC");
    assert_eq!(quantity("5 MPa").show_in(&unit("N")), "5 MPa", "not in a unit of something else");
    assert_eq!(quantity("5 MPa").show_in(&unit("psig")), "725.189 psi", "a difference on that scale");
    assert_eq!(quantity("5 J").show_in(&unit("N·m")), "5 J");
    assert_eq!(quantity("1.0_0 MPa").show(), "1.0_0 MPa", "as it was written");
    assert_eq!(Unit::coherent(quantity("1 J").dimension, Kind::Energy).symbol, "J");
}
