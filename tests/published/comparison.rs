//! A table of published values beside ours, which fails as a whole once all of it has been printed.

use slipmark::quantity::{Rational, parse_number};

const PI: &str = "3.14159265358979323846264338327950288419716939937510582097494";

/// The rows of one section.
pub struct Comparison {
    section: &'static str,
    rows: Vec<[String; 5]>,
    wrong: Vec<usize>,
}

impl Comparison {
    /// An empty table.
    pub fn new(section: &'static str) -> Self {
        Self { section, rows: Vec::new(), wrong: Vec::new() }
    }

    /// Holds two exact numbers against each other; any difference is wrong.
    pub fn exact(&mut self, source: &str, quantity: &str, published: &str, ours: &Rational) {
        let difference = ours - rational(published);
        let holds = difference.is_zero();
        self.row(holds, source, quantity, published, short(ours), short(&difference));
    }

    /// Holds an exact number of ours against one printed with so many digits: ours must round to it, by either way of a tie.
    pub fn printed(&mut self, source: &str, quantity: &str, published: &str, ours: &Rational) {
        let difference = ours - rational(published);
        let holds = difference.abs() + difference.abs() <= last_digit(published);
        self.row(holds, source, quantity, published, short(ours), short(&difference));
    }

    /// Holds a double of ours against a published number, within a relative distance; of zero, an absolute one.
    pub fn close(&mut self, source: &str, quantity: &str, published: &str, ours: f64, relative: f64) {
        let number = rational(published).to_f64().expect("a published number is finite");
        let difference = ours - number;
        let holds = difference.abs() <= relative * if number == 0.0 { 1.0 } else { number.abs() };
        self.row(holds, source, quantity, published, format!("{ours}"), format!("{difference:.1e}"));
    }

    /// Holds two texts against each other.
    pub fn text(&mut self, source: &str, quantity: &str, published: &str, ours: &str) {
        let same = published == ours;
        self.row(same, source, quantity, published, ours.to_owned(), if same { "0" } else { "differs" }.to_owned());
    }

    /// A row whose agreement was judged elsewhere.
    pub fn row(
        &mut self,
        holds: bool,
        source: &str,
        quantity: &str,
        published: &str,
        ours: String,
        difference: String,
    ) {
        if !holds {
            self.wrong.push(self.rows.len());
        }
        self.rows.push([source.to_owned(), quantity.to_owned(), published.to_owned(), ours, difference]);
    }

    /// Prints the table.
    ///
    /// # Panics
    /// If a row differs, or if there are fewer than so many: a table that was cut short shows nothing.
    #[allow(clippy::disallowed_macros, reason = "the table is what this test is for")]
    pub fn finish(self, at_least: usize) {
        let widths = [0, 1, 2, 3].map(|i| self.rows.iter().map(|row| row[i].chars().count()).max().unwrap_or(0));
        let line = |row: &[String; 5]| {
            let cells = row.iter().zip(widths).map(|(cell, width)| format!("{cell:<width$}")).collect::<Vec<_>>();
            format!("{} | {}", cells.join(" | "), row[4])
        };
        let mut text = format!("\n{}: source | quantity | published | ours | difference\n", self.section);
        for row in &self.rows {
            text.push_str(&line(row));
            text.push('\n');
        }
        println!("{text}");
        let wrong: Vec<String> = self.wrong.iter().filter_map(|&at| self.rows.get(at)).map(line).collect();
        assert!(wrong.is_empty(), "{} of {} differ:\n{}", wrong.len(), self.rows.len(), wrong.join("\n"));
        assert!(self.rows.len() >= at_least, "{}: only {} rows", self.section, self.rows.len());
    }
}

/// Reads `0.0254`, `2.54E-8`, `5/9` or `1/180*pi`.
pub fn rational(text: &str) -> Rational {
    let read = |text: &str| parse_number(text).unwrap_or_else(|error| panic!("{text}: {error}")).value;
    if let Some(factor) = text.strip_suffix("*pi") {
        return rational(factor) * read(PI);
    }
    match text.split_once('/') {
        Some((numerator, denominator)) => read(numerator) / read(denominator),
        None => read(text),
    }
}

/// One unit in the last digit of a number as printed.
fn last_digit(text: &str) -> Rational {
    let (digits, exponent) = text.split_once(['E', 'e']).unwrap_or((text, "0"));
    let exponent: i64 = exponent.parse().expect("an exponent");
    let places = digits.split_once('.').map_or(0, |(_, places)| places.len());
    rational(&format!("1e{}", exponent - i64::try_from(places).expect("few places")))
}

/// A number for the table; the comparison was exact.
fn short(value: &Rational) -> String {
    let number = value.to_f64().unwrap_or(f64::NAN);
    if number != 0.0 && !(1e-4..1e9).contains(&number.abs()) { format!("{number:e}") } else { format!("{number}") }
}

/// A comparison that never fails would show nothing.
#[test]
fn each_sort_of_row_can_differ() {
    let fails = |fill: fn(&mut Comparison)| {
        let mut table = Comparison::new("a table that is wrong");
        fill(&mut table);
        std::panic::catch_unwind(|| table.finish(0)).is_err()
    };
    assert!(fails(|table| table.exact("", "", "1/3", &rational("0.333333333333"))));
    assert!(fails(|table| table.printed("", "", "2.54E-8", &rational("2.5451E-8"))));
    assert!(!fails(|table| table.printed("", "", "2.54E-8", &rational("2.5449E-8"))));
    assert!(fails(|table| table.close("", "", "1.0", 1.000_000_2, 1e-7)));
    assert!(!fails(|table| table.close("", "", "0", 1e-8, 1e-7)));
    assert!(fails(|table| table.text("", "", "1.32 ± 0.08", "1.32 ± 0.80")));
    assert!(std::panic::catch_unwind(|| Comparison::new("too short").finish(1)).is_err());
}
