//! The usual cautions, by hazard. General, incomplete on purpose, and always deferring to those responsible.

/// What ends every list of cautions, and every answer with nothing open.
pub const DEFER: &str = "This checks records, not hardware: whether to operate is for the people responsible, under the codes that apply where they are.";

/// The cautions for one hazard, as items write it; common practice, no source.
pub fn for_hazard(hazard: &str) -> &'static [&'static str] {
    match hazard {
        "oxygen" => &[
            "Nearly everything burns in oxygen, metals too; particles, quick compression and friction ignite.",
            "Oil, grease, fibres and most polymers stay out; a tool or glove that is not clean undoes the cleaning.",
            "Open slowly into dead volumes: ball valves open fast by nature.",
            "Spilled liquid soaks into asphalt, wood and clothing, which can then burn on impact.",
        ],
        "pressure" => &[
            "Gas under pressure stores far more energy than liquid; keep people away from pneumatic tests.",
            "No volume that can hold a cold liquid may be shut in without relief.",
            "Vent to zero and verify by two means before loosening anything.",
        ],
        "cryogenic" => &[
            "Cold metal and liquid burn skin and eyes at once.",
            "Materials shrink and turn brittle; bolts lose preload; ice blocks vents and holds stems.",
            "Surfaces below about 82 K condense air rich in oxygen.",
            "Nitrogen and helium displace the air that people breathe: monitor, ventilate, never enter alone.",
        ],
        "stored-energy" => &[
            "Springs, actuators and capacitors hold energy with the power off; a valve can move when power returns.",
            "Lock out, tag out, try out.",
        ],
        "remote-operation" => &[
            "Nobody inside the hazard distance once pressurised, chilled or armed.",
            "A command is not a position; one switch is not two.",
        ],
        _ => &[],
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::kinds::item::HAZARDS;

    #[test]
    fn every_known_hazard_has_cautions() {
        assert!(HAZARDS.iter().all(|hazard| !for_hazard(hazard).is_empty()));
    }
}
