//! Instruments: calibrations that hold longer than they did, reach less far back, or are gone; and what is stated better.

use std::cmp::Ordering;
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

/// How what is stated now stands beside what was.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Stated {
    /// No better than it was.
    AsMuch,
    /// Better than it was, or not stated any more.
    Better,
    /// In words, or of another sort: nobody can tell.
    NotComparable,
}

/// What is stated of how well it reads, where that is more than it was, cannot be held against it, or is not said any more.
fn stated(list: &mut List<'_, '_>, old: &Instrument, new: &Instrument) {
    let (was, is) = (&old.capability, &new.capability);
    let ambient = list.now.config.ambient.as_ref();
    let range = |of: &Instrument| of.range.as_ref().map(|own| own.value.clone());
    let resolution = |of: &Instrument| of.resolution.as_ref().map(|own| own.value.clone());
    let uncertainty = Instrument::stated_uncertainty;
    let found = [
        ("range", range(old), range(new), reaches(was.range.as_ref(), is.range.as_ref(), ambient)),
        ("resolution", resolution(old), resolution(new), shows(was.resolution.as_ref(), is.resolution.as_ref())),
        ("uncertainty", uncertainty(old), uncertainty(new), reads(&was.uncertainty, &is.uncertainty)),
    ];
    for (what, then, now, stated) in found {
        let beside = match stated {
            Stated::AsMuch => continue,
            Stated::NotComparable if now.is_some() => ", and the two cannot be compared",
            _ => "",
        };
        let [then, now] = [then, now].map(|text| text.unwrap_or_else(|| "nothing".into()));
        list.say(&old.id.value, format!("its {what} is stated as {now} instead of {then}{beside}"));
    }
}

/// Whether a range reaches further at either end. None reaches everywhere, since nothing is held against it.
fn reaches(was: Option<&Limits>, is: Option<&Limits>, ambient: Option<&Quantity>) -> Stated {
    let Some(was) = was else { return Stated::AsMuch };
    let Some(is) = is else { return Stated::NotComparable };
    let end = |old: &Option<Arc<Quantity>>, new: &Option<Arc<Quantity>>, further: Ordering| match (old, new) {
        (Some(old), Some(new)) => match new.compare(old, ambient) {
            Ok(found) if found == further => Stated::Better,
            Ok(_) => Stated::AsMuch,
            Err(_) => Stated::NotComparable,
        },
        (Some(_), None) => Stated::Better,
        (None, _) => Stated::AsMuch,
    };
    let ends = [end(&was.min, &is.min, Ordering::Less), end(&was.max, &is.max, Ordering::Greater)];
    let first = |wanted| ends.contains(&wanted).then_some(wanted);
    first(Stated::Better).or(first(Stated::NotComparable)).unwrap_or(Stated::AsMuch)
}

fn shows(was: Option<&Width>, is: Option<&Width>) -> Stated {
    match (was, is) {
        (None, _) => Stated::AsMuch,
        (Some(was), Some(is)) if is.is_like(was) && is.size >= was.size => Stated::AsMuch,
        (Some(was), Some(is)) if is.is_like(was) => Stated::Better,
        _ => Stated::NotComparable,
    }
}

/// Whether some reading could have a smaller uncertainty: a part is gone, and none is there that is as large wherever it counts.
fn reads(was: &[InstrumentUncertainty], is: &[InstrumentUncertainty]) -> Stated {
    let gone: Vec<&InstrumentUncertainty> =
        was.iter().filter(|old| !is.iter().any(|new| new.is_at_least(old))).collect();
    // What is of its sort is smaller, and what else there is was there before or adds to it.
    let comparable = |old: &InstrumentUncertainty| is.iter().any(|new| new.is_like(old) || was.contains(new));
    match gone.as_slice() {
        [] => Stated::AsMuch,
        gone if gone.iter().any(|old| comparable(old)) => Stated::Better,
        _ => Stated::NotComparable,
    }
}
