//! Expressions in limits.

use super::super::{Kind, Quantity, QuantityError, Unit, evaluate, names};
use super::{quantity, rational};

fn parameter(name: &str) -> Option<Quantity> {
    match name {
        "meop" => Some(quantity("4.0 MPa gauge")),
        "t_max" => Some(quantity("20 degC")),
        "t_cold" => Some(quantity("90 K")),
        "factor" | "line.factor" => Some(quantity("1.5")),
        "m" => Some(quantity("2 m")),
        "torque" => Some(quantity("10 N*m")),
        _ => None,
    }
}

fn value_of(expr: &str) -> Quantity {
    evaluate(expr, &parameter).unwrap_or_else(|error| panic!("{expr}: {error}; {}", error.help))
}

fn error_of(expr: &str) -> QuantityError {
    match evaluate(expr, &parameter) {
        Ok(value) => panic!("{expr} came out as {value:?}"),
        Err(error) => error,
    }
}

#[test]
fn expressions_come_out_exactly() {
    for (expr, number, unit, kind) in [
        ("1.5 * meop", "6", "MPa gauge", Kind::GaugePressure),
        ("factor*meop", "6", "MPa gauge", Kind::GaugePressure),
        ("line.factor * meop", "6", "MPa gauge", Kind::GaugePressure),
        ("meop * 80 %", "3.2", "MPa gauge", Kind::GaugePressure),
        ("meop + 0.2 MPa", "4.2", "MPa gauge", Kind::GaugePressure),
        ("0.2 MPa + meop", "4.2", "MPa gauge", Kind::GaugePressure),
        ("meop-0.2 MPa", "3.8", "MPa gauge", Kind::GaugePressure),
        ("meop - 3.5 MPa gauge", "0.5", "MPa", Kind::Plain),
        ("(meop + 0.2 MPa) * 1.5", "6.3", "MPa gauge", Kind::GaugePressure),
        ("600 psig - 580 psig", "20", "psi", Kind::Plain),
        ("1.5 * 600 psig", "900", "psig", Kind::GaugePressure),
        ("t_max + 10 K", "30", "degC", Kind::TemperaturePoint),
        ("t_max + 18 delta_degF", "30", "degC", Kind::TemperaturePoint),
        ("t_max - 5 K", "15", "degC", Kind::TemperaturePoint),
        ("20 degC - 5 degF", "35", "delta_degC", Kind::TemperatureDifference),
        ("t_cold * 2", "180", "K", Kind::TemperaturePoint),
        ("-2 degC + 5 K", "3", "degC", Kind::TemperaturePoint),
        ("3 in * 2 ft", "464.5152", "cm^2", Kind::Plain),
        ("6 / 2 * 3", "9", "", Kind::Plain),
        ("6 W / 2 A * 3 s", "9", "V·s", Kind::Plain),
        ("5 kg * 9.80665 m/s^2", "49.03325", "N", Kind::Plain),
        ("100 psi * 1 in^2", "100", "lbf", Kind::Plain),
        ("m * 5 N", "10", "N·m", Kind::Torque),
        ("1.5 * 10 slpm(0 degC, 1 atm)", "15", "slpm(0 degC, 1 atm)", Kind::Plain),
        ("2 * 3 scc(0 degC, 1 atm)/s + 60 sccm(0 degC, 1 atm)", "7", "scc(0 degC, 1 atm)/s", Kind::Plain),
        ("4 Kv * 2", "8", "Kv", Kind::Plain),
        ("5 N*m", "5", "N·m", Kind::Torque),
        (
            "torque * 90 deg / 1 rad",
            "15707963267948966192313216916397514420985846996875529104874.7/1e57",
            "N·m",
            Kind::Torque,
        ),
        ("torque * 2", "20", "N·m", Kind::Torque),
        ("2.5 L * 120 Pa / 15 min", "1/3000", "Pa·m^3/s", Kind::Throughput),
        ("0.1 + 0.2", "0.3", "", Kind::Plain),
        ("5 % + 3 %", "8", "%", Kind::Plain),
        ("-(2 mm) + 3 mm", "1", "mm", Kind::Plain),
        ("10 W/(m·K) * 2", "20", "W/(m·K)", Kind::Plain),
        ("2 * 3 m^-1", "6", "1/m", Kind::Plain),
        ("meop", "4", "MPa gauge", Kind::GaugePressure),
        ("4.2 MPa", "4.2", "MPa", Kind::Plain),
    ] {
        let (value, unit) = (value_of(expr), Unit::parse(unit).expect(unit));
        assert_eq!(value.dimension, unit.dimension, "dimension of {expr}");
        assert_eq!(value.kind, kind, "kind of {expr}");
        assert_eq!(value.value, unit.to_si(&rational(number)), "value of {expr}");
    }
    assert_eq!(value_of("1.5 * meop").text, "6 MPa gauge");
    assert_eq!(value_of("meop").text, "4.0 MPa gauge");
    assert!(!value_of("1 rev + 1 deg").exact);
}

#[test]
fn torque_times_angle_is_work_and_times_angular_velocity_power() {
    // 10 N·m through 90° is 5π J; 2 N·m at 3000 rpm is 628.318… W.
    let work = value_of("10 N*m * 90 deg");
    assert_eq!((work.kind, work.show_in(&Unit::parse("J").expect("J"))), (Kind::Energy, "15.708 J".to_owned()));
    assert!((work.si_f64() - 15.707_963_267_948_966).abs() < 1e-12);
    let power = value_of("2 N*m * 3000 rpm");
    assert_eq!(power.kind, Kind::Power);
    assert!((power.si_f64() - 628.318_530_717_958_7).abs() < 1e-9);
}

#[test]
fn what_makes_no_sense_is_refused_at_its_place() {
    for (expr, range, message) in [
        ("3 m + 2 s", 4..5, "cannot be added"),
        ("20 degC + 5 degC", 8..9, "two temperatures"),
        ("2 * 20 degC", 2..3, "temperature scale"),
        ("meop + meop", 5..6, "cannot be added"),
        ("meop * 2 m", 5..6, "gauge pressure"),
        ("3 N*m + 2 J", 6..7, "cannot be added"),
        ("50 Hz + 10 rad/s", 6..7, "cannot be added"),
        ("1 W + 1 Pa*m^3/s", 4..5, "cannot be added"),
        ("5 lbm + 3 lbf", 6..7, "cannot be added"),
        ("torque + 3", 7..8, "cannot be added"),
        ("1 m / (3 s - 3 s)", 4..5, "divides by zero"),
        ("1.5 * mepo", 6..10, "no parameter `mepo`"),
        ("1.5 * ", 6..6, "ends too early"),
        ("(meop", 0..1, "not closed"),
        ("meop)", 4..5, "not expected"),
        ("meop meop", 5..9, "not expected"),
        ("2 * 5 furlongg", 6..14, "not a known unit"),
        ("meop ^ 2", 5..6, "not expected"),
        ("meop ± 1 MPa", 5..7, "not expected"),
        ("5 N * m", 6..7, "both a unit and a parameter"),
        ("(1.32 ± 0.08) N·m (k=0)", 20..25, "positive"),
        ("1.5 * TBD", 0..9, "still to be decided"),
        ("", 0..0, "no quantity"),
    ] {
        let error = error_of(expr);
        assert!(error.message.contains(message), "{expr}: {}", error.message);
        assert_eq!(error.range, range, "{expr}: {}", error.message);
        assert!(!error.help.is_empty(), "{expr}");
    }
    assert!(error_of("5 lb").help.contains("lbm"), "an error in a single quantity is that of the quantity");
}

#[test]
fn names_are_listed_once_and_in_order() {
    assert_eq!(names("b * (a + b) - 5 MPa / line.factor"), ["a", "b", "line.factor"]);
    assert!(names("5 N*m").is_empty());
    assert!(names("TBD").is_empty());
    assert!(names("§").is_empty());
}

#[test]
fn hostile_expressions_end_in_an_error() {
    let nested = format!("{}1 m{}", "(".repeat(140), ")".repeat(140));
    for (expr, message) in [
        (nested, "nested too deep"),
        (format!("{}meop", "-".repeat(290)), "nested too deep"),
        (vec!["1e308"; 50].join("*"), "more than a thousand digits"),
        (vec!["9e-308"; 42].join("/"), "more than a thousand digits"),
        (format!("1 {}", vec!["ppm^30"; 40].join("*")), "too large an exponent"),
        (format!("1 {}", vec!["lbf^30"; 40].join("*")), "too large an exponent"),
        (format!("1 {}m{}", "(".repeat(140), ")".repeat(140)), "nested too deep"),
        ("1 +".repeat(150), "longer than 300 bytes"),
    ] {
        let error = error_of(&expr);
        assert!(error.message.contains(message), "{expr}: {}", error.message);
    }
}
