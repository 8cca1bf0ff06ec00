//! Quantities that share a dimension and are still not the same sort of thing. That torque is not energy, hertz not radian per
//! second, and a temperature not a difference, is from the SI brochure, 9th edition; the rest follows from dimensional analysis.

use super::super::{Kind, Unit};
use super::{quantity, rational};

#[test]
fn units_carry_their_kind() {
    for (text, kind) in [
        ("1 N·m", Kind::Torque),
        ("1 lbf*in", Kind::Torque),
        ("1 ft·lbf", Kind::Torque),
        ("1 J", Kind::Energy),
        ("1 kWh", Kind::Energy),
        ("1 W*h", Kind::Energy),
        ("1 W", Kind::Power),
        ("1 J/s", Kind::Power),
        ("1 mbar*L/s", Kind::Throughput),
        ("1 Pa·m^3/s", Kind::Throughput),
        ("1 atm*cm^3/min", Kind::Throughput),
        ("1 deg", Kind::Angle),
        ("1 rev/min", Kind::AngularVelocity),
        ("1 deg/s", Kind::AngularVelocity),
        ("1 rpm", Kind::AngularVelocity),
        ("1 kHz", Kind::Frequency),
        ("1 1/s", Kind::Plain),
        ("1 MPa", Kind::Plain),
        ("1 psid", Kind::Plain),
        ("1 MPa differential", Kind::Plain),
        ("1 psig", Kind::GaugePressure),
        ("1 MPa gauge", Kind::GaugePressure),
        ("1 kPag", Kind::GaugePressure),
        ("1 mbarg", Kind::GaugePressure),
        ("1 psia", Kind::AbsolutePressure),
        ("1 atm abs", Kind::AbsolutePressure),
        ("1 MPa absolute", Kind::AbsolutePressure),
        ("1 K", Kind::TemperaturePoint),
        ("1 mK", Kind::TemperaturePoint),
        ("1 degC", Kind::TemperaturePoint),
        ("1 delta_degF", Kind::TemperatureDifference),
        ("1 N·m/rad", Kind::Plain),
        ("1 J/kg", Kind::Plain),
    ] {
        assert_eq!(quantity(text).kind, kind, "{text}");
    }
}

#[test]
fn what_is_not_the_same_sort_is_not_compared() {
    for (left, right, help) in [
        ("12 lbf*in", "1 J", "`N·m`"),
        ("5 lbm", "3 lbf", "write force here"),
        ("50 Hz", "10 rad/s", "`rad/s`"),
        ("50 1/s", "50 Hz", "`Hz`"),
        ("3000 rpm", "50 Hz", "`Hz`"),
        ("1 W", "1 Pa*m^3/s", "gas throughput"),
        ("100 psi", "120 psig", "`psi gauge`"),
        ("100 psi", "120 psia", "`psi abs`"),
        ("100 psig", "110 psia", "ambient = \"101.325 kPa abs\""),
        ("20 degC", "5 delta_K", "`delta_degC`"),
        ("5 delta_K", "20 degC", "`degC`"),
        ("0.5", "30 deg", "`deg`"),
        ("3 m", "2 s", "write time here"),
    ] {
        let error = quantity(left).compatible(&quantity(right), None).expect_err(left);
        assert!(error.help.contains(help), "{left} against {right}: {}", error.help);
        assert!(error.message.contains(left) && error.message.contains(right), "{}", error.message);
    }
    assert!(quantity("12 lbf*in").compatible(&quantity("1 N·m"), None).is_ok());
    assert!(quantity("20 degC").compatible(&quantity("90 K"), None).is_ok());
}

/// Worked out in exact fractions for ambient pressures of 101 325 Pa and 83.4 kPa.
#[test]
fn gauge_and_absolute_meet_through_the_ambient_pressure() {
    let standard = quantity("101325 Pa abs");
    let absolute = quantity("1 psia");
    for (gauge, ambient, pascal) in [
        ("100 psig", "101325 Pa abs", "10203859970521/12903200"),
        ("4 barg", "101325 Pa abs", "501325"),
        ("100 psig", "83.4 kPa abs", "997257011052100/1290320000"),
    ] {
        let value = quantity(gauge).on_scale_of(&absolute, Some(&quantity(ambient))).expect(gauge);
        assert_eq!(value, rational(pascal), "{gauge}");
    }
    let back = quantity("40 bara").on_scale_of(&quantity("1 barg"), Some(&standard)).expect("40 bara");
    assert_eq!(back, rational("3898675"), "38.98675 bar gauge");
    let plain_ambient = quantity("101325 Pa");
    let error =
        quantity("1 barg").compatible(&absolute, Some(&plain_ambient)).expect_err("the ambient is not absolute");
    assert!(error.message.contains("not an absolute pressure"), "{}", error.message);
}

#[test]
fn comparison_is_exact() {
    use std::cmp::Ordering::{Equal, Greater, Less};
    for (left, right, order) in [
        ("25.4 mm", "1 in", Equal),
        ("1 MPa", "145 psi", Greater),
        ("1 MPa", "145.04 psi", Less),
        ("-183.15 °C", "90 K", Equal),
        ("0.1", "10 %", Equal),
        ("180 deg", "0.5 rev", Equal),
    ] {
        assert_eq!(quantity(left).compare(&quantity(right), None), Ok(order), "{left} against {right}");
    }
}

#[test]
fn differences_have_their_own_unit() {
    for (unit, difference) in [
        ("psig", "psi"),
        ("MPa gauge", "MPa"),
        ("kPaa", "kPa"),
        ("degC", "delta_degC"),
        ("°F", "delta_degF"),
        ("mm", "mm"),
        ("mK", "delta_mK"),
    ] {
        let is = Unit::parse(unit).expect(unit).as_difference();
        assert_eq!(is.symbol, difference, "{unit}");
        let read = Unit::parse(difference).expect(difference);
        assert_eq!((&read.factor, &read.offset, read.kind), (&is.factor, &is.offset, is.kind), "{unit}");
    }
}

#[test]
fn each_kind_has_its_own_tag() {
    let tags = [
        "",
        "gauge",
        "absolute",
        "point",
        "difference",
        "torque",
        "energy",
        "power",
        "throughput",
        "angle",
        "angular",
        "frequency",
    ];
    for tag in tags {
        assert_eq!(Kind::from_tag(tag).map(Kind::tag), Some(tag));
    }
    assert_eq!(Kind::from_tag("other"), None);
}
