//! Texts from nowhere: never a panic, never for long.

use std::time::Instant;

use proptest::prelude::*;

use super::*;

fn nearly_a_table() -> impl Strategy<Value = String> {
    let piece = prop_oneof![
        "[a-z ]{0,3}( ?[\\[(](s|N·m|K|degC|%|\\?)?[\\])])?",
        "[-+−]?[0-9]{0,3}[.,]?[0-9]{0,20}(e[-+]?[0-9]{1,4})?",
        "[\"'`#\u{feff}\u{0}µ]{0,3}",
        Just("NaN".to_owned()),
        Just("2026-03-14T10:00:00Z".to_owned()),
    ];
    let end = prop_oneof![Just(","), Just(";"), Just("\t"), Just("\n"), Just("\r\n"), Just("\"")];
    prop::collection::vec((piece, end), 0..30).prop_map(|parts| {
        let mut text = String::new();
        parts.iter().for_each(|(piece, end)| {
            text.push_str(piece);
            text.push_str(end);
        });
        text
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(3000))]

    #[test]
    fn any_bytes(bytes in prop::collection::vec(any::<u8>(), 0..200)) {
        let _ = Table::read(&bytes);
    }

    /// Whatever reads can be asked for everything, and every error stands in the text.
    #[test]
    fn nearly_tables(text in nearly_a_table(), condition in "[a-z <>=()\"0-9KNm·]{0,20}", smooth in prop::option::of(0usize..6)) {
        let table = match Table::read(text.as_bytes()) {
            Ok(table) => table,
            Err(errors) => {
                let lines = text.split('\n').flat_map(|line| line.split('\r')).count();
                prop_assert!(!errors.is_empty() && errors.len() <= MAX_ERRORS);
                prop_assert!(errors.iter().all(|e| e.line >= 1 && e.line <= lines && e.column >= 1 && !e.help.is_empty()), "{:?}", errors);
                return Ok(());
            }
        };
        for column in table.columns() {
            for (_, reduce_) in Reduce::WORDS {
                let two = matches!(reduce_, Reduce::TimeBetween | Reduce::Cycles);
                let reduction = Reduction {
                    column: (!two).then(|| column.name.clone()),
                    at: matches!(reduce_, Reduce::Value | Reduce::Fit).then(|| "1 s".to_owned()),
                    from: two.then(|| condition.clone()),
                    to: two.then(|| format!("{} > 1", column.name)),
                    smooth,
                    ..Reduction::new(reduce_)
                };
                let _ = reduce(&table, &reduction, None);
                let _ = reduce(&table, &Reduction { where_: Some(condition.clone()), ..reduction }, None);
            }
        }
        for (x, y) in [(0, 0), (0, 1), (1, 0), (9, 0)] {
            for between in [Between::Linear, Between::Monotone] {
                if let Ok(curve) = table.interpolate(x, y, between) {
                    let _ = (curve.value(1.0), curve.derivative(1.0), curve.integral(0.0, 1.0), curve.span_text());
                }
            }
        }
    }
}

/// Bounds hold before the work is done, and what is within them ends soon. The times are far above what is needed, so that a busy machine
/// does not fail them.
#[test]
#[allow(clippy::disallowed_methods, reason = "it is the time that is tested")]
fn large_files_end_soon() {
    let start = Instant::now();
    let too_large = vec![b'1'; MAX_BYTES + 1];
    assert!(errors(&too_large)[0].contains("larger than 64 MiB"));
    let wide = format!("{}\n", ",".repeat(1 << 20));
    assert!(errors(wide.as_bytes())[0].contains("columns"));
    let open = format!("a\n{}", "\"".repeat(1 << 20));
    let _ = Table::read(open.as_bytes());
    let apart: String = (0..200_000).map(|i| if i % 2 == 0 { "1e300\n" } else { "1e-300\n" }).collect();
    let table = table(&format!("y\n{apart}"));
    assert!(reduce(&table, &of("y", Reduce::Sd), None).expect_err("too far apart").message.contains("too far apart"));
    assert!(start.elapsed().as_secs() < 30, "{:?}", start.elapsed());
}
