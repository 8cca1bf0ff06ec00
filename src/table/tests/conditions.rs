//! Conditions on rows.

use super::*;
use crate::quantity::parse_quantity;

const TEXT: &str = "time [s],body [K],torque [N·m],p [bar gauge],seat temp [degC],valve\n\
                    0,90,1.5,5,-180,0\n1,95,2.5,6,-178,1\n2,100,,7,-170,1\n";

/// The rows that meet a condition.
fn rows(condition: &str) -> Result<Vec<usize>, ReduceError> {
    let reduction = Reduction { where_: Some(condition.to_owned()), ..of("time", Reduce::Last) };
    let ambient = parse_quantity("1.01325 bar abs").expect("a pressure");
    reduce(&table(TEXT), &reduction, Some(&ambient)).map(|reduced| reduced.rows.into_iter().flatten().collect())
}

#[test]
fn rows_are_held_against_quantities() {
    let cases: &[(&str, &[usize])] = &[
        ("body < 95 K", &[0]),
        ("body <= 95 K", &[0, 1]),
        ("body ≤ -178.15 degC", &[0, 1]),
        ("body>=95K", &[1, 2]),
        ("body = 95 K", &[1]),
        ("body == 95 K", &[1]),
        ("body != 95 K", &[0, 2]),
        ("not body = 95 K", &[0, 2]),
        ("valve = 1", &[1, 2]),
        ("p > 5.5 bar gauge", &[1, 2]),
        ("p > 0.8 MPa abs", &[2]),
        ("seat temp > -179 degC", &[1, 2]),
        ("\"seat temp\" > -179 degC and valve = 1", &[1, 2]),
        ("`seat temp` > 100 K", &[2]),
        ("body < 92 K or body > 98 K", &[0, 2]),
        ("body < 92 K or body > 92 K and body < 98 K", &[0, 1]),
        ("(body < 92 K or body > 92 K) and (body < 98 K)", &[0, 1]),
        ("not (body < 92 K or body > 98 K)", &[1]),
        ("time > 500 ms", &[1, 2]),
    ];
    for (condition, expected) in cases {
        assert_eq!(rows(condition).unwrap_or_else(|error| panic!("{condition}: {error:?}")), *expected, "{condition}");
    }
}

/// A gap matters only where nothing else decides, whichever side it stands on.
#[test]
fn gaps_in_conditions() {
    for condition in ["torque > 2 N·m and body < 98 K", "body < 98 K and torque > 2 N·m"] {
        assert_eq!(rows(condition).expect("the gap is excluded"), [1]);
    }
    assert_eq!(rows("torque > 2 N·m or body > 98 K").expect("the gap does not matter"), [1, 2]);
    let error = rows("torque > 2 N·m").expect_err("the gap decides");
    assert_eq!(error.place, Place::Cell { line: 4, column: 7 });
}

#[test]
fn what_is_refused_says_which_bytes() {
    let cases = [
        ("bdy < 95 K", 0..3, "there is no column `bdy`"),
        ("body < 95 N", 7..11, "column `body` is a temperature in `K`, and `95 N` is force"),
        ("valve = 1 N", 8..11, "column `valve` is a plain number, and `1 N` is force"),
        ("body 95 K", 0..9, "there is no column `body 95 K`"),
        ("body <", 6..6, "there is no quantity here"),
        ("body < 95 K and", 15..15, "expected the name of a column"),
        ("(body < 95 K", 0..12, "this bracket is not closed"),
        ("body < 95 K)", 11..12, "this closes no bracket"),
        ("90 K < body", 0..4, "there is no column `90 K`"),
        ("90 K < body < 95 K", 0..4, "there is no column `90 K`"),
        ("body > 90 K < 95 K", 12..13, "a second sign stands in this comparison"),
        ("body < 95 ± 1 K", 7..16, "a value that rows are held against has no uncertainty"),
        ("body < 1,5 K", 7..10, "a comma is not read as a decimal sign"),
        ("body < 10 K", 0..11, "no row of 3 meets this condition"),
        ("note = 1", 0..4, "there is no column `note`"),
    ];
    for (condition, range, message) in cases {
        let error = rows(condition).expect_err(condition);
        assert_eq!((error.place, error.message.as_str()), (Place::Key("where", range), message), "{condition}");
        assert!(!error.help.is_empty(), "{condition}");
    }
    assert!(rows(&"(".repeat(100)).is_err());
    assert!(rows(&"not ".repeat(400)).is_err());
}

#[test]
fn gauge_and_absolute_meet_only_through_the_ambient_pressure() {
    let reduction = Reduction { where_: Some("p > 0.8 MPa abs".to_owned()), ..of("time", Reduce::Last) };
    let error = reduce(&table(TEXT), &reduction, None).expect_err("no ambient pressure");
    assert!(error.help.contains("ambient"), "{error:?}");
}

#[test]
fn instants_are_held_against_instants_and_times() {
    let table = table("clock,y\n2026-03-14T10:00:00Z,1\n2026-03-14T10:00:01Z,2\n2026-03-14T10:00:02Z,3\n");
    for condition in ["clock > 2026-03-14T10:00:00.5Z", "clock > 2026-03-14T11:00:00.5+01:00", "clock > 0.5 s"] {
        let reduction = Reduction { where_: Some(condition.to_owned()), ..of("y", Reduce::Min) };
        let reduced = reduce(&table, &reduction, None).expect(condition);
        assert_eq!(reduced.rows.into_iter().flatten().collect::<Vec<_>>(), [1, 2], "{condition}");
    }
}
