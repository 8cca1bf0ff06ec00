//! A record worked out with other values, as somebody asked for it in a form.

use crate::analysis::Analysis;
use crate::cli::commands::working::supposing;
use crate::computed::InputValue;
use crate::quantity::parse_number;
use crate::report::pages::{Asked, WhatIf};
use crate::report::view::{self, Beside};

/// What comes of the values in the fields of a form, where the record at a place of the model works anything out.
pub(super) fn of(analysis: &Analysis, at: usize, fields: &[(String, String)]) -> Option<WhatIf> {
    let values = analysis.computed.of_record(at).filter(|values| !values.steps.is_empty())?;
    let asked: Vec<Asked> = values.inputs.iter().map(|input| asked(input, fields)).collect();
    let known = |name: &str| asked.iter().any(|own| own.input.name == name);
    let strange = fields.iter().filter(|(name, value)| !known(name) && !value.is_empty());
    let others = asked.iter().filter_map(|own| Some((own.input.name.as_str(), own.value.as_deref()?)));
    let supposed: Vec<(&str, &str)> =
        others.chain(strange.map(|(name, value)| (name.as_str(), value.as_str()))).collect();
    let beside = Beside { solve: None, all_trials: false };
    let recorded = view::worked(analysis, &analysis.facts(), at, beside);
    let found =
        (!supposed.is_empty()).then(|| supposing(analysis, at, &supposed, beside).map_err(|error| error.in_words()));
    Some(WhatIf::of(&asked, &recorded, found))
}

/// What a field asks for: a bare number is so many of the unit, with the uncertainty as it is; else it is a quantity.
fn asked<'a>(input: &'a InputValue, fields: &'a [(String, String)]) -> Asked<'a> {
    let typed = fields.iter().find(|(name, value)| *name == input.name && !value.trim().is_empty());
    let typed = typed.map(|(_, value)| value.trim());
    let number = typed.and_then(|typed| parse_number(typed).ok());
    let value = match (&number, typed) {
        (Some(number), _) => {
            let other = input.quantity.at(&number.value);
            (other.number() != input.quantity.number()).then(|| other.in_full())
        }
        (None, typed) => typed.map(str::to_string),
    };
    Asked { input, typed, value }
}
