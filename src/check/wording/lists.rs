//! The listed phrases. To make a rule know one more word or phrase, add it here; to make it leave one alone, add the longer phrase to [`HARMLESS`].
//!
//! Phrases are in lower case, words separated by one space; a hyphen between words of the text counts as a space. Of several phrases that start at the
//! same word the longest wins, and what it covers is not looked at again: that is how `HARMLESS` works.

/// Phrases and the rule they break.
#[rustfmt::skip]
pub(super) const PHRASES: &[(&str, &[&str])] = &[
    ("goal-word", &[
        "should", "may", "might", "could", "can", "cannot", "must", "ought", "would", "need to", "needs to", "is to", "are to", "will",
    ]),
    ("vague-quantity", &[
        "some", "several", "many", "a lot of", "lots of", "a few", "few", "almost", "nearly", "about", "close to", "approximate",
        "approximately", "approx", "circa", "around", "roughly", "most of", "a number of", "a couple of",
    ]),
    ("vague-adjective", &[
        "adequate", "appropriate", "sufficient", "suitable", "acceptable", "reasonable", "proper", "typical", "significant", "relevant",
        "flexible", "robust", "efficient", "effective", "reliable", "safe", "smooth", "clean", "small", "large", "light", "fast", "low", "high",
    ]),
    ("escape-clause", &[
        "if possible", "where possible", "wherever possible", "when possible", "whenever possible", "as far as possible",
        "as little as possible", "as much as possible", "as soon as possible", "if practicable", "where practicable", "as practicable",
        "as far as practicable", "as far as is practicable", "as far as is possible", "if practical", "where practical", "as practical",
        "if necessary", "where necessary", "when necessary", "as necessary", "if needed", "as needed", "where needed", "when needed",
        "if required", "where required", "when required", "as required", "as appropriate", "if appropriate", "where appropriate",
        "as applicable", "if applicable", "where applicable", "to the extent", "to the maximum extent", "unless otherwise", "at the discretion",
    ]),
    ("open-ended", &[
        "etc", "et cetera", "and so on", "and so forth", "including but not limited to", "but not limited to", "such as", "e.g.", "e.g", "eg",
        "for example", "for instance", "as a minimum", "at a minimum", "at the minimum", "and similar", "or similar", "and the like",
        "or the like",
    ]),
    ("needless-infinitive", &[
        "be able to", "be capable of", "be designed to", "be intended to", "be provided to", "have the capability to", "have the capability of",
        "have the ability to", "have the ability of", "have a capability to", "have a capability of", "provide the capability to",
        "provide the capability of", "provide the ability to", "provide the capability for", "be provided with the capability to",
    ]),
    ("purpose-inside", &[
        "in order to", "in order that", "so that", "so as to", "to ensure that", "to ensure", "for the purpose of", "for the purposes of",
        "thus", "thereby",
    ]),
    ("see-elsewhere", &[
        "as shown above", "as shown below", "as described above", "as described below", "as stated above", "as stated below", "as defined above",
        "as defined below", "as specified above", "as specified below", "as given above", "as given below", "as listed above", "as listed below",
        "as noted above", "as noted below", "as mentioned above", "as described previously", "as stated previously", "as defined previously",
        "as previously described", "as previously stated", "as previously defined", "described above", "described below", "mentioned above",
        "listed above", "listed below", "specified above", "specified below", "defined above", "defined below", "stated above", "stated below",
        "shown above", "shown below", "given above", "given below", "noted above", "the above", "the below", "above mentioned", "aforementioned",
        "aforesaid", "see figure", "see fig", "see table", "see section", "see paragraph", "see note", "see above", "see below", "refer to",
        "as shown", "as described", "the previous section", "the previous requirement", "the previous paragraph", "the previous statement",
        "the preceding requirement", "the preceding section", "the following section", "the following requirement", "the following paragraph",
        "the next section", "the next requirement",
    ]),
    ("absolute", &[
        "always", "never", "completely", "entirely", "perfect", "perfectly", "totally", "absolutely", "no failures", "no failure",
        "zero failures", "zero leakage", "zero leak", "zero leaks", "zero defects", "no leakage", "no leaks", "no leak", "without exception",
        "without fail", "under all circumstances", "under any circumstances", "in all circumstances", "at all times", "in all cases",
        "under no circumstances",
    ]),
    ("solution-inside", &[
        "by means of", "by the use of", "by use of", "by using", "using", "via", "consisting of", "composed of", "comprised of", "made by",
        "manufactured by", "a worm gear", "a worm gearmotor", "a rack and pinion", "a lead screw", "a ball screw", "a stepper motor",
    ]),
    ("all-any-both", &[
        "all", "any", "both", "either",
    ]),
    ("unmeasurable", &[
        "maximize", "maximise", "maximizes", "maximises", "maximized", "maximised", "maximizing", "maximising", "minimize", "minimise",
        "minimizes", "minimises", "minimized", "minimised", "minimizing", "minimising", "optimize", "optimise", "optimizes", "optimises",
        "optimized", "optimised", "optimizing", "optimising", "improve", "improves", "enhance", "enhances", "enhanced", "reduce", "reduces",
    ]),
    ("indefinite-time", &[
        "eventually", "until", "before", "after", "as soon as", "immediately", "instantly", "instantaneously", "prompt", "promptly", "timely",
        "at last", "in a timely manner", "real time", "in due course", "without delay", "shortly", "before long", "after a while",
    ]),
    ("comparative", &[
        "better", "worse", "faster", "slower", "higher", "lower", "stronger", "larger", "smaller", "improved", "comparable", "equivalent to",
        "or equivalent", "similar", "similar to", "than the current", "than the old", "than the existing", "than the previous",
        "than the present",
    ]),
    ("superlative", &[
        "best", "most", "least", "highest", "lowest", "optimal", "optimum", "state of the art", "maximum", "minimum",
    ]),
    ("subjective", &[
        "user friendly", "easy", "easy to use", "simple", "intuitive", "convenient", "cost effective", "attractive", "nice", "elegant", "good",
        "high quality", "good quality", "excellent", "pleasing", "handy",
    ]),
    ("placeholder", &[
        "tbd", "tbr", "tbc", "tbs", "tbn", "xx", "xxx", "xxxx", "to be determined", "to be resolved", "to be confirmed", "to be supplied",
        "to be defined", "to be specified", "is to be determined", "is to be resolved", "is to be confirmed", "is to be supplied",
        "are to be determined", "are to be resolved", "are to be confirmed", "are to be supplied",
    ]),
    ("undefined-condition", &[
        "in service", "during operation", "at cold", "in use", "when cold", "when hot",
    ]),
    ("heading-needed", &[
        "ditto", "same as", "as for",
    ]),
    ("pronoun", &[
        "it", "its", "itself", "they", "them", "their", "theirs", "themselves", "this", "these", "those", "that", "which", "the former",
        "the latter", "the one", "the ones", "that one", "this one", "the other one", "another one",
    ]),
];

/// Longer phrases in which a listed word is harmless.
#[rustfmt::skip]
pub(super) const HARMLESS: &[&str] = &[
    "at least", "at the least", "at most", "at the most", "no less than", "not less than", "most recent", "most recently", "least significant",
    "most significant", "least squares", "significant figures", "significant figure", "significant digits", "significant digit",
    "effective area", "effective length", "effective diameter", "effective date", "effective orifice", "effective value", "effective stress",
    "effective mass", "safe state", "safe mode", "safe position", "safe hold", "safe area", "safe distance", "fail safe", "smooth bore",
    "flexible hose", "flexible hoses", "flexible line", "flexible lines", "flexible conduit", "flexible coupling", "flexible joint",
    "flexible tube", "flexible tubing", "proper motion", "significant wave height", "large scale", "small scale", "or better", "or lower",
    "or higher", "or larger", "or smaller", "good engineering practice", "as many as", "how many", "as required by", "as applicable to",
    "simple harmonic", "how best", "and the other", "on the other hand", "the other end", "the other side", "in light of", "light source",
    "light emitting", "most positive", "most negative", "at best", "higher level", "lower level", "after all", "all of which", "best effort",
    "tensile strength", "in this way", "to this end", "minimum risk", "maximum likelihood", "real time clock", "if any", "in that", "so long as",
    "is to the", "are to the", "at any one time", "at any time", "any one", "simple majority", "prompt radiation", "command prompt", "read only",
    "before and after", "relevant to", "in any case", "either side", "either end", "some other",
];
