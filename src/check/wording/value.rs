//! Values: bounds and tolerances, ranges, units, decimal marks.

use std::cell::OnceCell;

use super::report::Report;
use super::statement::{Quantity, Statement};
use super::tokens::{Kind, Role};
use super::units::{Dimension, Unit, refers};

/// Reports everything about the values of the statement.
pub(super) fn scan(statement: &Statement, report: &mut Report) {
    bare_value(statement, report);
    intervals(statement, report);
    let facts = Facts { statement, unitless: OnceCell::new(), heat: OnceCell::new(), no_fluid: OnceCell::new() };
    for quantity in &statement.quantities {
        missing_unit(quantity, &facts, report);
        if let Some(unit) = quantity.unit.as_ref().filter(|_| !quantity.inherited) {
            ambiguous_unit(quantity, unit, &facts, report);
            pressure(quantity, unit, &facts, report);
        }
        comma(statement, quantity, report);
    }
}

/// What the words of the whole statement say about its values; each looked for once, and only when a value asks.
struct Facts<'s, 'a> {
    statement: &'s Statement<'a>,
    unitless: OnceCell<bool>,
    heat: OnceCell<bool>,
    no_fluid: OnceCell<bool>,
}

impl Facts<'_, '_> {
    /// The statement is about something counted or without a unit.
    fn is_unitless(&self) -> bool {
        *self.unitless.get_or_init(|| self.statement.has_word(UNITLESS))
    }

    /// Degrees in this statement are of temperature.
    fn is_heat(&self) -> bool {
        const HEAT: &[&str] = &["temperature", "temperatures", "cold", "warm", "hot", "chilled", "heated"];
        const TURNING: &[&str] = &[
            "travel",
            "angle",
            "angular",
            "rotation",
            "stroke",
            "turn",
            "turns",
            "ball",
            "stop",
            "position",
            "latitude",
            "longitude",
            "phase",
        ];
        *self.heat.get_or_init(|| self.statement.has_word(HEAT) && !self.statement.has_word(TURNING))
    }

    /// Pascals in this statement are of stress or strength, or of a vacuum, which is absolute.
    fn is_no_fluid(&self) -> bool {
        const OTHER: &[&str] = &["stress", "stresses", "strength", "modulus", "hardness", "vacuum", "elastic", "yield"];
        *self.no_fluid.get_or_init(|| self.statement.has_word(OTHER))
    }
}

/// What is stated here with no unit, or counted.
const UNITLESS: &[&str] = &[
    "margin",
    "margins",
    "ratio",
    "ratios",
    "factor",
    "factors",
    "efficiency",
    "level",
    "levels",
    "number",
    "count",
    "counts",
    "counter",
    "coefficient",
    "index",
    "class",
    "grade",
    "probability",
    "safety",
    "times",
    "cycles",
    "fraction",
    "gain",
    "exponent",
    "revision",
    "version",
    "value",
    "quantity",
    "emissivity",
    "strokes",
    "operations",
    "occurrences",
];

/// Whether the statement bounds anything anywhere.
fn is_bounded(statement: &Statement) -> bool {
    const WORDS: &[&str] = &[
        "least",
        "most",
        "between",
        "from",
        "than",
        "within",
        "exceed",
        "exceeds",
        "exceeding",
        "above",
        "below",
        "under",
        "over",
        "maximum",
        "minimum",
        "max",
        "min",
        "tolerance",
        "inclusive",
        "limited",
        "nominal",
    ];
    (0..statement.len()).any(|at| {
        let up_to = statement.word(at) == "up" && statement.word(at + 1) == "to";
        up_to
            || WORDS.contains(&statement.word(at))
            || matches!(statement.mark(at), "+/-" | "+-" | "±" | "<" | ">" | "≤" | "≥")
    })
}

/// "shall be 2 s": the value must follow the verb directly, not as one of its conditions.
fn bare_value(statement: &Statement, report: &mut Report) {
    const STOP: &[&str] = &[
        "at", "for", "after", "before", "when", "while", "during", "if", "in", "on", "to", "as", "by", "until",
        "every", "per",
    ];
    const REACH: usize = 8;
    for shall in &statement.shalls {
        if !matches!(statement.word(shall + 1), "be" | "have" | "weigh" | "measure") {
            continue;
        }
        let value = (shall + 2..shall + 2 + REACH)
            .take_while(|at| !STOP.contains(&statement.word(*at)) && !statement.ends_at(*at))
            .find_map(|at| statement.quantity_at(at));
        if let Some(quantity) = value.filter(|quantity| quantity.is_measured())
            && let Some(unit) = quantity.unit.as_ref().filter(|unit| !unit.attributive)
        {
            if is_bounded(statement) {
                return;
            }
            report.add("bare-value", quantity.first(), unit.end - 1, None);
        }
    }
}

/// One past the last token of the value, its unit included.
fn value_end(quantity: &Quantity) -> usize {
    quantity.unit.as_ref().filter(|_| !quantity.inherited).map_or(quantity.token + 1, |unit| unit.end)
}

/// The value at `at`, or after its sign at `at`.
fn value_at<'q>(statement: &'q Statement, at: usize) -> Option<&'q Quantity> {
    let sign = usize::from(matches!(statement.mark(at), "-" | "−" | "+"));
    statement.quantity_at(at + sign)
}

fn intervals(statement: &Statement, report: &mut Report) {
    let last_inclusive = (0..statement.len()).rev().find(|at| {
        matches!(statement.word(*at), "inclusive" | "exclusive" | "inclusively" | "including" | "excluding")
    });
    for at in 0..statement.len() {
        let Some(first) = value_at(statement, at + 1) else { continue };
        let joint = value_end(first);
        let second = value_at(statement, joint + 1);
        match (statement.word(at), statement.word(joint), second) {
            ("between", "and", Some(second)) if last_inclusive < Some(at) => {
                let end = value_end(second);
                report.add("open-interval", at, end - 1, interval(statement, first, second));
            }
            ("between", _, _) if statement.ends_at(joint) => report.add("open-interval", at, joint - 1, None),
            ("from", "to", None) if statement.ends_at(joint + 1) => report.add("open-interval", at, joint, None),
            _ => {}
        }
    }
}

/// "from 2 g/s to 6 g/s"
fn interval(statement: &Statement, first: &Quantity, second: &Quantity) -> Option<String> {
    let unit = second.unit.as_ref()?;
    let number = |quantity: &Quantity| {
        let sign = if quantity.value < 0.0 { "-" } else { "" };
        format!("{sign}{}", statement.raw(quantity.token))
    };
    let (from, to) = (statement.token(second.token + 1)?.start, statement.token(unit.end - 1)?.end);
    let written = statement.source.get(from..to)?;
    Some(format!("from {} {written} to {} {written}", number(first), number(second)))
}

fn missing_unit(quantity: &Quantity, facts: &Facts, report: &mut Report) {
    let statement = facts.statement;
    let at = quantity.token;
    if quantity.unit.is_some() || quantity.label || quantity.tolerance || quantity.value == 0.0 {
        return;
    }
    let sign = usize::from(quantity.value < 0.0);
    let Some(last) = at.checked_sub(1 + sign) else { return };
    let before = (statement.word_before(last), statement.word(last));
    let limit = matches!(
        before,
        ("at", "least" | "most")
            | ("less" | "more" | "greater" | "higher" | "lower", "than")
            | ("shall", "be")
            | ("up", "to")
            | (_, "exceed" | "exceeds" | "exceeding" | "within" | "below" | "above")
    );
    let next = at + 1;
    let listed = statement.mark(next) == "," && statement.kind(next + 1) == Some(Kind::Number);
    let ends = statement.ends_at(next) && !listed || matches!(statement.word(next), "at" | "when" | "while" | "during");
    if limit && ends && !facts.is_unitless() {
        report.add("missing-unit", quantity.first(), at, None);
    }
}

/// What may stand in place of a symbol that means more than one thing, the number before it being the same.
fn meanings(symbol: &str) -> Option<&'static [&'static str]> {
    Some(match symbol {
        "gal" => &["US gal", "imperial gal"],
        "ton" | "tons" => &["t", "short ton", "long ton"],
        // In joules it is another number.
        "cal" | "kcal" => &[],
        "cc" => &["cm^3", "mL"],
        "lb" | "lbs" => &["lbf", "lbm"],
        // A standard volume is an amount of gas, once it is said at which temperature and pressure it is a volume.
        "slpm" => &["slpm(0 degC, 101.325 kPa abs)", "slpm(20 degC, 101.325 kPa abs)"],
        "sccm" => &["sccm(0 degC, 101.325 kPa abs)", "sccm(20 degC, 101.325 kPa abs)"],
        "scfm" => &["scfm(60 degF, 14.696 psia)", "scfm(70 degF, 14.696 psia)"],
        "scc" => &["scc(0 degC, 101.325 kPa abs)", "scc(20 degC, 101.325 kPa abs)"],
        "C" => &["degC"],
        _ => return None,
    })
}

/// A value as written with each of these in place of its symbol: what is offered is the whole of what is to be written.
fn instead(written: &str, symbol: &str, meant: &[&str]) -> Option<String> {
    let at = written.rfind(symbol)?;
    let (before, after) = (&written[..at], &written[at + symbol.len()..]);
    let whole: Vec<String> = meant.iter().map(|meant| format!("{before}{meant}{after}")).collect();
    (!whole.is_empty()).then(|| whole.join("\" or \""))
}

fn ambiguous_unit(quantity: &Quantity, unit: &Unit, facts: &Facts, report: &mut Report) {
    // A pound in a torque is a force: everybody reads in-lb so.
    if unit.scale.dimension == Dimension::Torque {
        return;
    }
    let stated = refers(&unit.symbol);
    let mut symbols = unit.symbol.split(['·', '/', '(', ')', '^']).filter(|_| !stated);
    let symbol = symbols.find_map(|symbol| Some((symbol, meanings(symbol)?)));
    let (first, last) = (quantity.first(), unit.end - 1);
    let written = facts.statement.between(first, last);
    let plain_degrees = unit.symbol == "deg" && facts.statement.word(unit.end) != "of" && facts.is_heat();
    if let Some((symbol, meant)) = symbol {
        report.add("ambiguous-unit", first, last, instead(written, symbol, meant));
    } else if plain_degrees {
        report.add("ambiguous-unit", first, last, instead(written, "deg", &["degC", "K"]));
    }
}

fn pressure(quantity: &Quantity, unit: &Unit, facts: &Facts, report: &mut Report) {
    const REFERENCE: &[&str] = &[
        "gauge",
        "gage",
        "abs",
        "absolute",
        "differential",
        "drop",
        "difference",
        "delta",
        "rise",
        "loss",
        "decay",
        "change",
        "ripple",
    ];
    if unit.scale.dimension != Dimension::Pressure {
        return;
    }
    let statement = facts.statement;
    let explicit = matches!(
        unit.symbol.as_str(),
        "psig" | "psia" | "psid" | "barg" | "bara" | "bard" | "MPag" | "MPaa" | "kPag" | "kPaa"
    );
    // These are read as absolute, or as stress.
    let by_habit = matches!(unit.symbol.as_str(), "Torr" | "torr" | "mmHg" | "atm" | "GPa" | "ksi")
        || unit.symbol == "mbar" && quantity.value < 10.0;
    if explicit || by_habit || quantity.tolerance || facts.is_no_fluid() {
        return;
    }
    let near = quantity.token.saturating_sub(14)..unit.end + 7;
    let said = near.clone().any(|at| REFERENCE.contains(&statement.word(at)));
    let letter = matches!(statement.raw(unit.end), "g" | "a" | "d")
        || statement.mark(unit.end) == "(" && matches!(statement.raw(unit.end + 1), "g" | "a" | "d");
    // A rate, a difference from something, a change by so much.
    let difference = matches!(statement.word(unit.end), "per" | "of")
        || statement.word_before(quantity.token) == "by"
        || statement.mark(unit.end) == "/";
    let followed = (unit.end..unit.end + 3).any(|at| matches!(statement.mark(at), "+/-" | "±"));
    if !(said || letter || difference && !followed) {
        report.add("gauge-or-absolute", quantity.first(), unit.end - 1, None);
    }
}

fn comma(statement: &Statement, quantity: &Quantity, report: &mut Report) {
    let at = quantity.token;
    let raw = statement.raw(at);
    if quantity.label || statement.role(at) == Some(Role::Name) || !raw.contains(',') {
        return;
    }
    let mut groups = raw.split(',');
    let lead = groups.next().unwrap_or("");
    let tails: Vec<&str> = groups.map(|tail| tail.split('.').next().unwrap_or("")).collect();
    let thousands = lead.len() <= 3 && tails.iter().all(|tail| tail.len() == 3);
    let last = quantity.unit.as_ref().filter(|_| !quantity.inherited).map_or(at, |unit| unit.end - 1);
    if thousands && quantity.is_measured() {
        report.add("comma-decimal", at, last, Some(raw.replace(',', "")));
    } else if !thousands && tails.len() == 1 && tails[0].len() <= 2 {
        // "pins 1,2 and 3" lists; a value has a unit or ends its clause.
        let lists = quantity.unit.is_none()
            && (statement.word_before(at).ends_with('s')
                || matches!(statement.word(at + 1), "and" | "or")
                || statement.mark(at + 1) == ",");
        if !lists {
            report.add("comma-decimal", at, last, Some(raw.replace(',', ".")));
        }
    }
}
