//! Headers, cells, and what is refused.

use super::*;

#[test]
fn units_stand_in_square_or_round_brackets() {
    let table = table(
        "\u{feff}# logger 7\r\n#\r\n\r\ntime [s],torque (N·m),body [degC],p [bar gauge],\"flow [kg/s]\",load (left) [kN],count,ratio [-]\r\n0,1.32,-182.9,5.0,0.1,2,3,0.5\r\n",
    );
    let found: Vec<(&str, &str)> =
        table.columns().iter().map(|column| (column.name.as_str(), column.unit.symbol.as_str())).collect();
    let expected = [
        ("time", "s"),
        ("torque", "N·m"),
        ("body", "degC"),
        ("p", "bar gauge"),
        ("flow", "kg/s"),
        ("load (left)", "kN"),
        ("count", ""),
        ("ratio", ""),
    ];
    assert_eq!(found, expected);
    assert_eq!((table.rows(), table.line(0)), (1, 5));
    assert_eq!(table.cell(0, 2).map(|cell| cell.show()), Some("-182.9 degC".to_owned()));
    assert_eq!(table.column("torque").ok(), Some(1));
    assert_eq!(table.column("torque (N·m)").ok(), Some(1));
    assert_eq!(table.column(" body ").ok(), Some(2));
}

#[test]
fn semicolons_and_tabs_separate_where_no_comma_does() {
    for text in [
        "t [s];y [m]\n0;1\n1;2\n",
        "t [s]\ty [m]\n0\t1\n1\t2\n",
        "t [s],y [m]\n0,1\n1,2\n",
        "t [s], y [m] \n 0 , 1 \n1, 2\n",
    ] {
        let table = table(text);
        assert_eq!(table.cell(1, 1).map(|cell| cell.show()), Some("2 m".to_owned()), "{text:?}");
    }
}

/// What was written is what is kept: a result that is a cell has its digits.
#[test]
fn cells_are_exact() {
    let written = [
        "0.1",
        "1.32",
        "-7.5e-3",
        "+2",
        ".5",
        "5.",
        "0.30000000000000004",
        "1_000.5",
        "−3",
        "1e3",
        "100000000000000000",
    ];
    let table = table(&format!("y [m]\n{}\n", written.join("\n")));
    for (row, text) in written.iter().enumerate() {
        let plain = text.replace('_', "").replace('−', "-").replace('+', "");
        let plain = plain.strip_suffix('.').unwrap_or(&plain);
        let expected = crate::quantity::parse_number(plain).expect("a number").value;
        assert_eq!(table.cell(row, 0).expect("a cell").value, expected, "{text}");
    }
}

#[test]
fn gaps_and_texts_matter_only_to_what_meets_them() {
    let table = table("t [s],y [m],note,empty [K]\n0,1,start,\n1,,\"a, b\",\n2,NaN,3,\n");
    assert_eq!([0, 1, 2].map(|row| table.number(row, 1)), [Some(1.0), None, None]);
    assert_eq!(table.columns()[2].holds, Holds::Texts);
    assert_eq!(table.columns()[3].holds, Holds::Numbers);
}

#[test]
fn instants_count_from_the_first() {
    let table = table("clock,y\n,0\n2026-03-14T10:00:00.5Z,1\n2026-03-14 12:00:01+02:00,2\n");
    assert_eq!(table.columns()[0].holds, Holds::Instants);
    assert_eq!([0, 1, 2].map(|row| table.number(row, 0)), [None, Some(0.0), Some(0.5)]);
}

/// A line that ends with a separator, as some loggers write, is not one cell more.
#[test]
fn an_open_end_of_line_is_no_column() {
    let table = table("t [s],y [m],\n0,1,\n1,2\n");
    assert_eq!((table.columns().len(), table.rows()), (2, 2));
    assert_eq!(errors(b"t [s],y [m],\n0,1,7\n").len(), 1);
}

#[test]
fn what_is_refused_says_where_and_what_to_write() {
    let cases: &[(&[u8], &str)] = &[
        (b"", "1:1 there is no header / write a line such as `time [s],torque [N·m]`"),
        (b"a [s]\n", "1:1 there are no rows below this header / write a row below the header for each time or point"),
        (b"a [s],b [furlongs2x]\n1,2\n", "1:7 the unit of `b`: "),
        (b"a [s],a [m]\n1,2\n", "1:7 there are two columns `a`, the other at character 1 / give each its own name"),
        (b"a [s],[m]\n1,2\n", "1:7 this column has no name / write one, such as `torque [N·m]`"),
        (b"a [s],b m]\n1,2\n", "1:7 the brackets of `b m]` do not match / open the bracket as well"),
        (b"a [s],b [m\n1,2\n", "1:7 the brackets of `b [m` do not match / close the bracket; a unit in which"),
        (b"a [s],load (left)\n1,2\n", "1:7 the unit of `load`: "),
        (
            b"a [s],b\n1,2\n3\n",
            "3:1 this row has one cell, and the header on line 1 has 2 cells / write a cell for every column",
        ),
        (
            b"a [s],b\n1,2\n3,4,5\n",
            "3:5 this row has 3 cells, and the header on line 1 has 2 cells / a comma separates cells",
        ),
        (b"a [s];b\n1;2\n3;4,5\n", "3:3 a comma is not read as a decimal sign / write `4.5`"),
        (b"a [s],b\n1,2\n3,\"4,5\"\n", "3:3 a comma is not read as a decimal sign / write `4.5`"),
        (b"a [s],b\n1,2\n3,4 N\n", "3:3 `4 N` is more than a number / write the number alone"),
        (b"a [s],b\n1,2\n3, x1\n", "3:4 `x1` is not a number / write a number, or nothing"),
        (b"a [s],b\n1,2\n3,inf\n", "3:3 `inf` is not a number / write a number, or nothing"),
        (b"a [s],b\n1,2\n3,1e999\n", "3:3 "),
        (b"a [s],b\n1,2\n3,1234567890123456789\n", "3:3 `1234567890123456789` has more than 18 digits / round it"),
        (
            b"a,b\ns,N\n3,4\n",
            "2:1 `s` stands in column `a`, which has numbers below it / write the unit into the header: `a [s]`",
        ),
        (
            b"a,b\n1,2026-03-14T10:00:00Z\n3,4\n",
            "3:3 `4` stands among instants / write an instant such as `2026-03-14T10:00:00Z`",
        ),
        (
            b"a,b\n1,4\n3,2026-03-14T10:00:00Z\n",
            "3:3 the instant `2026-03-14T10:00:00Z` stands among numbers / write a number such as `4`",
        ),
        (b"a [s],b [m]\n1,up\n3,down\n", "2:3 `up` is not a number / write a number, or nothing"),
        (
            b"a,b [s]\n1,2026-03-14T10:00:00Z\n",
            "2:3 column `b` has a unit, and holds instants / leave the unit out of the header",
        ),
        (b"a,b\n1,\"2\n3,4\n", "2:3 this quote is not closed / close it"),
        (b"a,b\n1,\"2\" x\n", "2:3 something follows the closing quote"),
        (b"a [s]\n1\n\xff2\n", "3:1 this byte is not UTF-8 / save the file as UTF-8 text"),
    ];
    for (text, expected) in cases {
        let found = errors(text);
        let first = found.first().expect("an error");
        assert!(
            first.starts_with(expected),
            "{:?}\nfound    {first}\nexpected {expected}",
            String::from_utf8_lossy(text)
        );
    }
}

#[test]
fn all_faults_are_told_up_to_a_number() {
    let found = errors(b"a,b\n1,2\nx,2\n1,y\n1,2,3\n");
    assert_eq!(found.iter().map(|error| &error[..3]).collect::<Vec<_>>(), ["3:1", "4:3", "5:5"]);
    let many = format!("a\n1\n{}", "x\n".repeat(1000));
    assert_eq!(errors(many.as_bytes()).len(), MAX_ERRORS);
}

#[test]
fn an_unknown_column_names_those_that_are_near() {
    let table = table("time [s],torque [N·m]\n0,1\n");
    let error = |name| table.column(name).expect_err("no such column").help;
    assert_eq!(error("torqe"), "did you mean `torque`?");
    assert_eq!(error("pressure"), "write one of its columns: `time`, `torque`");
}
