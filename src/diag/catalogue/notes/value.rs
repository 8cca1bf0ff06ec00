//! Numbers and their units.

use super::super::{Class, CodeEntry, Example};

pub(super) const BARE_VALUE: CodeEntry = CodeEntry {
    code: "bare-value",
    class: Class::Note,
    summary: "\"shall be\", have, weigh or measure and a value with a unit, with no bound or tolerance anywhere",
    why: "No hardware measures exactly 2 s: without a bound or a tolerance every result is a failure, or none is.",
    source: "INCOSE Guide to Writing Requirements, R33; NASA Systems Engineering Handbook, Appendix C, C.2 (tolerances)",
    example: Some(Example { bad: "The closing time shall be 2 s.", good: "The closing time shall be at most 2.0 s." }),
    help: "write \"at most\", \"at least\", a range, or a tolerance with +/-",
};

pub(super) const OPEN_INTERVAL: CodeEntry = CodeEntry {
    code: "open-interval",
    class: Class::Note,
    summary: "between X and Y without \"inclusive\", or a range with an end missing",
    why: "Whether a result exactly on the end counts must be settled before it is measured.",
    source: "INCOSE Guide to Writing Requirements, R33 (from memory)",
    example: Some(Example {
        bad: "The purge flow shall be between 2 and 6 g/s.",
        good: "The purge flow shall be at least 2.0 g/s.",
    }),
    help: "write \"from X to Y\", \"between X and Y inclusive\", or \"at least\" and \"at most\"",
};

pub(super) const MISSING_UNIT: CodeEntry = CodeEntry {
    code: "missing-unit",
    class: Class::Note,
    summary: "a limit that is a number with no unit (margins, ratios, factors, efficiencies, levels and counts have none)",
    why: "28 of what: a limit without its unit has been met by the wrong number before.",
    source: "INCOSE Guide to Writing Requirements, R6",
    example: Some(Example {
        bad: "The supply voltage shall be at most 28.",
        good: "The supply voltage shall be at most 28 V.",
    }),
    help: "add the unit: \"at most 28 V\"",
};

pub(super) const AMBIGUOUS_UNIT: CodeEntry = CodeEntry {
    code: "ambiguous-unit",
    class: Class::Note,
    summary: "gal, ton, cal, cc, lb, scfm, sccm, scc/s, C alone, degrees of temperature with no scale (for psi and bar see gauge-or-absolute)",
    why: "The symbol has more than one meaning, and the difference is often larger than the margin.",
    source: "INCOSE Guide to Writing Requirements, R6; the list of units is common practice, no source",
    example: Some(Example {
        bad: "The helium leakage shall be at most 1e-4 scc/s.",
        good: "The helium leakage shall be at most 1e-4 mbar*L/s at 20 degC.",
    }),
    help: "write the unit in full: degC, lbf or lbm, US gallon, slpm(0 degC, 101.325 kPa abs), mbar*L/s at a stated temperature",
};

pub(super) const GAUGE_OR_ABSOLUTE: CodeEntry = CodeEntry {
    code: "gauge-or-absolute",
    class: Class::Note,
    summary: "a pressure with none of gauge, absolute, differential, drop",
    why: "Gauge and absolute differ by one atmosphere: too small to notice at 4 MPa, and everything at a vented line or in a leak check.",
    source: "common practice, no source",
    example: Some(Example {
        bad: "The body shall withstand 6.0 MPa for 180 s.",
        good: "The body shall withstand 6.0 MPa gauge for 180 s.",
    }),
    help: "write \"gauge\", \"absolute\" or \"differential\" after the unit",
};

pub(super) const COMMA_DECIMAL: CodeEntry = CodeEntry {
    code: "comma-decimal",
    class: Class::Note,
    summary: "digits, a comma and one or two digits; or a comma between thousands in a value with a unit",
    why: "12,0 is twelve to one reader and a hundred and twenty to the next.",
    source: "INCOSE Guide to Writing Requirements, 2023 edition, decimal format (from memory)",
    example: Some(Example {
        bad: "The stem diameter shall be at most 12,0 mm.",
        good: "The stem diameter shall be at most 12.0 mm.",
    }),
    help: "write a decimal point, and a space or nothing between thousands",
};
