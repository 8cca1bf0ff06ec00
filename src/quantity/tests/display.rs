//! How computed quantities are written for people: rounding for display, after JCGM 100:2008, 7.2.6. The published cases are in
//! `tests/published`.

use super::super::{Kind, Quantity, Shape, Uncertainty, Unit};
use super::{quantity, rational};

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

/// What is written says how it is spread, so that it is read back as what it was.
#[test]
fn the_spread_of_an_uncertainty_is_shown() {
    let half = rational("0.5");
    for (uncertainty, unit, shown) in [
        (Uncertainty::within(&half, Shape::Rectangular), "N·m", "20.00 ± 0.50 N·m (rectangular)"),
        (Uncertainty::within(&half, Shape::Triangular), "N·m", "20.00 ± 0.50 N·m (triangular)"),
        (Uncertainty::within(&half, Shape::UShaped), "%", "(2000 ± 50) % (u-shaped)"),
        (Uncertainty::with_freedom(rational("0.25"), rational("9")), "N·m", "20.00 ± 0.58 N·m (95.45 %, nu=9)"),
        (Uncertainty::with_freedom(rational("0.25"), rational("16.789")), "", "20.00 ± 0.54 (95.45 %, nu=16.7)"),
        (Uncertainty::with_freedom(rational("0.25"), rational("1234.5")), "", "20.00 ± 0.50 (95.45 %, nu=1234)"),
    ] {
        let mut quantity = computed("20", unit);
        quantity.uncertainty = Some(uncertainty);
        assert_eq!(quantity.show(), shown);
    }
    let mut quantity = computed("1320000", "MPa");
    assert_eq!(quantity.show_concise(), "1.32 MPa");
    quantity.uncertainty = Some(Uncertainty::with_freedom(rational("1500"), rational("9")));
    assert_eq!(quantity.show_concise(), "1.3200(15) MPa (nu=9)");
    quantity.uncertainty = Some(Uncertainty::from_standard(rational("0")));
    assert_eq!(quantity.show_concise(), "1.32 MPa");
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
