//! The numbers behind a criterion: value, uncertainty, limits and margin, all in one unit.

use crate::analysis::Analysis;
use crate::model::kinds::{Criterion, Expectation};
use crate::quantity::{Margin, Measured, Quantity, Rational, parse_measured};

use super::grid::Cell;

/// The heads of [`Numbers::cells`].
pub(super) const HEADS: [(&str, u16); 7] =
    [("unit", 12), ("bound", 7), ("value", 14), ("U", 14), ("least", 14), ("most", 14), ("margin in unit", 14)];

/// What can be told in numbers; the texts beside them say what was written.
#[derive(Debug, Default)]
pub(super) struct Numbers {
    unit: Option<String>,
    /// `<` or `>`, where the value is a bound.
    bound: Option<&'static str>,
    value: Option<f64>,
    /// The expanded uncertainty.
    expanded: Option<f64>,
    least: Option<f64>,
    most: Option<f64>,
    margin: Option<f64>,
}

impl Numbers {
    /// Of a criterion as it stands now, a result as it is shown, what it was computed as, and the margin that was worked out
    /// from both.
    pub(super) fn of(
        analysis: &Analysis,
        criterion: Option<&Criterion>,
        result: Option<&str>,
        computed: Option<&Quantity>,
        margin: Option<&Margin>,
    ) -> Numbers {
        let Some(criterion) = criterion else { return Numbers::default() };
        if let Expectation::Count(least) = criterion.expects {
            let count = result.and_then(|text| text.replace('_', "").parse::<u32>().ok());
            let least = u32::try_from(least).ok().map(f64::from);
            return Numbers { value: count.map(f64::from), least, ..Numbers::default() };
        }
        let (min, max) = criterion.expects.ends();
        let (min, max) = (min.and_then(|it| it.quantity()), max.and_then(|it| it.quantity()));
        let Some(limit) = margin.map(|margin| &margin.limit).or(min).or(max) else { return Numbers::default() };
        let ambient = analysis.model.config.ambient.as_ref();
        let unit = &limit.unit;
        let place = |quantity: &Quantity| unit.from_si(&quantity.on_scale_of(limit, ambient).ok()?).to_f64();
        let width = |width: &Rational| unit.span_from_si(width).to_f64();
        let computed = computed.map(|quantity| Measured::Value(quantity.clone()));
        let measured = computed.or_else(|| result.and_then(|text| parse_measured(text).ok()));
        let expanded = measured.as_ref().and_then(|own| own.quantity().uncertainty.as_ref());
        let shown = measured.as_ref().and_then(|own| place(own.quantity()));
        // What was computed is shown rounded; the margin tells it exactly, on one side of the limit or the other.
        let exact = |shown: f64, margin: &Margin| {
            let sides = [&limit.value + &margin.value, &limit.value - &margin.value];
            let sides = sides.iter().filter_map(|side| unit.from_si(side).to_f64());
            sides.min_by(|a, b| (a - shown).abs().total_cmp(&(b - shown).abs()))
        };
        // A result that does not go with the limit has neither a value nor an uncertainty in its unit.
        let value = shown.map(|shown| margin.and_then(|margin| exact(shown, margin)).unwrap_or(shown));
        let expanded = margin.and_then(|own| own.expanded.as_ref()).or(expanded.map(|own| &own.expanded));
        Numbers {
            unit: Some(unit.symbol.clone()),
            bound: measured.as_ref().and_then(|own| match own {
                Measured::Value(_) => None,
                Measured::Below(_) => Some("<"),
                Measured::Above(_) => Some(">"),
            }),
            value,
            expanded: value.and(expanded).and_then(width),
            least: min.and_then(|limit| place(limit)),
            most: max.and_then(|limit| place(limit)),
            margin: margin.and_then(|margin| width(&margin.value)),
        }
    }

    /// As cells, in the order of [`HEADS`].
    pub(super) fn cells(self) -> [Cell; 7] {
        let [value, expanded, least, most, margin] =
            [self.value, self.expanded, self.least, self.most, self.margin].map(Cell::number);
        [Cell::maybe(self.unit), Cell::maybe(self.bound), value, expanded, least, most, margin]
    }
}
