//! Reductions, each on a table small enough to be worked by hand.

use proptest::prelude::*;

use super::*;
use crate::quantity::{Uncertainty, parse_quantity};

const RUN: &str = "time [s],torque [N·m],angle [deg],p [bar abs],body [degC]\n\
                   0,1.0,0,10,-180\n1,3.0,10,9,-179\n2,2.0,50,8,-178\n3,5.0,80,7,-177\n4,4.0,90,6,-176\n";

fn shown(text: &str, reduction: &Reduction) -> String {
    reduce(&table(text), reduction, None).map_or_else(
        |error| format!("{:?} {} / {}", error.place, error.message, error.help),
        |reduced| reduced.quantity.show(),
    )
}

fn between(from: &str, to: &str) -> Reduction {
    Reduction { from: Some(from.to_owned()), to: Some(to.to_owned()), ..Reduction::new(Reduce::TimeBetween) }
}

fn at(column: &str, time: &str) -> Reduction {
    Reduction { at: Some(time.to_owned()), ..of(column, Reduce::Value) }
}

#[test]
fn each_reduction_by_hand() {
    let cases = [
        (of("torque", Reduce::Min), "1 N·m"),
        (of("torque", Reduce::Max), "5 N·m"),
        (of("torque", Reduce::First), "1 N·m"),
        (of("torque", Reduce::Last), "4 N·m"),
        (of("torque", Reduce::Range), "4 N·m"),
        (of("torque", Reduce::Median), "3 N·m"),
        // √(((−2)² + 0 + (−1)² + 2² + 1²) / 4)
        (of("torque", Reduce::Sd), "1.58114 N·m"),
        (of("body", Reduce::Range), "4 delta_degC"),
        (of("body", Reduce::Median), "-178 degC"),
        (at("torque", "2.5 s"), "3.5 N·m"),
        (at("torque", "500 ms"), "2 N·m"),
        (at("body", "3 s"), "-177 degC"),
        // (1+3)/2 + (3+2)/2 + (2+5)/2 + (5+4)/2
        (of("torque", Reduce::Integral), "12.5 N·m·s"),
        // From 5 deg at 0.5 s to 85 deg at 3.5 s.
        (between("angle > 5 deg", "angle > 85 deg"), "3 s"),
        (between("angle > 5 deg", "p < 6.5 bar abs"), "3 s"),
    ];
    for (reduction, expected) in cases {
        assert_eq!(shown(RUN, &reduction), expected, "{reduction:?}");
    }
}

#[test]
fn a_straight_fall_has_a_slope_without_doubt() {
    let reduced = reduce(&table(RUN), &of("p", Reduce::Rate), None).expect("a rate");
    assert_eq!(reduced.quantity.show(), "-1 bar/s");
    assert_eq!((reduced.quantity.uncertainty, reduced.quantity.approximate), (None, false));
    let body = reduce(&table(RUN), &of("body", Reduce::Rate), None).expect("a rate");
    assert_eq!(body.quantity.value, Rational::one(), "one kelvin a second: {}", body.quantity.show());
}

/// A mean has the standard uncertainty of n independent rows, and their degrees of freedom.
#[test]
fn a_mean_knows_its_uncertainty() {
    let reduced = reduce(&table(RUN), &of("torque", Reduce::Mean), None).expect("a mean");
    assert_eq!(reduced.quantity.value, Rational::from_integer(3.into()));
    let uncertainty = reduced.quantity.uncertainty.expect("five rows");
    assert_eq!(uncertainty.standard, Rational::new(1.into(), 2.into()).square_root(), "√(2.5 / 5)");
    assert_eq!(uncertainty.freedom, Some(Rational::from_integer(4.into())));
    // JCGM 100:2008, table G.2: 2.87 for 4 degrees of freedom at 95.45 %.
    let factor = (uncertainty.expanded / uncertainty.standard).to_f64().expect("finite");
    assert!((factor - 2.87).abs() <= 0.005, "{factor}");
    let one = reduce(&table("y [m]\n2\n"), &of("y", Reduce::Mean), None).expect("a mean of one");
    assert_eq!(one.quantity.uncertainty, None);
}

#[test]
fn an_instrument_adds_to_what_there_is() {
    let instrument = Uncertainty::from_standard(Rational::new(1.into(), 2.into()));
    let max = reduce(&table(RUN), &of("torque", Reduce::Max), None).expect("a maximum");
    assert_eq!(combine(&max.quantity, &instrument).uncertainty, Some(instrument.clone()));
    let mean = reduce(&table(RUN), &of("torque", Reduce::Mean), None).expect("a mean");
    let both = combine(&mean.quantity, &instrument).uncertainty.expect("two of them");
    let standard = both.standard.to_f64().expect("finite");
    assert!((standard - 0.75f64.sqrt()).abs() < 1e-15, "√(0.5 + 0.25): {standard}");
    // Welch and Satterthwaite: 0.75² / (0.5² / 4) = 9.
    let freedom = both.freedom.and_then(|freedom| freedom.to_f64()).expect("finite");
    assert!((freedom - 9.0).abs() < 1e-12, "{freedom}");
}

#[test]
fn a_result_says_where_it_comes_from() {
    let reduction = Reduction { where_: Some("time < 2.5 s".to_owned()), ..of("torque", Reduce::Max) };
    let reduced = reduce(&table(RUN), &reduction, None).expect("a maximum");
    let [mark] = &reduced.marks[..] else { panic!("one mark: {:?}", reduced.marks) };
    assert_eq!((mark.what, mark.row, mark.line), ("max", 1, 3));
    assert_eq!(mark.time.as_ref().map(|time| time.show()), Some("1 s".to_owned()));
    assert_eq!(reduced.rows.first(), Some(&(0..3)));
    assert_eq!(reduced.rows.len(), 1);
    let travel = reduce(&table(RUN), &between("angle > 5 deg", "angle > 85 deg"), None).expect("a travel time");
    let times: Vec<_> = travel.marks.iter().map(|mark| mark.time.as_ref().map(|time| time.show())).collect();
    assert_eq!(times, [Some("0.5 s".to_owned()), Some("3.5 s".to_owned())]);
}

#[test]
fn a_median_of_neighbours_takes_out_a_spike() {
    let text = "t [s],y [m]\n0,1\n1,2\n2,99\n3,3\n4,4\n";
    let smoothed = |smooth| Reduction { smooth, ..of("y", Reduce::Max) };
    assert_eq!(shown(text, &smoothed(None)), "99 m");
    assert_eq!(shown(text, &smoothed(Some(3))), "4 m");
    for (smooth, message) in [(4, "odd number"), (0, "odd number"), (7, "only 5 count"), (1003, "odd number")] {
        assert!(shown(text, &smoothed(Some(smooth))).contains(message), "{smooth}");
    }
}

#[test]
fn cycles_are_counted_once_each() {
    let mut text = "t [s],angle [deg]\n".to_owned();
    let angles = [45, 0, 1, 90, 89, 90, 3, 45, 1, 90, 45, 90, 0, 90];
    for (t, angle) in angles.iter().enumerate() {
        text.push_str(&format!("{t},{angle}\n"));
    }
    let count = |from: &str, to: &str| {
        shown(
            &text,
            &Reduction { from: Some(from.to_owned()), to: Some(to.to_owned()), ..Reduction::new(Reduce::Cycles) },
        )
    };
    // At 90 after 1, after 1 again, after 0; 3 and 45 are neither end.
    assert_eq!(count("angle < 2 deg", "angle > 88 deg"), "3");
    assert_eq!(count("angle < -1 deg", "angle > 88 deg"), "0");
    assert!(count("angle < 50 deg", "angle > 40 deg").contains("both hold on line 2"));
}

#[test]
fn what_cannot_be_reduced_says_why() {
    let twice = "t [s],y [m]\n0,1\n1,2\n1,3\n2,4\n";
    let back = "t [s],y [m]\n0,1\n2,2\n1,3\n";
    let gap = "t [s],y [m]\n0,1\n1,\n2,3\n";
    let two = "t [s],u [s],y [m]\n0,0,1\n1,1,2\n";
    let whered = |condition: &str, mut reduction: Reduction| {
        reduction.where_ = Some(condition.to_owned());
        reduction
    };
    let timed = |time: &str, mut reduction: Reduction| {
        reduction.time = Some(time.to_owned());
        reduction
    };
    let cases: Vec<(&str, Reduction, &str)> = vec![
        (RUN, of("torqe", Reduce::Max), r#"Key("column", 0..5) there is no column `torqe` / did you mean `torque`?"#),
        (RUN, Reduction::new(Reduce::Max), r#"Key("reduce", 0..3) `max` needs `column`"#),
        (RUN, of("torque", Reduce::Value), r#"Key("reduce", 0..5) `value` needs `at`"#),
        (
            RUN,
            Reduction { at: Some("1 s".into()), ..of("torque", Reduce::Max) },
            r#"Key("at", 0..3) `at` plays no part in `max`"#,
        ),
        (RUN, at("torque", "9 s"), r#"Key("at", 0..3) this time is outside: the rows that count are of 0 s to 4 s"#),
        (RUN, at("torque", "9 K"), r#"Key("at", 0..3) column `time` is time in `s`, and `9 K` is a temperature"#),
        (
            RUN,
            whered("time != 2 s", at("torque", "1.5 s")),
            r#"Key("where", 0..0) the rows between lines 3 and 5 do not count"#,
        ),
        (
            RUN,
            whered("time != 2 s", of("torque", Reduce::Integral)),
            r#"Key("where", 0..0) the rows between lines 3 and 5"#,
        ),
        (
            RUN,
            whered("time = 1 s", of("torque", Reduce::Sd)),
            r#"Key("column", 0..6) a standard deviation needs 2 rows or more, and 1"#,
        ),
        (RUN, whered("time = 1 s", of("torque", Reduce::Rate)), r#"Key("column", 0..6) a rate needs 2 rows or more"#),
        (RUN, of("body", Reduce::Integral), r#"Key("column", 0..4) column `body` over time: "#),
        (RUN, timed("angle", of("torque", Reduce::Max)), r#"Key("time", 0..5) column `angle` is an angle, not a time"#),
        (
            RUN,
            between("angle >= 0 deg", "angle > 88 deg"),
            r#"Key("from", 0..14) this holds already in the first row, on line 2"#,
        ),
        (
            RUN,
            between("angle > 5 deg", "angle > 95 deg"),
            r#"Key("to", 0..14) this never begins to hold after `from`; the most is 90 deg"#,
        ),
        (
            RUN,
            between("angle > 95 deg", "angle > 5 deg"),
            r#"Key("from", 0..14) this never begins to hold; the most is 90 deg"#,
        ),
        (
            RUN,
            between("angle = 10 deg", "angle > 95 deg"),
            r#"Key("from", 0..14) when this begins to hold cannot be said"#,
        ),
        (twice, at("y", "1 s"), r#"Key("at", 0..3) 2 rows with different values are of this time"#),
        (back, of("y", Reduce::Last), "Cell { line: 4, column: 1 } time runs backwards: `1 s` follows `2 s` of line 3"),
        (back, of("y", Reduce::Max), "3 m"),
        (gap, of("y", Reduce::Max), "Cell { line: 3, column: 3 } `y` has a gap here, in a row that counts"),
        (gap, whered("t != 1 s", of("y", Reduce::Max)), "3 m"),
        (two, of("y", Reduce::Max), "2 m"),
        (
            two,
            of("y", Reduce::Rate),
            r#"Key("time", 0..0) more than one column may be the time / write `time = …` with one of `t`, `u`"#,
        ),
        (two, timed("u", of("y", Reduce::Rate)), "1 m/s"),
        ("y [m]\n1\n", of("y", Reduce::Rate), r#"Key("time", 0..0) no column holds the time"#),
        ("y,z\na,1\n", of("y", Reduce::Max), r#"Key("column", 0..1) column `y` holds no numbers"#),
    ];
    for (text, reduction, expected) in cases {
        let found = shown(text, &reduction);
        assert!(found.starts_with(expected), "{reduction:?}\nfound    {found}\nexpected {expected}");
    }
}

/// Worked by hand: about (2, 3) the points of x = 0, 1, 2, 3, 4 lie at y − 3 = −1, −1, 0, 1, 1 and the slope is 6/10; what is left is 4 − 36/10 = 0.4, on
/// three degrees of freedom, and at x = 12 the variance is 0.4/3·(1/5 + 100/10).
#[test]
fn a_line_is_read_where_it_is_asked() {
    let text = "T [degC],y [mm]\n3,4\n0,2\n4,4\n1,2\n2,3\n";
    let ask = |reduce, at: Option<&str>| Reduction {
        against: Some("T".to_owned()),
        at: at.map(str::to_owned),
        ..of("y", reduce)
    };
    let fitted = |at: &str| reduce(&table(text), &ask(Reduce::Fit, Some(at)), None).expect("a value").quantity;
    assert_eq!(fitted("2 degC").value, parse_quantity("3 mm").expect("a length").value);
    let beyond = fitted("285.15 K");
    assert_eq!(beyond.value, parse_quantity("9 mm").expect("a length").value);
    let uncertainty = beyond.uncertainty.expect("five rows");
    assert_eq!(uncertainty.freedom, Some(Rational::from_integer(3.into())));
    let square = uncertainty.standard.to_f64().expect("finite").powi(2);
    assert!((square / (0.4e-6 / 3.0 * 10.2) - 1.0).abs() < 1e-12, "{square}");
    assert_eq!(shown(text, &ask(Reduce::Rate, None)).split(" ±").next(), Some("0.60"));
    // The rows need no order; a time does.
    let in_time = "t [s],y [mm]\n3,4\n0,2\n4,4\n";
    let in_order = Reduction { at: Some("1 s".to_owned()), ..of("y", Reduce::Fit) };
    assert!(reduce(&table(in_time), &in_order, None).expect_err("out of order").message.contains("backwards"));
    for (wrong, said) in [
        (Reduction { against: Some("T".to_owned()), ..of("y", Reduce::Mean) }, "plays no part in `mean`"),
        (Reduction { time: Some("T".to_owned()), ..ask(Reduce::Rate, None) }, "both are there"),
        (Reduction { smooth: Some(3), ..ask(Reduce::Rate, None) }, "smoothed over time"),
        (Reduction { against: Some("p".to_owned()), ..of("y", Reduce::Rate) }, "no column"),
        (ask(Reduce::Fit, Some("3 s")), "is time"),
        (ask(Reduce::Fit, None), "needs `at`"),
    ] {
        let error = reduce(&table(text), &wrong, None).expect_err(said);
        assert!(error.message.contains(said) && !error.help.is_empty(), "{error:?}");
    }
}

/// Times of day are times as any other.
#[test]
fn instants_serve_as_time() {
    let text = "clock,p [bar abs]\n2026-03-14T23:59:59Z,10\n2026-03-15T00:00:00Z,9.5\n2026-03-15T00:00:01Z,9\n";
    assert_eq!(shown(text, &of("p", Reduce::Rate)), "-0.5 bar/s");
    assert_eq!(shown(text, &at("p", "2026-03-15T00:00:00.5Z")), "9.25 bar abs");
    assert_eq!(shown(text, &at("p", "1.5 s")), "9.25 bar abs");
}

/// Sizes so far apart that they cannot be added in words are still added exactly.
#[test]
fn sums_do_not_lose_small_numbers() {
    let text = "y\n1e40\n1e-40\n-1e40\n";
    let mean = reduce(&table(text), &of("y", Reduce::Mean), None).expect("a mean");
    let third = parse_quantity("1e-40").expect("a number").value / Rational::from_integer(3.into());
    assert_eq!(mean.quantity.value, third);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    /// The same data in other units gives the same quantity, exactly.
    #[test]
    fn units_do_not_matter(values in prop::collection::vec((1i64..1000, -9999i64..9999), 3..30), smooth: bool) {
        let (mut metres, mut millimetres) = ("t [s],y [m]\n".to_owned(), "t [min];y [mm]\n".to_owned());
        let mut t = 0;
        for (step, y) in &values {
            t += step * 3;
            metres.push_str(&format!("{t},{}\n", *y as f64 / 1000.0));
            // A sixtieth of three is a twentieth.
            millimetres.push_str(&format!("{}.{:02};{y}\n", t / 3 / 20, t / 3 % 20 * 5));
        }
        for (_, kind) in Reduce::WORDS {
            if matches!(kind, Reduce::TimeBetween | Reduce::Cycles | Reduce::Value | Reduce::Fit) {
                continue;
            }
            let reduction = Reduction { smooth: smooth.then_some(3), ..of("y", kind) };
            let (a, b) = (reduce(&table(&metres), &reduction, None), reduce(&table(&millimetres), &reduction, None));
            let (a, b) = (a.expect("it can be reduced").quantity, b.expect("this too").quantity);
            let near = |a: &Rational, b: &Rational| (a - b).abs() <= a.abs() * Rational::new(1.into(), 10i64.pow(18).into());
            prop_assert!(near(&a.value, &b.value), "{:?}: {} and {}", kind, a.show(), b.show());
            prop_assert_eq!(a.dimension, b.dimension);
            prop_assert_eq!(a.kind, b.kind);
            match (&a.uncertainty, &b.uncertainty) {
                (Some(a), Some(b)) => prop_assert!(near(&a.standard, &b.standard)),
                (a, b) => prop_assert_eq!(a, b),
            }
        }
    }

    /// Where the order of rows does not matter, another order gives the same; where it matters, it is refused.
    #[test]
    fn order_of_rows(values in prop::collection::vec(-9999i64..9999, 2..30), turn in 1usize..29) {
        let turn = turn % values.len();
        prop_assume!(turn != 0);
        let rows: Vec<String> = values.iter().enumerate().map(|(t, y)| format!("{t},{y}\n")).collect();
        let straight = format!("t [s],y [m]\n{}", rows.concat());
        let turned = format!("t [s],y [m]\n{}{}", rows[turn..].concat(), rows[..turn].concat());
        for (_, kind) in Reduce::WORDS {
            if matches!(kind, Reduce::TimeBetween | Reduce::Cycles | Reduce::Value | Reduce::Fit) {
                continue;
            }
            let (a, b) = (reduce(&table(&straight), &of("y", kind), None), reduce(&table(&turned), &of("y", kind), None));
            if kind.needs_order() {
                let at_the_time = matches!(b.expect_err("time runs backwards").place, Place::Cell { column: 1, .. });
                prop_assert!(at_the_time);
            } else {
                prop_assert_eq!(a.expect("a result").quantity, b.expect("a result").quantity);
            }
        }
    }

    /// The moving median is the middle of the window, sorted anew for every row.
    #[test]
    fn moving_medians_by_brute_force(values in prop::collection::vec(-5i64..5, 1..40), half in 0usize..6) {
        prop_assume!(2 * half < values.len());
        let decimals: Vec<cells::Decimal> = values.iter().map(|digits| cells::Decimal { digits: *digits, power: 0 }).collect();
        let found: Vec<i64> = select::moving_median(&decimals, half).iter().map(|value| value.digits).collect();
        let expected: Vec<i64> = (0..values.len()).map(|i| {
            let reach = half.min(i).min(values.len() - 1 - i);
            let mut window = values[i - reach..=i + reach].to_vec();
            window.sort_unstable();
            window[reach]
        }).collect();
        prop_assert_eq!(found, expected);
    }
}
