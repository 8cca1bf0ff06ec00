//! The examples of JCGM 101:2008, clause 9, by a million trials each.

use slipmark::statistics::{
    Correlation, Distribution, Draw, Model, Settings, Simulation, Trials, numerical_tolerance, simulate, validate,
};

use crate::comparison::Comparison;

const NORMAL: Distribution = Distribution::Normal;
const RECTANGULAR: Distribution = Distribution::Rectangular;

fn draw(middle: f64, standard: f64, distribution: Distribution) -> Draw {
    Draw { middle, standard, distribution }
}

/// A rectangle between two ends.
fn between(low: f64, high: f64) -> Draw {
    draw((low + high) / 2.0, (high - low) / 12_f64.sqrt(), RECTANGULAR)
}

fn student(middle: f64, scale: f64, freedom: f64) -> Draw {
    draw(middle, scale, Distribution::StudentT { freedom })
}

fn run(model: &Model<'_>, draws: &[Draw], correlations: &[Correlation], coverage: f64) -> Simulation {
    let settings = Settings { seed: 20_240_607, trials: Trials::Fixed(1_000_000), coverage };
    simulate(model, draws, correlations, &settings).expect("the correlations are possible")
}

fn each(columns: &[&[f64]], out: &mut [f64], of: impl Fn(&[f64]) -> f64) {
    let mut row = vec![0.0; columns.len()];
    for (at, cell) in out.iter_mut().enumerate() {
        row.iter_mut().zip(columns).for_each(|(own, column)| *own = column[at]);
        *cell = of(&row);
    }
}

/// 9.2: a sum of four.
fn sum(last: Draw, first: Draw) -> Simulation {
    run(&|columns, out| each(columns, out, |x| x.iter().sum()), &[first, first, first, last], &[], 0.95)
}

/// 9.3: a weight beside its standard, in mg and kg/m³.
fn mass() -> Simulation {
    let draws = [
        draw(100_000.0, 0.050, NORMAL),
        draw(1.234, 0.020, NORMAL),
        between(1.10, 1.30),
        between(7000.0, 9000.0),
        between(7950.0, 8050.0),
    ];
    let model = |columns: &[&[f64]], out: &mut [f64]| {
        each(columns, out, |x| (x[0] + x[1]) * (1.0 + (x[2] - 1.2) * (1.0 / x[3] - 1.0 / x[4])) - 100_000.0);
    };
    run(&model, &draws, &[], 0.95)
}

/// 9.4: comparison loss in microwave power meter calibration, in millionths.
fn loss(x: f64, r: f64) -> Simulation {
    let model = |columns: &[&[f64]], out: &mut [f64]| each(columns, out, |x| (x[0] * x[0] + x[1] * x[1]) * 1e6);
    run(&model, &[draw(x, 0.005, NORMAL), draw(0.0, 0.005, NORMAL)], &[(0, 1, r)], 0.95)
}

/// 9.5: a gauge block, in nm. The two trapezoids with curved sides are rectangles whose half-width is itself drawn.
fn gauge_block() -> Simulation {
    let share = between(0.0, 1.0);
    let draws = [
        student(50_000_623.0, 25.0, 18.0),
        student(215.0, 6.0, 24.0),
        student(0.0, 4.0, 5.0),
        student(0.0, 7.0, 8.0),
        between(9.5e-6, 13.5e-6),
        draw(-0.1, 0.2, NORMAL),
        draw(0.0, 0.5 / 2_f64.sqrt(), Distribution::UShaped),
        share,
        share,
        share,
        share,
    ];
    let curved =
        |half: f64, inexact: f64, one: f64, other: f64| (half - inexact + 2.0 * inexact * one) * (2.0 * other - 1.0);
    let model = move |columns: &[&[f64]], out: &mut [f64]| {
        each(columns, out, |x| {
            let (expansion, warmth) = (curved(1e-6, 0.1e-6, x[7], x[8]), curved(0.050, 0.025, x[9], x[10]));
            x[0] + x[1] + x[2] + x[3] - x[0] * (expansion * (x[5] + x[6]) + x[4] * warmth) - 50_000_000.0
        });
    };
    run(&model, &draws, &[], 0.99)
}

fn ours(id: &str) -> Vec<f64> {
    let one = |distribution| draw(0.0, 1.0, distribution);
    let symmetric = |of: Simulation| vec![of.mean, of.standard, of.symmetric.0, of.symmetric.1];
    let shortest = |of: Simulation| vec![of.mean, of.standard, of.shortest.0, of.shortest.1];
    match id {
        "MC-01" => symmetric(sum(one(NORMAL), one(NORMAL))),
        "MC-02" => symmetric(sum(one(RECTANGULAR), one(RECTANGULAR))),
        "MC-03" => symmetric(sum(draw(0.0, 10.0, RECTANGULAR), one(RECTANGULAR))),
        "MC-04" => symmetric(mass())[..2].to_vec(),
        "MC-05" => {
            let of = mass();
            // Where a shortest interval lies is ill-conditioned; its length is not.
            vec![of.shortest.0, of.shortest.1]
        }
        "MC-06" => symmetric(mass())[2..].to_vec(),
        "MC-07" => shortest(loss(0.0, 0.0)),
        "MC-08" => shortest(loss(0.01, 0.0)),
        "MC-09" => shortest(loss(0.05, 0.0)),
        "MC-10" => shortest(loss(0.0, 0.9)),
        "MC-11" => shortest(loss(0.01, 0.9)),
        "MC-12" => shortest(loss(0.05, 0.9)),
        "MC-13" => shortest(gauge_block()),
        _ => panic!("{id} is not worked out"),
    }
}

#[test]
fn examples_of_the_standard() {
    let all: toml::Table = include_str!("monte_carlo.toml").parse().expect("monte_carlo.toml is well formed");
    let mut table = Comparison::new("JCGM 101:2008, clause 9");
    for row in all["monte_carlo"].as_array().expect("a list") {
        let text = |key: &str| row.get(key).and_then(toml::Value::as_str).unwrap_or("");
        let numbers = |key: &str| -> Vec<f64> {
            let list = row.get(key).and_then(toml::Value::as_array);
            list.into_iter().flatten().map(|value| value.as_float().expect("a number")).collect()
        };
        // What the exact values leave out comes from the other simulation.
        let mut expected = numbers("analytic");
        expected.extend(numbers("sim").into_iter().skip(expected.len()));
        for (at, ((ours, expected), tolerance)) in
            ours(text("id")).into_iter().zip(expected).zip(numbers("tol")).enumerate()
        {
            let difference = ours - expected;
            table.row(
                difference.abs() <= tolerance,
                text("src"),
                &format!("{} {} ({}), {}", text("id"), text("case"), text("published"), at + 1),
                &format!("{expected} ± {tolerance}"),
                format!("{ours}"),
                format!("{difference:.1e}"),
            );
        }
    }
    table.finish(13 * 2);
}

/// JCGM 101:2008, 9.2.4 and 9.3: where the first order must not be believed; 9.2.2: where it may.
#[test]
fn the_first_order_is_confirmed_only_where_it_holds() {
    let mut table = Comparison::new("JCGM 101:2008, clause 8");
    let one = |distribution| draw(0.0, 1.0, distribution);
    for (case, middle, half, standard, simulation, digits, holds) in [
        ("9.2.2 four normal", 0.0, 2.0 * 1.959_964, 2.0, sum(one(NORMAL), one(NORMAL)), 2, true),
        (
            "9.2.4 one rectangular of ten times the size",
            0.0,
            10.148_891_57 * 1.959_964,
            10.148_891_57,
            sum(draw(0.0, 10.0, RECTANGULAR), one(RECTANGULAR)),
            2,
            false,
        ),
        ("9.3 mass", 1.234, 0.053_851_65 * 1.959_964, 0.053_851_65, mass(), 1, false),
    ] {
        let validation = validate(middle, half, standard, &simulation, digits).expect("there is an uncertainty");
        let found = if validation.holds() { "confirmed" } else { "not confirmed" };
        table.text("SUP1", case, if holds { "confirmed" } else { "not confirmed" }, found);
    }
    // 7.9.2, with the values of clause 9.
    for (standard, digits, tolerance) in [(0.0754, 1, "0.005"), (2.0, 2, "0.05"), (10.1, 2, "0.5")] {
        let ours = numerical_tolerance(standard, digits).expect("there is an uncertainty");
        table.close("SUP1 7.9.2", &format!("tolerance of {standard} to {digits} digits"), tolerance, ours, 1e-15);
    }
    table.finish(6);
}

/// The standard deviation of a scaled t is √(ν/(ν − 2)) times its scale.
#[test]
fn a_scaled_t_has_its_own_standard_deviation() {
    let mut table = Comparison::new("a scaled t");
    let of = run(&|columns, out| out.copy_from_slice(columns[0]), &[student(0.0, 25.0, 18.0)], &[], 0.95);
    let expected = 26.516_504_294_495_53;
    let difference = of.standard - expected;
    // Five standard errors of a standard deviation from 10^6 trials of kurtosis 3 + 6/(ν − 4).
    let tolerance = 5.0 * expected * ((2.0 + 6.0 / 14.0) / 4.0 / 1e6_f64).sqrt();
    let holds = difference.abs() <= tolerance;
    let published = format!("{expected} ± {tolerance:.3}");
    table.row(holds, "computed", "25 nm, ν = 18", &published, format!("{}", of.standard), format!("{difference:.1e}"));
    table.finish(1);
}
