//! How units are written, and what is refused. The factors are held against what is published in `tests/published`.

use super::super::catalogue::catalogue;
use super::super::{Kind, Unit};
use super::{quantity, rational, refused};

/// Temperature points; the formulas are those of SP 811, the values worked out in exact fractions.
#[test]
fn temperature_points_convert_exactly() {
    for (from, kelvin) in [
        ("0 degC", "273.15"),
        ("32 degF", "273.15"),
        ("212 degF", "373.15"),
        ("-40 °C", "233.15"),
        ("-40 °F", "233.15"),
        ("-459.67 degF", "0"),
        ("-320 degF", "13967/180"),
        ("491.67 degR", "273.15"),
        ("68 degF", "293.15"),
        ("70 degF", "52967/180"),
        ("-297.3 degF", "16237/180"),
        ("90.188 K", "90.188"),
    ] {
        let point = quantity(from);
        assert_eq!(point.value, rational(kelvin), "{from}");
        assert_eq!(point.kind, Kind::TemperaturePoint, "{from}");
    }
    assert_eq!(quantity("77.355 K").show_in(&Unit::parse("degF").expect("degF")), "-320.431 degF");
    assert_eq!(quantity("9 delta_degF").value, rational("5"));
}

#[test]
fn symbols_that_are_read_in_two_ways_are_refused_with_what_to_write() {
    for (text, write) in [
        ("5 lb", "`lbm` or `lbf`"),
        ("3 oz", "`ozm`, `ozf` or `floz_us`"),
        ("2 gal", "`gal_us` or `gal_uk`"),
        ("1 ton", "`ton_short`, `ton_long` or `t`"),
        ("100 cal", "`cal_th` or `cal_IT`"),
        ("1 BTU", "`BTU_IT` or `BTU_th`"),
        ("1 hp", "`hp_mech`, `hp_metric` or `hp_elec`"),
        ("10 slpm", "`mol/s`"),
        ("10 scfm", "`mol/s`"),
        ("1e-6 scc/s", "`atm*cm^3/s`"),
        ("1 Nm", "`N·m` or `nm`"),
        ("5 ft*lb", "`lbf`"),
        ("1 year", "`d`"),
    ] {
        let error = refused(text);
        assert!(error.message.contains("ambiguous"), "{text}: {}", error.message);
        assert!(error.help.contains(write), "{text}: {}", error.help);
    }
}

#[test]
fn a_symbol_that_is_not_known_is_answered_with_the_nearest() {
    for (text, near) in [
        ("3 MM", "`mm`"),
        ("5 mL/mn", "`min`"),
        ("4 Mpa", "`MPa`"),
        ("4 PSI", "`psi`"),
        ("4 kelvin", "SI unit"),
        ("4 psgi", "`psig`"),
    ] {
        let error = refused(text);
        assert!(error.help.contains(near), "{text}: {}", error.help);
    }
    assert_eq!(refused("12 N·mn").range, 6..8, "the range is that of the wrong symbol");
}

#[test]
fn compound_units_are_read_as_they_are_written() {
    for (written, same) in [
        ("1 N·m", "1 N*m"),
        ("1 N m", "1 N*m"),
        ("1 N.m", "1 N*m"),
        ("1 lbf-in", "1 lbf*in"),
        ("1 in-lbf", "1 lbf*in"),
        ("1 m/s²", "1 m/s^2"),
        ("1 m/s/s", "1 m/s^2"),
        ("1 m s-2", "1 m/s^2"),
        ("1 m·s⁻²", "1 m/s^2"),
        ("1 kg·m^-1", "1 kg/m"),
        ("1 W/(m·K)", "1 W/(m*degC)"),
        ("10 kgf/cm2", "9.80665 bar"),
        ("10 kN/mm", "1e7 N/m"),
        ("1 mm^3", "1e-9 m^3"),
        ("30 1/s", "30 s^-1"),
        ("60 1/min", "1 s^-1"),
        ("1 V*A", "1 W"),
        ("1 W*s", "1 J"),
        ("6 MPa(g)", "6 MPag"),
        ("10 slpm(0 degC, 101.325 kPa)", "10 SLPM(273.15 K,1 atm)"),
        ("10 slpm(32 degF, 1 atm abs)", "10000 sccm(0 degC, 1 atm)"),
        ("1 scc(0 degC, 1 atm)/s", "60 sccm(0 degC, 1 atm)"),
        ("1 kg/scf(60 degF, 14.696 psi)", "1 (kg/min)/scfm(60 degF, 14.696 psi)"),
        ("5 Ω", "5 V/A"),
        ("1 µm", "1 um"),
        ("2 L", "2 l"),
    ] {
        assert_eq!(quantity(written).canonical(), quantity(same).canonical(), "{written} against {same}");
    }
    assert_ne!(quantity("1 mW").value, quantity("1 MW").value);
    assert_ne!(quantity("1 S").dimension, quantity("1 s").dimension);
    assert_ne!(quantity("1 mmHg").value, quantity("1 Torr").value);
}

#[test]
fn units_that_could_mean_two_things_are_refused() {
    assert!(refused("1 W/m·K").help.contains("`W/(m·K)`"), "{}", refused("1 W/m·K").help);
    for text in [
        "1 psig/s",
        "1 N·",
        "1 /s",
        "1 m^",
        "1 m^0",
        "1 m^99",
        "1 (m",
        "1 m)",
        "1 MPa gauge gauge",
        "1 N gauge",
        "1 mm^(1/2)",
        "20 deg C",
        "20 ° F",
        "6 bar g",
        "6 MPa a",
    ] {
        refused(text);
    }
}

/// The coherent unit of a dimension that has a name is written so that it is read as that.
#[test]
fn the_coherent_unit_of_every_named_dimension_is_read_back() {
    let mut named = 0;
    for (dimension, name, symbol) in super::super::dimension::NAMES {
        let unit = Unit::parse(symbol).unwrap_or_else(|error| panic!("{name}: {error}"));
        assert_eq!((unit.dimension, &unit.factor), (dimension, &rational("1")), "{name}");
        named += 1;
    }
    assert!(named > 30);
}

#[test]
fn what_is_proposed_instead_of_a_refused_symbol_is_a_unit() {
    let mut proposals = 0;
    for proposal in catalogue().proposals() {
        assert!(Unit::parse(proposal).is_ok(), "{proposal}");
        proposals += 1;
    }
    assert!(proposals > 20);
}

/// The cheap question gives the answer of the reader, for what is a unit and for what is not.
#[test]
fn is_unit_says_what_the_reader_says() {
    let mut texts: Vec<String> = catalogue().written();
    for text in [
        "",
        "bar(g)",
        "MPa gauge",
        "kPa (abs)",
        "psi differential",
        "W/(m·K)",
        "m^(1/2)",
        "cm2",
        "1/s",
        "slpm",
        "slpm(0 degC, 1 bar abs)",
        "slpm(0 q, 1 bar)",
        "detan2(1 m, 2 m)",
        "m(m)",
        "N·",
        "6 bar",
        "bar gauge gauge",
        "deg C",
        "µm²",
        "in-lbf",
        "furlong/s",
        "m/s/q",
        "gauge",
    ] {
        texts.push(text.to_owned());
    }
    for text in &texts {
        assert_eq!(Unit::is_unit(text), Unit::parse(text).is_ok(), "{text}");
    }
}
