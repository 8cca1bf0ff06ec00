//! The words of the trade as this program uses them: one word for one idea, everywhere.

/// A word and what it means here.
pub(super) struct Word {
    /// The word.
    pub word: &'static str,
    /// What it means.
    pub meaning: &'static str,
    /// More that is worth knowing.
    pub more: &'static str,
    /// Where it is written, and an example to type.
    pub help: Option<&'static str>,
}

const fn word(word: &'static str, meaning: &'static str, more: &'static str) -> Word {
    Word { word, meaning, more, help: None }
}

impl Word {
    const fn help(self, help: &'static str) -> Word {
        Word { help: Some(help), ..self }
    }
}

/// What the four methods of verification are taken from.
pub(super) const METHODS_FROM: &str = "NASA Systems Engineering Handbook (SP-2016-6105), section 5.3";

/// What the stages are taken from.
pub(super) const STAGES_FROM: &str =
    "NASA Systems Engineering Handbook (SP-2016-6105), section 5.3 (from memory); common practice for flight hardware";

/// The four methods.
pub(super) const METHODS: &[Word] = &[
    word(
        "analysis",
        "shown by calculation, simulation or similarity",
        "A record of it is about the design: it names an item, or nothing.",
    )
    .help("slipmark new analysis --for ID writes one, with its keys and what each means"),
    word("demonstration", "shown by operating it and observing, without measuring", "It needs a procedure.")
        .help("slipmark new demonstration --for ID writes one, with its keys and what each means"),
    word(
        "inspection",
        "shown by looking or gauging, without operating it",
        "Its result may be a word or a measured value.",
    )
    .help("slipmark new inspection --for ID writes one, with its keys and what each means"),
    word(
        "test",
        "shown by running it under controlled conditions and measuring",
        "It needs a procedure, and instruments that are in calibration on that day.",
    )
    .help("slipmark new test --for ID writes one, with its keys and what each means"),
];

/// The stages.
pub(super) const STAGES: &[Word] = &[
    word(
        "development",
        "while the design is being found",
        "A failure of this stage counts only for entries of this stage or of none.",
    ),
    word(
        "qualification",
        "to show that the design meets its requirements with margin",
        "One piece in service or qualification use is enough unless the entry says otherwise.",
    ),
    word(
        "acceptance",
        "to show that one piece was made as designed",
        "Each piece in service use needs it unless the entry says otherwise.",
    ),
];

/// Everything else.
pub(super) const WORDS: &[Word] = &[
    word(
        "requirement",
        "one thing that must hold, with its criteria and plan",
        "Its statement is the shall sentence: the body before the first heading.",
    ).help("slipmark new requirement writes one, with its keys and what each means"),
    word(
        "criterion",
        "one measurable thing in a requirement, with its limit and the conditions under which it holds",
        "A requirement without any has one, `met`, that expects `pass`.",
    ),
    word(
        "record",
        "evidence: an analysis, test, inspection or demonstration",
        "It counts once it is signed: slipmark sign.",
    ),
    word(
        "limited life",
        "so many cycles, so many hours or so much time, after which a part is replaced",
        "[life.NAME] with `limit` in its item; records and held events say what they used: uses.NAME; events of slipmark.toml what they will.",
    ),
    word("item", "a node of the product tree", "Its pieces are its serials.").help("slipmark new item writes one, with its keys and what each means"),
    word(
        "serial",
        "one serial-numbered piece of an item, written MOV/SN02",
        "Its use is service, qualification or spare.",
    ),
    word(
        "slot",
        "a place in the product tree that competing concepts could fill",
        "Requirements on a slot are judged on its current option.",
    ).help("slipmark new slot writes one, with its keys and what each means"),
    word(
        "option",
        "an item that fills a slot: a candidate, the current one, or dropped",
        "A decision selects or drops it.",
    ),
    word(
        "procedure",
        "how a test, inspection or demonstration is carried out",
        "It has a revision; runs of an earlier one count only if it says so, with a reason.",
    ).help("slipmark new procedure writes one, with its keys and what each means"),
    word(
        "instrument",
        "what something is measured with; it stands in instruments.toml with its calibrations",
        "One that is found out of tolerance puts all that it was used for since the calibration before in doubt: write as_found = \"out of tolerance\". Before that: slipmark impact ID.",
    ).help("in instruments.toml: [ID] with what, range, uncertainty; below it [[ID.calibrations]] with on, due, certificate"),
    word(
        "decision",
        "a dated choice that selects or drops options and adds, revises, withdraws or keeps requirements",
        "",
    ).help("slipmark new decision writes one, with its keys and what each means"),
    word(
        "nonconformance",
        "a departure found on hardware",
        "A failure stands until one that names its record in found_by is closed.",
    ).help("slipmark new nonconformance writes one, with its keys and what each means"),
    word(
        "waiver",
        "an approved, limited permission to depart from a requirement",
        "It holds for one text of the requirement, within its scope, and as long as it says.",
    ).help("slipmark new waiver --for ID writes one, with its keys and what each means"),
    word(
        "event",
        "a point in the campaign that things must be closed before",
        "Such as leak-check, cold-shock, cold-flow, hot-fire; slipmark.toml lists them in their order. A date there says when it is planned.",
    ).help("in slipmark.toml: [[events]] with name, date, serials; or names alone: events = [\"leak-check\", \"hot-fire\"]"),
    word(
        "held event",
        "that an event was held: when, with which pieces, and how it ended",
        "What must come after an event is shown by one that was completed; what must be shown again after it is void once one was held, however it ended.",
    ).help("slipmark new event --for NAME writes one, with its keys and what each means"),
    word("plan entry", "one `verify` of a requirement: method, stage, before which event, on which pieces", ""),
    word(
        "row",
        "one plan entry for one subject: what `before` and `matrix` list",
        "The subject is a piece, an item, or the project.",
    ),
    word(
        "mark",
        "what evidence carries of the requirement that it was judged against",
        "Twelve hex digits over the statement and the criteria. Like the stripe of paint across a nut and its joint: when it no longer lines up, something has moved.",
    ),
    word(
        "seal",
        "what `sign` writes over a record, so that an edit afterwards shows",
        "Twelve hex digits over the front matter and the calculations. It finds accidents; who did what is git's business.",
    ),
    word(
        "role",
        "who must perform or witness what, under [[roles]] in slipmark.toml",
        "A record of other people counts as unsigned. A test, inspection or demonstration that people depend on needs a witness who did not perform it, whatever the roles.",
    ),
    word(
        "failure",
        "a signed result that does not meet its criterion now, with its mark lined up, or did not when it was signed",
        "No newer pass outvotes it.",
    ),
    word("fault", "a finding that could make an answer wrong", "`check` fails, and `before` counts it as open."),
    word(
        "gap",
        "a finding about something that must exist and does not",
        "`before` counts it as open if it is of what is due; `check --gaps` fails.",
    ),
    word(
        "warning",
        "a finding about poor practice",
        "`check --strict` fails. Its level can be set under [levels] in slipmark.toml.",
    ),
    word("note", "a finding about wording", "Nothing fails. `check --notes` lists them."),
    word(
        "orphan",
        "something that hangs from nothing",
        "A requirement without parent or source, an attachment of no record.",
    ),
    word(
        "open",
        "not closed and not waived",
        "It is the word for a row's verdict, never a state, and never a valve's position.",
    ),
    word("packet", "the review document with its list of hashes", ""),
    word(
        "templates",
        "what pages are laid out by; a project may have its own in a folder: templates = \"DIR\" in slipmark.toml",
        "A file there takes the place of slipmark's own of the same name; `slipmark templates` lists them with what each uses, `slipmark templates NAME --write DIR` copies one to start from. \
         The language is that of minijinja; HTML is always escaped, a name that is not known is an error, nothing but the templates that are listed can be included, and no script runs. \
         They are files of the project: git tracks them, the manifest lists them with their hashes, and a packet is made again with those of its commit. \
         Every page that they set begins with a note that says so, with the verdict, and is looked at when it is finished. It must begin as slipmark's own do, up to the generator; its tags must nest. \
         Each open row must stand in a tr, li or p of its own with its requirement, state and subject; the verdict, faults, gaps, open nonconformances, what is asked less, the usual cautions and who decides must be said. A page that leaves any of it out is not made. \
         A workbook and a PDF are made without templates of a project. What a style hides no program can tell: read the packet once as it is printed.",
    ),
    word(
        "statement",
        "what a requirement says: its shall sentence",
        "The text of its file before the first heading. The mark is made of it and of the criteria.",
    )
    .help("in the requirement, below the front matter: The valve shall close within 1.5 s."),
    word(
        "limit",
        "what a criterion asks of its result: at least, at most, a value with a tolerance, a count or a word",
        "TBD stands for one that is not settled yet, and keeps the requirement open. A limit may be worked out from parameters.",
    )
    .help("in the requirement, under [criteria.NAME]: min = \"0.5\", max = \"1.5 s\", equals with tolerance, count or expect"),
    word(
        "condition",
        "what must hold while a result is taken, for the criterion to be shown by it",
        "A result whose condition is not recorded, or is outside its limits, is void for that criterion.",
    )
    .help("asked in the requirement: at.body = { max = \"95 K\" } under [criteria.NAME]; recorded: slipmark fill TR-012 conditions.body=\"91 ± 1 K\""),
    word(
        "parameter",
        "a value with a name, for limits and calculations of the whole project",
        "When it moves, so do the limits that name it. What would fall: slipmark impact NAME.",
    )
    .help("in parameters.toml: [meop] with value = \"4 MPa\", source and note; used as max = \"1.5 * meop\""),
    word(
        "tag",
        "a word on items, so that a requirement can apply to all that carry it",
        "A tag that no current item carries is a gap.",
    )
    .help("in the item: tags = [\"oxygen-wetted\"]; in the requirement: applies_to = { tag = \"oxygen-wetted\" }"),
    word("owner", "who looks after a requirement: a role or a name", "It decides nothing. Open rows by owner: slipmark before EVENT --by owner.")
        .help("in the requirement: owner = \"test conductor\""),
    word(
        "parent",
        "the requirement that another one serves",
        "One without a parent says its source instead. What hangs from what: slipmark show ID.",
    )
    .help("in the requirement: parents = [\"MOV-070\"]"),
    word("source", "where a requirement or a value comes from", "A requirement has parents or a source.")
        .help("in the requirement, the parameter or the input: source = \"customer specification, 3.2\""),
    word(
        "safety",
        "of a requirement that people depend on",
        "Its open rows are listed first; its evidence must be sealed, and witnessed by somebody who did not perform it.",
    )
    .help("in the requirement: safety = true"),
    word("method", "how a requirement is shown: analysis, demonstration, inspection or test", "Each has a page of its own here.")
        .help("in the requirement, in a plan entry: [[verify]] with method = \"test\""),
    word("stage", "what evidence is for: development, qualification or acceptance", "Each has a page of its own here.")
        .help("in a plan entry and in a record: stage = \"acceptance\""),
    word(
        "result",
        "what a record says of a criterion: a value, a bound, a count, a word, or what is worked out from its data",
        "A value is written with its uncertainty and unit.",
    )
    .help("slipmark fill TR-012 ACT-020.closing=\"1.21 ± 0.02 s\"; in the record it is results.closing under [verifies.ACT-020]"),
    word(
        "uncertainty",
        "how far the true value may lie from the one that is stated",
        "A bare ± is expanded, two standard ones (k=2); a bracket behind the unit says otherwise. How it decides is set under [conformity] in slipmark.toml.",
    )
    .help("write the value as \"1.21 ± 0.02 s\"; an instrument has one in instruments.toml: uncertainty = \"± 0.02 s\""),
    word("margin", "how far a result is from its limit: in the unit, in percent of the limit, in multiples of its uncertainty", "It is worked out, never written.")
        .help("slipmark matrix shows all of them"),
    word("draft", "of a record that nobody stands by yet, or of a requirement, a procedure or a waiver that is not agreed on", "A draft closes nothing.")
        .help("status = \"draft\"; a record is signed with slipmark sign TR-012 --by ROLE"),
    word("witness", "somebody who watched a run that another performed", "What people depend on needs one, except an analysis.")
        .help("slipmark sign TR-012 --by \"test conductor\" --witness \"pad chief\"; in the record it is witnessed_by"),
    word("attachment", "a file that belongs to a record, with its hash", "Another content of it shows, and voids the record.")
        .help("slipmark fill TR-012 --data recording.csv; in the record it is [[data]] with file and sha256"),
    word("input", "a value that a calculation in a record starts from", "It has a value, readings, or comes from another record.")
        .help("in the record: [inputs.force] with value = \"120 ± 4 N\" and source, or from = \"TR-007.stem_torque\""),
    word("field", "what is written down in a step of a procedure, and which criteria and conditions it feeds", "It is a line of the data sheet: slipmark sheet ID.")
        .help("in the procedure, below its [[steps]]: [[steps.fields]] with name, unit and feeds = \"ACT-020.closing\""),
    word("calibration", "that an instrument was held against a standard, from when until when it holds", "What is measured outside of it is void.")
        .help("in instruments.toml: [[TQ-01.calibrations]] with on, due, certificate and as_found"),
    word("commit", "one commit of git", ""),
    word("revision", "of an item, a procedure or a requirement; never of git", ""),
    word("unit", "a unit of measure, and nothing else", ""),
];
