//! Instruments: calibrations that hold longer than they did, reach less far back, or are gone; and what is stated better.

use std::sync::Arc;

use crate::config::{Calibration, Instrument};
use crate::quantity::{InstrumentUncertainty, Limits, Quantity, Width};

use super::List;

/// Compares every instrument.
pub(super) fn compare(list: &mut List<'_, '_>) {
    let then = list.then;
    for (id, old) in &then.part.instruments {
        let Some(new) = list.now.instruments.get(id) else {
            list.say(id, "the instrument is no longer listed");
            continue;
        };
        for calibration in &old.calibrations {
            calibrated(list, old, new, calibration);
        }
        stated(list, old, new);
    }
}

fn calibrated(list: &mut List<'_, '_>, old: &Instrument, new: &Instrument, calibration: &Calibration) {
    let id = &old.id.value;
    let day = |one: &Calibration| one.on.as_ref().map(|on| on.date);
    let due = |one: &Calibration| one.due.as_ref().map(|due| due.date);
    let name = calibration.on.as_ref().map_or("no date".to_string(), |on| on.text.clone());
    let same: Vec<&Calibration> = new.calibrations.iter().filter(|other| day(other) == day(calibration)).collect();
    let Some(after) = same.first() else {
        list.say(id, format!("the calibration of {name} is no longer listed"));
        return;
    };
    if let (Some(was), Some(is)) = (due(calibration), due(after))
        && is > was
    {
        list.say(id, format!("the calibration of {name} holds to {is} instead of {was}"));
    }
    if let Some(text) = recalled(new, calibration) {
        list.say(id, text);
    }
    let Some(recall) = same.iter().find(|other| other.is_recall()).filter(|_| calibration.is_recall()) else { return };
    if recall.keeps_evidence.keeps_more_than(&calibration.keeps_evidence) {
        list.say(id, format!("the calibration of {name} keeps more evidence"));
    }
    let reaches = |of: &Instrument, one: &Calibration| of.before(one).map(|good| good.date);
    if reaches(new, recall) > reaches(old, calibration) {
        let since = new.before(recall).map_or("", |good| good.text.as_str());
        list.say(id, format!("the calibration of {name} puts only what is from {since} on in doubt"));
    }
}

/// Findings about an instrument that are not listed any more.
pub(in crate::history) fn recalls(old: &Instrument, new: &Instrument) -> Vec<String> {
    let recalls = old.calibrations.iter().filter(|calibration| calibration.is_recall());
    recalls.filter_map(|calibration| recalled(new, calibration)).collect()
}

/// Of a calibration that found it out of tolerance: that it does not say so any more.
fn recalled(new: &Instrument, calibration: &Calibration) -> Option<String> {
    let day = |one: &Calibration| one.on.as_ref().map(|on| on.date);
    let still = new.calibrations.iter().any(|other| day(other) == day(calibration) && other.is_recall());
    let name = calibration.on.as_ref().map_or("no date", |on| on.text.as_str());
    (calibration.is_recall() && !still)
        .then(|| format!("the calibration of {name} no longer says that it was found out of tolerance"))
}

/// What is stated of how well it reads, where that is more than it was, or is not said any more.
fn stated(list: &mut List<'_, '_>, old: &Instrument, new: &Instrument) {
    let id = &old.id.value;
    let (was, is) = (&old.capability, &new.capability);
    if is_wider(was.range.as_ref(), is.range.as_ref()) {
        list.say(
            id,
            less("range", old.range.as_ref().map(|own| &*own.value), new.range.as_ref().map(|own| &*own.value)),
        );
    }
    if is_finer(was.resolution.as_ref(), is.resolution.as_ref()) {
        let text = |of: &Instrument| of.resolution.as_ref().map(|own| own.value.clone());
        list.say(id, less("resolution", text(old).as_deref(), text(new).as_deref()));
    }
    if is_better(&was.uncertainty, &is.uncertainty) {
        list.say(id, less("uncertainty", old.stated_uncertainty().as_deref(), new.stated_uncertainty().as_deref()));
    }
}

fn less(what: &str, was: Option<&str>, is: Option<&str>) -> String {
    format!("its {what} is stated as {} instead of {}", is.unwrap_or("nothing"), was.unwrap_or("nothing"))
}

/// Whether a range reaches further at either end. None reaches everywhere, since nothing is held against it.
fn is_wider(was: Option<&Limits>, is: Option<&Limits>) -> bool {
    let Some(was) = was else { return false };
    let Some(is) = is else { return true };
    let further = |old: &Option<Arc<Quantity>>, new: &Option<Arc<Quantity>>, order: std::cmp::Ordering| match (old, new)
    {
        (Some(old), Some(new)) => new.compare(old, None).map_or(true, |found| found == order),
        (old, new) => old.is_some() && new.is_none(),
    };
    further(&was.min, &is.min, std::cmp::Ordering::Less) || further(&was.max, &is.max, std::cmp::Ordering::Greater)
}

fn is_finer(was: Option<&Width>, is: Option<&Width>) -> bool {
    match (was, is) {
        (Some(was), Some(is)) => !is.is_like(was) || is.size < was.size,
        (was, is) => was.is_some() && is.is_none(),
    }
}

/// Whether some reading could have a smaller uncertainty: a part is gone, and none is there that is as large wherever it counts.
fn is_better(was: &[InstrumentUncertainty], is: &[InstrumentUncertainty]) -> bool {
    was.iter().any(|old| !is.iter().any(|new| new.is_at_least(old)))
}
