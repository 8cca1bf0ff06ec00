//! What instruments can tell. Published values name their source; the other cases are arithmetic that can be done in the head.

use proptest::prelude::*;

use super::super::{
    Capability, Conformity, InstrumentUncertainty, Limits, Quantity, Rational, Reach, Rule, Shape, judge,
};
use super::super::{parse_instrument_uncertainty, parse_range, parse_resolution};
use super::{measured, quantity, rational};

fn capability(range: &str, resolution: &str, uncertainty: &[&str]) -> Capability {
    let some = |text: &str| (!text.is_empty()).then(|| text.to_string());
    Capability {
        range: some(range).map(|text| parse_range(&text).expect("a range")),
        resolution: some(resolution).map(|text| parse_resolution(&text).expect("a resolution")),
        uncertainty: uncertainty.iter().map(|text| parse_instrument_uncertainty(text, None).expect("one")).collect(),
    }
}

fn limits(min: &str, max: &str) -> Limits {
    let end = |text: &str| (!text.is_empty()).then(|| quantity(text));
    Limits::new(end(min), end(max))
}

fn ratio(of: &Capability, min: &str, max: &str) -> f64 {
    of.ratio(&limits(min, max), None).unwrap().unwrap().to_f64().unwrap()
}

fn reach(of: &Capability, rule: &Rule, min: &str, max: &str) -> Reach {
    of.reach(rule, &limits(min, max), None).unwrap()
}

#[test]
fn ratio_is_the_measurement_capability_index_of_jcgm_106_2012_7_6() {
    // JCGM 106:2012, 7.4 and 7.6: oil viscosity, limits 12.5 and 16.3 mm²/s, u = 1.8 mm²/s: C_m = T/(4u) = 3.8/7.2.
    let oil = capability("", "", &["1.8 mm²/s (k=1)"]);
    assert!((ratio(&oil, "12.5 mm²/s", "16.3 mm²/s") - 0.527_777_777_777_777_8).abs() < 1e-15);
    // 8.2.3: U no more than a third of the greatest permissible error means C_m of three at least.
    assert_eq!(ratio(&capability("", "", &["0.1 V"]), "-0.3 V", "0.3 V"), 3.0);
}

#[test]
fn ansi_ncsl_z540_3_2006_asks_for_four_to_one() {
    // ANSI/NCSL Z540.3-2006, 5.3 b (from memory): the tolerance span over twice the expanded uncertainty is 4 at least.
    assert_eq!(ratio(&capability("", "", &["± 0.05 N·m"]), "4.8 N·m", "5.2 N·m"), 4.0);
    // A percentage counts where it is greatest, in any order of the limits.
    assert_eq!(ratio(&capability("", "", &["1 %"]), "8 N·m", "10 N·m"), 10.0);
    assert_eq!(ratio(&capability("", "", &["1 %"]), "-10 N·m", "-8 N·m"), 10.0);
    let one_sided = capability("", "", &["1 %"]).ratio(&limits("8 N·m", ""), None).unwrap();
    assert_eq!(one_sided, None);
}

#[test]
fn resolution_counts_with_029_of_a_step_by_gum_f_2_2_1() {
    // JCGM 100:2008, F.2.2.1: the standard uncertainty of a resolution δx is 0.29 δx; k = 2.
    let bare = capability("", "0.01 N·m", &[]);
    assert_eq!(bare.expanded_at(&rational("1")), rational("0.0058"));
    // 3, 4 and 5 in squares: 0.58 of a step of 3/58 N·m is 0.03 N·m.
    let step = capability("", "51.724137931034482759e-3 N·m", &["0.04 N·m"]);
    assert!((step.expanded_at(&rational("1")).to_f64().unwrap() - 0.05).abs() < 1e-15);
    // A step of a degree Celsius is a width, and no temperature.
    assert_eq!(capability("", "0.1 degC", &[]).expanded_at(&rational("300")), rational("0.058"));
}

#[test]
fn of_several_uncertainties_the_greatest_holds() {
    let meter = capability("0.1 to 200 mL/min", "", &["± 0.2 mL/min", "4 %"]);
    let at = |text: &str| {
        let reading = quantity(text);
        reading.unit.span_from_si(&meter.expanded_at(&reading.value))
    };
    assert_eq!(at("1 mL/min"), rational("0.2"));
    assert_eq!(at("100 mL/min"), rational("4"));
}

#[test]
fn a_guard_band_of_u_leaves_room_or_none_by_ilac_g8_09_2019_4_2_2() {
    // ILAC-G8:09/2019, 4.2.2 (search excerpts): accepted is what is inside by w = U. Limits 4 and 4.5.
    let good = capability("", "", &["0.25"]);
    assert_eq!(reach(&good, &Rule::Guarded, "4", "4.5"), Reach::Decides, "the middle alone");
    let poor = capability("", "", &["0.2500001"]);
    assert_eq!(reach(&poor, &Rule::Guarded, "4", "4.5"), Reach::TooUncertain(rational("0.2500001")));
    assert_eq!(reach(&poor, &Rule::Simple, "4", "4.5"), Reach::Decides, "ILAC-G8 4.2.1: w = 0");
    // A resolution alone can be too coarse: 0.58 of a step of 1 against a half width of 0.25.
    assert_eq!(reach(&capability("", "1", &[]), &Rule::Guarded, "4", "4.5"), Reach::TooUncertain(rational("0.58")));
}

#[test]
fn what_lies_outside_the_range_cannot_be_shown() {
    let gauge = capability("0 to 5 MPa gauge", "", &["0.1 MPa"]);
    assert_eq!(reach(&gauge, &Rule::Simple, "6 MPa gauge", ""), Reach::OutOfRange);
    assert_eq!(reach(&gauge, &Rule::Simple, "5 MPa gauge", ""), Reach::Decides, "the end of the range is in it");
    assert_eq!(reach(&gauge, &Rule::Guarded, "4.9 MPa gauge", ""), Reach::Decides);
    assert!(matches!(reach(&gauge, &Rule::Guarded, "4.95 MPa gauge", ""), Reach::TooUncertain(_)));
    assert!(gauge.reach(&Rule::Simple, &limits("5 MPa abs", ""), None).is_err());
    let ambient = quantity("0.1 MPa abs");
    assert_eq!(gauge.reach(&Rule::Simple, &limits("5 MPa abs", ""), Some(&ambient)), Ok(Reach::Decides));
    // A percentage is least near zero, which is in reach here.
    assert_eq!(reach(&capability("0 to 5 N·m", "", &["90 %"]), &Rule::Guarded, "", "1 N·m"), Reach::Decides);
    let negative = capability("-50 to 0 N·m", "", &["10 %"]);
    assert_eq!(reach(&negative, &Rule::Guarded, "-10 N·m", "-9 N·m"), Reach::TooUncertain(rational("0.9")));
}

#[test]
fn ranges_and_uncertainties_are_read_as_they_are_written_on_data_sheets() {
    for (text, min, max) in [
        ("0 to 5 N·m", "0 N·m", "5 N·m"),
        ("0 N·m to 5 N·m", "0 N·m", "5 N·m"),
        ("± 5 N·m", "-5 N·m", "5 N·m"),
        ("-80 to 20 degC", "-80 degC", "20 degC"),
        ("0 to 10 MPa gauge", "0 MPa gauge", "10 MPa gauge"),
        ("1e-7 to 1e-1 mbar·L/s", "1e-7 mbar·L/s", "1e-1 mbar·L/s"),
    ] {
        let range = parse_range(text).expect(text);
        let ends = [range.min, range.max].map(|end| end.map(|end| (end.value.clone(), end.kind)));
        assert_eq!(ends, [min, max].map(|end| Some((quantity(end).value, quantity(end).kind))), "{text}");
    }
    let percent = |text: &str| match parse_instrument_uncertainty(text, None) {
        Ok(InstrumentUncertainty::OfReading(fraction)) => fraction,
        other => panic!("{text}: {other:?}"),
    };
    assert_eq!(percent("1 %"), rational("0.01"));
    assert_eq!(percent("± 1 % of the reading"), rational("0.01"));
    assert_eq!(percent("1 % of reading (k=1)"), rational("0.02"));
    let size = |text: &str| capability("", "", &[text]).expanded_at(&rational("7"));
    assert_eq!(size("0.05 N·m"), rational("0.05"));
    assert_eq!(size("+/- 0.05 N·m (k=1)"), rational("0.1"));
    assert_eq!(size("± 2 degC"), rational("2"));
    assert_eq!(size("± 0.3 N·m (rectangular)"), rational("0.6") / Shape::Rectangular.half_width());
    assert!(size("± 0.05 N·m (95 %)") > rational("0.051") && size("± 0.05 N·m (95 %, nu=5)") > rational("0.051"));
    assert!(percent("± 1 % of the reading (95 %)") > rational("0.0102"));
}

#[test]
fn what_is_not_in_numbers_is_refused_with_what_to_type() {
    for text in
        ["", "about 5 N·m", "0 to 5 N·m or so", "5 to 0 N·m", "0 to TBD", "0 s to 5 N·m", "0 to 5 ± 1 N·m", "± 5 degC"]
    {
        assert!(!parse_range(text).expect_err(text).help.is_empty(), "{text}");
    }
    for text in ["", "good", "± 0.2 mL/min or ± 4 %", "1 % of full scale", "-0.1 N·m", "< 1 N·m", "± ± 1 N·m"] {
        assert!(!parse_instrument_uncertainty(text, None).expect_err(text).help.is_empty(), "{text}");
    }
    let humidity = parse_range("0 to 100 %").ok();
    let read = |text: &str| parse_instrument_uncertainty(text, humidity.as_ref());
    assert!(!read("± 2 %").expect_err("percentage points, or of the reading").help.is_empty());
    assert_eq!(read("± 2 % of the reading"), Ok(InstrumentUncertainty::OfReading(rational("0.02"))));
    for text in ["± 0.1 N·m", "fine", "-0.1 N·m", "0.1 ± 0.1 N·m", "0.1 N·m (k=2)"] {
        assert!(!parse_resolution(text).expect_err(text).help.is_empty(), "{text}");
    }
}

#[test]
fn what_an_instrument_states_must_be_of_the_sort_that_is_read() {
    let fits = |of: &Capability, unit: &str| of.fits(&quantity(&format!("1 {unit}")).unit, None);
    let torque = capability("0 to 5 N·m", "0.01 N·m", &["0.05 N·m", "1 %"]);
    assert!(fits(&torque, "lbf*in").is_ok());
    for unit in ["", "J", "s"] {
        let error = fits(&torque, unit).unwrap_err();
        assert!(!error.message.is_empty() && !error.help.is_empty(), "{unit}");
    }
    assert!(fits(&capability("", "0.01 s", &[]), "N·m").is_err());
    assert!(fits(&capability("", "", &["0.1 s"]), "N·m").is_err());
    // A pressure without a reference is the width of a gauge one; a percentage of a temperature is none.
    assert!(fits(&capability("0 to 10 MPa gauge", "1 kPa", &["0.02 MPa"]), "MPa gauge").is_ok());
    assert!(fits(&capability("", "", &["2 K"]), "degC").is_ok());
    assert!(fits(&capability("", "", &["1 %"]), "K").is_err());
}

#[test]
fn a_reading_is_completed_with_an_uncertainty_that_is_never_smaller() {
    let torque = capability("", "", &["± 0.05 N·m"]);
    for (reading, whole) in [
        ("0.83 N·m", Some("0.83 ± 0.05 N·m")),
        ("830 mN·m", Some("830 ± 50 mN·m")),
        ("0.83 ± 0.2 N·m", None),
        ("< 0.83 N·m", None),
        ("0.83 s", None),
        ("pass", None),
    ] {
        assert_eq!(torque.completed(reading).as_deref(), whole, "{reading}");
    }
    assert_eq!(capability("", "", &["1 %"]).completed("0.837 N·m").as_deref(), Some("0.837 ± 0.00837 N·m"));
    assert_eq!(capability("", "", &["1 %"]).completed("0.8371 N·m").as_deref(), Some("0.8371 ± 0.0084 N·m"));
    assert_eq!(capability("", "", &["0.02"]).completed("50 %").as_deref(), Some("(50 ± 2) %"));
    // √(0.05² + 0.0058²) is 0.05033….
    let with_step = capability("", "0.01 N·m", &["0.05 N·m"]);
    assert_eq!(with_step.completed("0.83 N·m").as_deref(), Some("0.83 ± 0.051 N·m"));
    // A resolution alone is no uncertainty that somebody stated.
    assert_eq!(capability("", "0.01 N·m", &[]).completed("0.83 N·m"), None);
    let stated = quantity("0.83 ± 0.051 N·m").uncertainty.unwrap().expanded;
    assert!(stated >= with_step.expanded_at(&rational("0.83")));
}

proptest! {
    /// Against every reading that the instrument could give, judged one by one: what is said before the run is what would come out.
    #[test]
    fn what_could_be_decided_is_what_some_reading_would_decide(
        (low, width) in (0i32..40, 0i32..40),
        (from, span) in (0i32..60, 0i32..60),
        half in 1i32..60,
        one_sided in any::<bool>(),
        rule in prop_oneof![Just(Rule::Simple), Just(Rule::Guarded)],
    ) {
        // All in quarters, so that the middle between two limits is among the readings.
        let quarter = |n: i32| format!("{} s", f64::from(n) / 4.0);
        let limits = limits(&quarter(low), &if one_sided { String::new() } else { quarter(low + 2 * width) });
        let stopwatch = capability(
            &format!("{} to {}", quarter(from), quarter(from + span)),
            "",
            &[&quarter(half)],
        );
        let met = |reading: i32| {
            let result = measured(&format!("{} ± {} s", f64::from(reading) / 4.0, f64::from(half) / 4.0));
            judge(&rule, &result, &limits, None).unwrap().0 == Conformity::Met
        };
        let some = (from..=from + span).any(met);
        prop_assert_eq!(stopwatch.reach(&rule, &limits, None).unwrap() == Reach::Decides, some);
    }

    /// A percentage is taken where it is least, so that an instrument may be let pass, and is never refused wrongly.
    #[test]
    fn an_instrument_that_could_decide_is_never_refused(
        (low, width) in (-40i32..40, 0i32..40),
        percent in 1i32..120,
        fixed in 0i32..20,
    ) {
        let limits = limits(&format!("{low} s"), &format!("{} s", low + width));
        let watch = capability("", "", &[&format!("{percent} %"), &format!("{} s", f64::from(fixed) / 4.0)]);
        let met = |quarters: i32| {
            let reading = quantity(&format!("{} s", f64::from(quarters) / 4.0));
            let expanded = watch.expanded_at(&reading.value);
            let inside = |end: &Option<std::sync::Arc<Quantity>>| {
                let distance = (&reading.value - &end.as_ref().unwrap().value).abs();
                distance >= expanded
            };
            (4 * low..=4 * (low + width)).contains(&quarters) && inside(&limits.min) && inside(&limits.max)
        };
        if (4 * low..=4 * (low + width)).any(met) {
            prop_assert_eq!(watch.reach(&Rule::Guarded, &limits, None).unwrap(), Reach::Decides);
        }
    }

    /// What is written into a reading can be read, and is never less than what the instrument has there.
    #[test]
    fn a_completed_reading_states_enough(reading in 1i64..100_000, percent in 1u32..200, step in 1i64..5_000) {
        let watch = capability("", &format!("{step}e-3 s"), &[&format!("{percent} %")]);
        let text = format!("{reading}e-2 s");
        let whole = quantity(&watch.completed(&text).unwrap());
        prop_assert_eq!(&whole.value, &quantity(&text).value);
        prop_assert!(whole.uncertainty.unwrap().expanded >= watch.expanded_at(&whole.value));
    }

    #[test]
    fn a_square_root_is_the_largest_whose_square_is_no_more(numerator in 0i64..1_000_000_000, denominator in 1i64..1_000_000) {
        let value = Rational::new(numerator.into(), denominator.into());
        let root = value.square_root();
        prop_assert!(&root * &root <= value);
        let next = &root + Rational::new(1.into(), 10_000_000_000i64.into());
        prop_assert!(&next * &next > value);
        prop_assert_eq!((&value * &value).square_root(), value);
    }
}
