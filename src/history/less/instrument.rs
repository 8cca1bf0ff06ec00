//! Instruments: calibrations that hold longer than they did.

use crate::config::Calibration;

use super::List;

/// Compares every instrument.
pub(super) fn compare(list: &mut List<'_, '_>) {
    let then = list.then;
    for (id, old) in &then.part.instruments {
        let Some(new) = list.now.instruments.get(id) else {
            list.say(id, "the instrument is no longer listed");
            continue;
        };
        let day = |one: &Calibration| one.on.as_ref().map(|on| on.date);
        for calibration in &old.calibrations {
            let name = calibration.on.as_ref().map_or("no date".to_string(), |on| on.text.clone());
            let due = |one: &Calibration| one.due.as_ref().map(|due| due.date);
            let Some(after) = new.calibrations.iter().find(|other| day(other) == day(calibration)) else {
                list.say(id, format!("the calibration of {name} is no longer listed"));
                continue;
            };
            if let (Some(was), Some(is)) = (due(calibration), due(after))
                && is > was
            {
                list.say(id, format!("the calibration of {name} holds to {is} instead of {was}"));
            }
        }
    }
}
