//! Word lists that the matchers look single words up in.

use std::collections::BTreeSet;
use std::sync::LazyLock;

/// Words that end in -ly and say something definite, or are no adverbs; -ally words are taken as definite unless listed in [`VAGUE_ADVERBS`].
#[rustfmt::skip]
pub(super) const DEFINITE_LY: &[&str] = &[
    "only", "fully", "assembly", "subassembly", "supply", "resupply", "apply", "reapply", "family", "fly", "independently", "reply", "comply",
    "rely", "imply", "multiply", "anomaly", "poly", "butterfly", "ally", "july", "early", "daily", "weekly", "monthly", "yearly", "hourly",
    "quarterly", "monopoly", "simultaneously", "separately", "respectively", "directly", "indirectly", "continuously", "remotely", "visually",
    "concurrently", "individually", "mutually", "positively", "negatively", "exactly", "previously", "consecutively", "sequentially",
    "successively", "likely", "unlikely", "explicitly", "singly", "jointly", "uniquely", "inversely", "transversely", "longitudinally",
    "outwardly", "inwardly", "upwardly", "downwardly", "publicly", "solely", "namely", "currently", "newly", "subsequently", "alternately",
    "alternatively", "exclusively", "inclusively", "linearly", "uniformly", "firstly", "secondly", "thirdly", "lastly", "finely", "doubly",
    "friendly", "orderly", "costly", "timely", "asynchronously", "synchronously", "autonomously", "spuriously", "inadvertently", "directionally",
    "irreversibly", "reversibly", "freely", "homogeneously", "endlessly", "instantaneously", "erroneously", "unambiguously", "holy", "italy",
    "tally", "rally", "belly", "jelly", "gully", "bully", "ply", "sly", "curly", "wholly", "correctly", "incorrectly", "successfully",
    "unsuccessfully",
];

/// Words in -ally that are vague all the same, and those of other endings that are surely so.
#[rustfmt::skip]
pub(super) const VAGUE_ADVERBS: &[&str] = &[
    "normally", "usually", "typically", "generally", "periodically", "occasionally", "substantially", "essentially", "practically", "basically",
    "minimally", "maximally", "optimally", "nominally", "gradually", "ideally", "principally", "intermittentally", "especially", "partially",
    "economically", "virtually", "casually", "marginally", "critically", "drastically", "dramatically",
];

/// Adverbs that another rule already speaks for.
#[rustfmt::skip]
pub(super) const OTHER_LY: &[&str] = &[
    "nearly", "approximately", "roughly", "completely", "entirely", "totally", "absolutely", "perfectly", "eventually", "immediately",
    "promptly", "instantly", "shortly",
];

/// People, as the subject of a demand.
#[rustfmt::skip]
pub(super) const PEOPLE: &[&str] = &[
    "operator", "operators", "technician", "technicians", "crew", "crews", "user", "users", "team", "teams", "engineer", "engineers",
    "inspector", "inspectors", "supplier", "suppliers", "personnel", "staff", "conductor", "contractor", "contractors", "manufacturer", "vendor",
    "person", "people",
];

/// Verbs that count as an action when they follow "and" or "or".
#[rustfmt::skip]
pub(super) const ACTIONS: &[&str] = &[
    "open", "close", "seal", "hold", "report", "survive", "operate", "indicate", "withstand", "vent", "provide", "maintain", "record", "return",
    "remain", "stop", "start", "reset", "increment", "issue", "generate", "send", "transmit", "reject", "accept", "abort", "execute", "display",
    "deliver", "limit", "prevent", "protect", "carry", "support", "resist", "measure", "detect", "move", "stay", "keep", "release", "isolate",
    "command", "activate", "deactivate", "enable", "disable", "discard", "store", "collect", "compute", "calculate", "write", "read", "log",
    "signal", "meet", "pass", "have", "be", "contain", "allow", "drain", "purge", "cool", "heat", "relieve", "use", "set", "clear", "delete",
    "copy", "decompress", "compress", "load", "unload",
];

/// Actions that are hardly ever nouns, so that any word may follow them.
#[rustfmt::skip]
pub(super) const SURE_ACTIONS: &[&str] = &[
    "survive", "operate", "indicate", "withstand", "provide", "maintain", "remain", "generate", "send", "transmit", "reject", "accept",
    "execute", "deliver", "prevent", "protect", "carry", "detect", "isolate", "activate", "deactivate", "discard", "compute", "calculate",
    "contain", "relieve", "have", "be", "enable", "disable", "increment", "delete",
];

/// What may follow a word that is an action, and not a noun of a compound.
#[rustfmt::skip]
pub(super) const AFTER_ACTION: &[&str] = &[
    "the", "a", "an", "its", "each", "this", "any", "all", "no", "not", "at", "within", "to", "in", "on", "for", "from", "by", "against", "with",
    "under", "without", "until", "when", "while", "if", "after", "before", "and", "or", "below", "above", "between", "during", "only", "both",
    "these", "those",
];

/// Verbs after "shall" that say nothing to observe.
#[rustfmt::skip]
pub(super) const WEAK_VERBS: &[&[&str]] = &[
    &["support"], &["provide", "for"], &["handle"], &["process"], &["accommodate"], &["facilitate"], &["enable"], &["address"],
    &["allow", "for"], &["consider"], &["assist"], &["cater", "for"], &["deal", "with"],
];

/// Words in -ed and -en that are no participles.
#[rustfmt::skip]
pub(super) const NOT_PARTICIPLES: &[&str] = &[
    "red", "bed", "speed", "feed", "need", "seed", "embed", "hundred", "sacred", "wicked", "rugged", "indeed", "exceed", "proceed", "succeed",
    "shed", "led", "open", "even", "ten", "seven", "eleven", "dozen", "golden", "oxygen", "nitrogen", "hydrogen", "often", "then", "when",
    "screen", "green", "oven", "between", "wooden", "specimen", "token", "halogen", "listen", "men", "pen", "den",
];

/// Participles that end otherwise.
#[rustfmt::skip]
pub(super) const PARTICIPLES: &[&str] = &[
    "kept", "held", "shown", "made", "built", "cut", "set", "put", "shut", "sent", "found", "read", "brought", "left", "lost", "met", "worn",
    "torn", "drawn", "bent", "wound", "done", "known", "run", "fed", "swept", "bound", "caught", "laid", "paid", "understood",
];

/// Plural nouns that stand for a group that nobody has listed.
#[rustfmt::skip]
pub(super) const GROUPS: &[&str] = &[
    "sensors", "seals", "interfaces", "instruments", "parts", "lines", "components", "fittings", "channels", "valves", "systems", "subsystems",
    "units", "connectors", "fasteners", "joints", "surfaces", "materials", "devices", "elements", "assemblies", "modes", "functions", "signals",
    "parameters", "measurements", "hazards", "failures", "faults", "users", "operators", "requirements", "standards", "tools",
];

/// Words before a number that then names something.
#[rustfmt::skip]
pub(super) const LABELLED: &[&str] = &[
    "level", "class", "grade", "type", "revision", "rev", "step", "steps", "section", "sections", "clause", "clauses", "paragraph", "table",
    "figure", "fig", "drawing", "item", "schedule", "size", "dn", "pn", "nps", "no", "number", "phase", "version", "part", "channel", "channels",
    "pin", "pins", "stage", "mode", "category", "appendix", "annex", "chapter", "note", "series", "alloy", "page", "line", "option", "position",
    "sample", "specimen", "unit", "device", "port", "bit", "bits", "issue", "edition", "amendment", "message", "command", "id",
];

/// Bodies whose documents have editions.
#[rustfmt::skip]
pub(super) const STANDARDS: &[&str] = &[
    "ASTM", "ASME", "ISO", "IEC", "IEEE", "CGA", "MIL", "NASA", "ECSS", "AIAA", "EN", "DIN", "API", "ANSI", "SAE", "IEST", "NFPA", "BS", "JIS",
    "NAS",
];

/// Abbreviations that need no glossary, and words of prose that are written in capitals.
#[rustfmt::skip]
pub(super) const KNOWN_CAPITALS: &[&str] = &[
    "AC", "AIAA", "ANSI", "API", "ASCII", "ASME", "ASTM", "AWG", "BS", "BSP", "CAD", "CAN", "CE", "CGA", "CNC", "CPU", "CSV", "DC", "DIN", "DN",
    "ECSS", "EMC", "EMI", "EN", "EPDM", "ESD", "EU", "FEP", "FFKM", "FKM", "GMT", "GN", "GOX", "GPS", "HEPA", "HTML", "HTTP", "ID", "IEC",
    "IEEE", "IEST", "INCOSE", "IP", "IR", "ISO", "JIS", "JSON", "LED", "LN", "LOX", "MIL", "NAS", "NASA", "NBR", "NFPA", "NIST", "NPS", "NPT",
    "OD", "PC", "PCB", "PCTFE", "PDF", "PEEK", "PFA", "PID", "PN", "PPS", "PTFE", "PVC", "PWM", "RAM", "RF", "RH", "RMS", "ROM", "RPM", "SAE",
    "SI", "SMA", "STD", "TIG", "TNT", "UHMWPE", "UK", "UN", "UNC", "UNF", "UNS", "UPS", "URL", "US", "USA", "USB", "UTC", "UV", "VAC", "VDC",
    "XLSX", "XML", "HV", "HRC", "HB", "NC", "NO", "OK", "CAUTION", "NOTE", "WARNING", "AND", "OR", "NOT", "SHALL", "ALL", "ANY", "IF", "WHEN",
    "WHILE", "THEN", "ONLY", "MUST", "WILL", "BE", "IS", "THE", "TO", "OF", "IN", "ON", "OFF", "AT", "OPEN", "CLOSED", "CLOSE", "START", "STOP",
    "ABORT", "TRUE", "FALSE", "PASS", "FAIL", "II", "III", "IV", "VI", "VII", "VIII", "IX", "XI", "XII", "TBD", "TBR", "TBC", "TBS", "TBN", "XX",
    "XXX", "XXXX", "WITH", "FOR", "FROM", "BY", "AN", "EACH", "EVERY", "NEVER", "ALWAYS", "YES", "ERROR", "DEBUG", "INFO", "ACTIVE", "STALE",
    "IDLE", "DATA", "VALUE", "CHECK", "FAILED", "ARMED", "SAFE", "RESET", "READY", "LOW", "HIGH", "MAX", "MIN",
];

/// Whether this is one of [`KNOWN_CAPITALS`].
pub(super) fn is_known_capitals(word: &str) -> bool {
    static KNOWN: LazyLock<BTreeSet<&str>> = LazyLock::new(|| KNOWN_CAPITALS.iter().copied().collect());
    KNOWN.contains(word)
}
