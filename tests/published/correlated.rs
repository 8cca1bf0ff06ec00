//! Two examples of JCGM 100:2008 in which results are correlated: a thermometer calibrated by a straight line (H.3), and an activity from counts in cycles
//! that drift together (H.4).

use serde::Deserialize;
use slipmark::calc::Correlations;
use slipmark::quantity::{Quantity, Rational, parse_number};
use slipmark::table::{Reduce, Reduction, Table, reduce};

use crate::calculations::{Inputs, in_unit, worked};
use crate::comparison::Comparison;

#[derive(Deserialize)]
struct Published {
    thermometer: Thermometer,
    activity: Activity,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Thermometer {
    t: Vec<String>,
    b: Vec<String>,
    at_20: Both,
    slope: Both,
    at_30: Both,
    at_mean: Both,
    mean: One,
    r: One,
    s: One,
    dropped: f64,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Activity {
    t_s: Vec<f64>,
    c_s: Vec<u32>,
    c_b: Vec<u32>,
    t_x: Vec<f64>,
    c_x: Vec<u32>,
    rate_x: Both,
    rate_s: Both,
    ratios: Both,
    r: One,
    ratio: Both,
    first: Both,
    second: Both,
    printed_first: Both,
}

/// A value and its standard uncertainty, as printed and in full.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Both {
    published: [String; 2],
    full: [f64; 2],
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct One {
    published: String,
    full: f64,
}

fn published() -> Published {
    toml::from_str(include_str!("correlated.toml")).expect("correlated.toml is well formed")
}

fn number(text: &str) -> Rational {
    parse_number(text).expect(text).value
}

/// Holds a value and its standard uncertainty against what was printed, and against what the same numbers give in full.
fn both(table: &mut Comparison, source: &str, what: &str, expected: &Both, ours: [&Rational; 2]) {
    for ((part, ours), (printed, full)) in
        ["", ", u"].iter().zip(ours).zip(expected.published.iter().zip(expected.full))
    {
        let what = format!("{what}{part}");
        if !printed.is_empty() {
            table.printed(source, &what, printed, ours);
        }
        table.close("numpy 2.4.6", &what, &full.to_string(), ours.to_f64().expect("finite"), 1e-12);
    }
}

fn standard(quantity: &Quantity) -> Rational {
    quantity.uncertainty.as_ref().expect("an uncertainty").standard.clone()
}

/// The line is fitted to the table of observations; it is read at 30 degC both by the fit and by the calculation language, from intercept and slope with
/// their correlation.
#[test]
fn thermometer() {
    const SOURCE: &str = "JCGM 100:2008, H.3";
    let Thermometer { t, b, at_20, slope, at_30, at_mean, mean, r, s, dropped } = published().thermometer;
    let mut table = Comparison::new("calibration of a thermometer (H.3)");
    let lines: Vec<String> = t.iter().zip(&b).map(|(t, b)| format!("{t},{b}\n")).collect();
    let observed = Table::read(format!("t [degC],b [delta_degC]\n{}", lines.concat()).as_bytes()).expect("a table");
    let ask = |column: &str, by, at: Option<&str>| {
        let against = (column == "b").then(|| "t".to_owned()).filter(|_| by != Reduce::Mean);
        let reduction =
            Reduction { column: Some(column.into()), against, at: at.map(str::to_owned), ..Reduction::new(by) };
        reduce(&observed, &reduction, None).expect("it can be reduced").quantity
    };
    let fit = |at: &str| ask("b", Reduce::Fit, Some(at));
    for (what, expected, ours) in [
        ("H3-01, H3-03: intercept y1 at 20 degC", &at_20, fit("20 degC")),
        ("H3-02, H3-04: slope y2", &slope, ask("b", Reduce::Rate, None)),
        ("H3-07, H3-08: b(30 degC)", &at_30, fit("30 degC")),
    ] {
        let uncertainty = ours.uncertainty.as_ref().expect("eleven observations");
        both(&mut table, SOURCE, what, expected, [&ours.value, &uncertainty.standard]);
        let freedom = uncertainty.freedom.as_ref().expect("finite");
        table.exact(SOURCE, &format!("H3-09: degrees of freedom of {what}"), "9", freedom);
    }
    let middle = in_celsius(&ask("t", Reduce::Mean, None));
    table.printed(SOURCE, "H3-10: mean t", &mean.published, &middle);
    table.close("numpy 2.4.6", "H3-10: mean t", &mean.full.to_string(), middle.to_f64().expect("finite"), 1e-15);
    // At the mean the line is known best: the mean of b itself, and s/√11.
    let best = ask("b", Reduce::Mean, None).value;
    table.printed(SOURCE, "H3-12: y1 at the mean t", &at_mean.published[0], &best);
    let (u, v) = (standard(&fit("20 degC")), standard(&ask("b", Reduce::Rate, None)));
    let off = (&middle - number("20")).to_f64().expect("finite");
    let [u, v] = [&u, &v].map(|part| part.to_f64().expect("finite"));
    let least = (u * u - v * v * off * off).sqrt();
    table.close("numpy 2.4.6", "H3-12: s(y1) at the mean t", &at_mean.full[1].to_string(), least, 1e-11);
    table.close("numpy 2.4.6", "H3-06: s", &s.full.to_string(), least * 11f64.sqrt(), 1e-11);
    let correlation = -off * v / u;
    table.close("numpy 2.4.6", "H3-05: r(y1, y2)", &r.full.to_string(), correlation, 1e-12);
    table.close(SOURCE, "H3-05: r(y1, y2)", &r.published, correlation, 5.4e-4);

    // The same from what a certificate would say: intercept, slope, their uncertainties, and r.
    let [y1, y2] = [&at_20, &slope].map(|both| format!("{}({:.18})", both.full[0], both.full[1]));
    let inputs = Inputs::of([("y1", format!("{y1} delta_degC").as_str()), ("y2", y2.as_str())]);
    let mut correlations = Correlations::none();
    correlations.state("y1", "y2", number(&r.full.to_string())).expect("a coefficient");
    let read = |correlations: &Correlations| {
        let worked = worked("y1 + y2 * (30 degC - 20 degC)", &inputs, correlations);
        (worked.quantity.si_f64(), worked.budget().standard)
    };
    let (value, with) = read(&correlations);
    table.close("numpy 2.4.6", "H3-07: b(30 degC) of the certificate", &at_30.full[0].to_string(), value, 1e-12);
    table.close("numpy 2.4.6", "H3-08: u of it", &at_30.full[1].to_string(), with, 1e-12);
    let (_, without) = read(&Correlations::none());
    table.close("numpy 2.4.6", "H3-11: u without the correlation", &dropped.to_string(), without, 1e-12);
    table.finish(24);
}

fn in_celsius(quantity: &Quantity) -> Rational {
    quantity.unit.from_si(&quantity.value)
}

/// From the counts on: rates corrected for decay, their means and how these go together, and the activity by both approaches.
#[test]
fn activity() {
    const SOURCE: &str = "JCGM 100:2008, H.4";
    let activity = published().activity;
    let mut table = Comparison::new("activity by liquid scintillation (H.4)");
    let rate =
        |count: u32, background: u32, time: f64| format!("({count} - {background}) / 60 * exp(1.25894e-4 * {time})");
    let rates = |counts: &[u32], times: &[f64]| -> Vec<String> {
        counts.iter().zip(&activity.c_b).zip(times).map(|((c, b), t)| rate(*c, *b, *t)).collect()
    };
    let (x, s) = (rates(&activity.c_x, &activity.t_x), rates(&activity.c_s, &activity.t_s));
    let ratios: Vec<String> = x.iter().zip(&s).map(|(x, s)| format!("({x}) / ({s})")).collect();
    let of = |expr: &str| in_unit(&worked(expr, &Inputs::default(), &Correlations::none()), "");
    let moments = |all: &[String]| {
        let all = all.join(", ");
        [of(&format!("mean({all})")), of(&format!("sd({all}) / sqrt(6)"))]
    };
    let (mean_x, mean_s, mean_r) = (moments(&x), moments(&s), moments(&ratios));
    for (what, expected, ours) in [
        ("H4-01, H4-02: mean Rx", &activity.rate_x, &mean_x),
        ("H4-03, H4-04: mean RS", &activity.rate_s, &mean_s),
        ("H4-05, H4-06: mean of the ratios", &activity.ratios, &mean_r),
    ] {
        both(&mut table, SOURCE, what, expected, [&ours[0], &ours[1]]);
    }
    let products: Vec<String> = x.iter().zip(&s).map(|(x, s)| format!("(({x}) - mx) * (({s}) - ms)")).collect();
    let common = format!(
        "mx = mean({}); ms = mean({}); sum({}) / (5 * sd({}) * sd({}))",
        x.join(", "),
        s.join(", "),
        products.join(", "),
        x.join(", "),
        s.join(", ")
    );
    let r = of(&common);
    table.printed(SOURCE, "H4-07: r(Rx, RS)", &activity.r.published, &r);
    let ours = r.to_f64().expect("finite");
    table.close("numpy 2.4.6", "H4-07: r(Rx, RS)", &activity.r.full.to_string(), ours, 1e-11);

    let stated = |[value, u]: &[Rational; 2]| {
        let [value, u] = [value, u].map(|part| part.to_f64().expect("finite"));
        format!("{value}({u:.15})")
    };
    let (x, s, r6) = (stated(&mean_x), stated(&mean_s), stated(&mean_r));
    let given = [("AS", "0.1368(18) 1/(s*g)"), ("mS", "5.0192(50) g"), ("mx", "5.0571(10) g")];
    let inputs = Inputs::of(given.into_iter().chain([("Rx", x.as_str()), ("RS", s.as_str()), ("R", r6.as_str())]));
    let mut correlations = Correlations::none();
    correlations.state("Rx", "RS", r).expect("a coefficient");
    let of = |expr: &str, unit: &str| {
        let worked = worked(expr, &inputs, &correlations);
        let u = standard(&worked.quantity);
        [in_unit(&worked, unit), slipmark::quantity::Unit::parse(unit).expect(unit).span_from_si(&u)]
    };
    for (what, expected, ours) in [
        ("H4-08, H4-09: Rx/RS of the means", &activity.ratio, of("Rx / RS", "")),
        ("H4-10, H4-11: Ax from the means", &activity.first, of("AS * mS / mx * Rx / RS", "1/(s*g)")),
        ("H4-12, H4-13: Ax from the ratios", &activity.second, of("AS * mS / mx * R", "1/(s*g)")),
        ("H4-10: Ax with the ratio rounded as printed", &activity.printed_first, {
            let rounded = Inputs::of(given.into_iter().chain([("R", "3.167(45)")]));
            let worked = worked("AS * mS / mx * R", &rounded, &Correlations::none());
            let per_gram = slipmark::quantity::Unit::parse("1/(s*g)").expect("a unit");
            [in_unit(&worked, "1/(s*g)"), per_gram.span_from_si(&standard(&worked.quantity))]
        }),
    ] {
        both(&mut table, SOURCE, what, expected, [&ours[0], &ours[1]]);
    }
    table.finish(24);
}
