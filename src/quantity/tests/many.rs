//! What trials and samples show. The factors and limits themselves are held against published ones in tests/published.

use proptest::prelude::*;

use super::super::{Conformity, Limits, Quantity, Rational, Sample, Tally, Why};
use super::{quantity, rational};

fn tally(text: &str) -> Tally {
    Tally::parse(text).expect(text)
}

#[test]
fn a_tally_is_so_many_of_so_many() {
    assert_eq!(tally("59 of 59"), Tally { successes: 59, trials: 59 });
    assert_eq!(tally(" 0of 7 "), Tally { successes: 0, trials: 7 });
    for text in [
        "59",
        "of",
        "59 of",
        "60 of 59",
        "-1 of 5",
        "5.0 of 5",
        "5 of 5 of 5",
        "+5 of 5",
        "five of 5",
        "99999999999999999999 of 5",
    ] {
        assert_eq!(Tally::parse(text), None, "{text}");
    }
}

#[test]
fn trials_show_a_reliability_or_the_contrary_or_too_little() {
    let few = Conformity::Inconclusive(Why::TooFewTrials);
    for (text, reliability, confidence, expected, further) in [
        ("59 of 59", "0.95", "0.95", Conformity::Met, Some(0)),
        ("58 of 58", "0.95", "0.95", few.clone(), Some(1)),
        ("58 of 59", "0.95", "0.95", few.clone(), Some(34)),
        ("92 of 93", "0.95", "0.95", Conformity::Met, Some(0)),
        ("0 of 0", "0.95", "0.95", few.clone(), Some(59)),
        ("50 of 59", "0.95", "0.95", Conformity::NotMet, Some(252)),
        // Both lines are inside: 1 − 0.5 is the confidence, exactly.
        ("1 of 1", "0.5", "0.5", Conformity::Met, Some(0)),
        ("0 of 1", "0.5", "0.5", Conformity::NotMet, Some(2)),
        // So many that they are not counted out in whole numbers.
        ("3000000000 of 3000000000", "0.999999", "0.99", Conformity::Met, Some(0)),
        ("1500000000 of 3000000000", "0.999999", "0.99", Conformity::NotMet, None),
    ] {
        let (reliability, confidence) = (rational(reliability), rational(confidence));
        assert_eq!(tally(text).judge(&reliability, &confidence), expected, "{text}");
        let ours = tally(text).further(&reliability, &confidence);
        assert_eq!(ours, further, "{text}");
        if let Some(more) = ours {
            let Tally { successes, trials } = tally(text);
            let then = Tally { successes: successes + more, trials: trials + more };
            assert_eq!(then.judge(&reliability, &confidence), Conformity::Met, "{text} and {more} more");
        }
    }
}

fn sample(readings: &[&str]) -> Sample {
    Sample::of_readings(&readings.iter().map(|text| quantity(text)).collect::<Vec<_>>()).expect("a sample")
}

fn judged(sample: &Sample, min: Option<&str>, max: Option<&str>) -> Conformity {
    let limits = Limits::new(min.map(quantity), max.map(quantity));
    sample.judge(&limits, &rational("0.9"), &rational("0.95"), None).expect("one sort").0
}

#[test]
fn a_sample_is_judged_by_its_scatter() {
    // M-04: mean 1.32, s = 0.01·√5.
    let five = sample(&["1.29 N·m", "1.31 N·m", "1320 mN·m", "1.33 N·m", "1.35 N·m"]);
    assert_eq!(five.show(), "mean 1.32 N·m, s 0.0224 N·m, n 5");
    // k is 3.406 63 for five: 1.32 − 3.406 63·0.022 361 is 1.243 826.
    assert_eq!(judged(&five, Some("1.2438 N·m"), None), Conformity::Met);
    assert_eq!(judged(&five, Some("1.2439 N·m"), None), Conformity::Inconclusive(Why::Straddles));
    assert_eq!(judged(&five, None, Some("1.3962 N·m")), Conformity::Met);
    assert_eq!(judged(&five, None, Some("1.3961 N·m")), Conformity::Inconclusive(Why::Straddles));
    // With k at 5 %, the sample shows the contrary; SciPy 1.17.1: nct.ppf(0.05, 4, z·√5)/√5 = 0.518 78.
    assert_eq!(judged(&five, Some("1.3083 N·m"), None), Conformity::Inconclusive(Why::Straddles));
    assert_eq!(judged(&five, Some("1.3085 N·m"), None), Conformity::NotMet);
    // Between two limits it takes k = 4.290 604 of the nearer (by quadrature); what is outside of one is outside.
    assert_eq!(judged(&five, Some("1.2240 N·m"), Some("1.4160 N·m")), Conformity::Met);
    assert_eq!(judged(&five, Some("1.2241 N·m"), Some("9 N·m")), Conformity::Inconclusive(Why::Straddles));
    assert_eq!(judged(&five, Some("0 N·m"), Some("1.4159 N·m")), Conformity::Inconclusive(Why::Straddles));
    assert_eq!(judged(&five, Some("0 N·m"), Some("1.3315 N·m")), Conformity::NotMet);
    let equal = sample(&["5 s", "5 s", "5000 ms"]);
    assert_eq!(judged(&equal, Some("4 s"), None), Conformity::Inconclusive(Why::NoUncertainty));
    // Worked out elsewhere, and a temperature, whose deviation is a difference.
    let stated = |mean: &str, deviation: &str, count| Sample::stated(quantity(mean), &quantity(deviation), count);
    let ten = stated("-182 degC", "0.5 degC", 10).expect("a sample");
    assert_eq!(ten.show(), "mean -182 degC, s 0.5 degC, n 10");
    assert_eq!(judged(&ten, None, Some("-180.8 degC")), Conformity::Met);
    assert_eq!(judged(&ten, None, Some("92.3 K")), Conformity::Inconclusive(Why::Straddles));
    for (mean, deviation, count, message) in [
        ("1 N·m", "0.1 N·m", 1, "says nothing about its spread"),
        ("1 N·m", "0.1 J", 5, "an energy"),
        ("1 N·m", "-0.1 N·m", 5, "not negative"),
    ] {
        let error = stated(mean, deviation, count).expect_err(mean);
        assert!(error.message.contains(message), "{}", error.message);
    }
    let refuse = |readings: &[&str]| {
        Sample::of_readings(&readings.iter().map(|text| quantity(text)).collect::<Vec<_>>()).expect_err("no sample")
    };
    assert!(refuse(&["1 N·m"]).message.contains("a sample of 1"));
    assert!(refuse(&["1 N·m", "1 J"]).message.contains("energy"));
    assert!(refuse(&["1 N·m", "1 ± 0.1 N·m"]).message.contains("scatter"));
}

#[test]
fn on_the_factor_nothing_is_decided() {
    let factor = crate::statistics::one_sided_factor(10, 0.9, 0.95).expect("a factor");
    let exactly = Rational::from_f64(factor).expect("finite");
    for (share, expected) in [
        (Rational::one(), Conformity::Inconclusive(Why::OnTheLimit)),
        (rational("1.00000001"), Conformity::Met),
        (rational("0.99999999"), Conformity::Inconclusive(Why::Straddles)),
    ] {
        let mean = Quantity::computed(&exactly * share, quantity("1 s").unit, true);
        let one = Sample::stated(mean, &quantity("1 s"), 10).expect("a sample");
        assert_eq!(judged(&one, Some("0 s"), None), expected);
    }
}

proptest! {
    /// In other units the same readings come to the same.
    #[test]
    fn units_change_nothing(readings in prop::collection::vec(1_i64..100_000, 2..12), limit in 1_i64..100_000) {
        let of = |unit: &str, factor: i64| {
            let texts: Vec<String> = readings.iter().map(|own| format!("{} {unit}", own * factor)).collect();
            let sample = sample(&texts.iter().map(String::as_str).collect::<Vec<_>>());
            judged(&sample, Some(&format!("{} {unit}", limit * factor)), None)
        };
        prop_assert_eq!(of("mm", 1), of("µm", 1000));
    }

    /// One more success never takes away what was shown, and one more failure never adds to it.
    #[test]
    fn more_successes_show_no_less(successes in 0_u64..80, failures in 0_u64..6) {
        let (r, c) = (rational("0.9"), rational("0.9"));
        let judge = |successes: u64, failures: u64| Tally { successes, trials: successes + failures }.judge(&r, &c);
        if judge(successes, failures) == Conformity::Met {
            prop_assert_eq!(judge(successes + 1, failures), Conformity::Met);
        }
        if judge(successes, failures) == Conformity::NotMet {
            prop_assert_eq!(judge(successes, failures + 1), Conformity::NotMet);
        }
    }
}
