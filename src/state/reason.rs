//! States, and the reasons for them.

use jiff::civil::Date;

use crate::model::Id;

/// The state of a criterion or a row, worst first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum State {
    /// A failure stands.
    NotMet,
    /// The deciding record does not apply now.
    Void,
    /// The requirement has moved since the evidence was judged.
    Slipped,
    /// The result does not decide.
    Inconclusive,
    /// Nobody stands by the evidence yet.
    Unsigned,
    /// There is none.
    NoEvidence,
    /// An approved waiver covers it.
    Waived,
    /// Met.
    Closed,
}

impl State {
    /// All states, worst first.
    pub const ALL: [State; 8] = [
        State::NotMet,
        State::Void,
        State::Slipped,
        State::Inconclusive,
        State::Unsigned,
        State::NoEvidence,
        State::Waived,
        State::Closed,
    ];

    /// The word for it, everywhere.
    pub fn word(self) -> &'static str {
        match self {
            State::NotMet => "not met",
            State::Void => "void",
            State::Slipped => "slipped",
            State::Inconclusive => "inconclusive",
            State::Unsigned => "unsigned",
            State::NoEvidence => "no evidence",
            State::Waived => "waived",
            State::Closed => "closed",
        }
    }

    /// Whether it counts as open.
    pub fn is_open(self) -> bool {
        !matches!(self, State::Waived | State::Closed)
    }

    /// What it means, for `explain`.
    pub fn meaning(self) -> &'static str {
        match self {
            State::NotMet => {
                "a signed result fails its criterion, and no closed nonconformance accounts for the failure; or the newest result fails"
            }
            State::Void => {
                "there is evidence, but the deciding record does not apply to the hardware, procedure or conditions as they are now"
            }
            State::Slipped => {
                "the requirement has been reworded or its limits changed since the evidence was judged against it"
            }
            State::Inconclusive => {
                "the uncertainty straddles the limit, or the decision rule needs an uncertainty and none is stated"
            }
            State::Unsigned => {
                "the evidence is a draft, or a newer draft reports the same criterion, or something about the run is still to be accepted"
            }
            State::NoEvidence => "no record shows it, or what it asks for is not settled yet",
            State::Waived => "not closed, but an approved waiver that is in force covers it",
            State::Closed => "signed evidence that applies to the hardware as it is meets every criterion",
        }
    }
}

/// One reason for a state.
#[derive(Clone, Debug)]
pub struct Reason {
    /// Its code, listed in [`REASONS`].
    pub code: &'static str,
    /// What was found, in a sentence without a full stop.
    pub text: String,
    /// What to type or do next.
    pub help: String,
    /// The state it makes.
    pub state: State,
    /// The record it is about.
    pub record: Option<Id>,
    /// The thing, instrument or settings file that makes it, where it names one besides the record and the requirement.
    pub because_of: Option<Id>,
    /// When what it says came to be so.
    pub since: Since,
}

/// When what a reason says came to be so: who accepted a departure before that day has not accepted it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Since {
    /// With the record that it is about.
    Made,
    /// On this day.
    Day(Date),
    /// On a day that no file tells.
    Unknown,
}

impl From<Option<Date>> for Since {
    fn from(day: Option<Date>) -> Since {
        day.map_or(Since::Unknown, Since::Day)
    }
}

impl Reason {
    /// A reason with the state and the general help of its code.
    ///
    /// # Panics
    /// If the code is not listed, which a test rules out.
    pub fn new(code: &'static str, text: impl Into<String>) -> Reason {
        let entry = entry(code).expect("every reason code is listed in REASONS");
        let (text, help) = (text.into(), entry.help.to_string());
        Reason { code, text, help, state: entry.state, record: None, because_of: None, since: Since::Made }
    }

    /// With a help that fits the case.
    #[must_use]
    pub fn help(mut self, help: impl Into<String>) -> Reason {
        self.help = help.into();
        self
    }

    /// With another state, where a child's is taken over.
    #[must_use]
    pub fn state(mut self, state: State) -> Reason {
        self.state = state;
        self
    }

    /// Whether newer evidence that meets everything, on something that no open nonconformance is against, would lift it.
    pub fn newer_evidence_lifts(&self) -> bool {
        match self.code {
            "no-record" => true,
            "failure-stands" | "children-changed" => false,
            // Of those that say that there is nothing yet, some are about a record; what else they miss is no evidence.
            code => self.record.is_some() || entry(code).is_some_and(|entry| entry.state != State::NoEvidence),
        }
    }

    /// So since a day; none: nobody wrote down since when.
    #[must_use]
    pub fn since(mut self, day: impl Into<Since>) -> Reason {
        self.since = day.into();
        self
    }

    /// Made by this thing.
    #[must_use]
    pub fn because_of(mut self, thing: &Id) -> Reason {
        self.because_of = Some(thing.clone());
        self
    }

    /// About this record.
    #[must_use]
    pub fn record(mut self, record: &Id) -> Reason {
        self.record = Some(record.clone());
        self
    }
}

/// One listed reason.
#[derive(Debug)]
pub struct ReasonEntry {
    /// The code.
    pub code: &'static str,
    /// The state it makes.
    pub state: State,
    /// When it holds.
    pub meaning: &'static str,
    /// What to do about it.
    pub help: &'static str,
}

/// The entry of a reason code.
pub fn entry(code: &str) -> Option<&'static ReasonEntry> {
    REASONS.iter().find(|entry| entry.code == code)
}

macro_rules! reasons {
    ($($state:ident: $($code:literal, $meaning:literal, $help:literal;)+)+) => {
        /// Every reason, by state, worst first.
        pub const REASONS: &[ReasonEntry] = &[$($(
            ReasonEntry { code: $code, state: State::$state, meaning: $meaning, help: $help },
        )+)+];
    };
}

reasons! {
    NotMet:
        "failure-stands", "a signed result fails the criterion, on this piece or (for one and design) on this item, and no closed nonconformance names the record",
            "write a nonconformance that names the record in found_by, carry out its disposition, and close it";
        "result-outside", "the newest signed result does not meet the limit",
            "make new evidence after the repair, or ask for a waiver with a relief that the result meets";
    Void:
        "option-dropped", "the evidence is from an option that was dropped, or from something inside one",
            "make evidence for the current option";
        "other-revision", "the evidence is from another revision, and a later one does not keep it",
            "test the present revision, or list the evidence in keeps_evidence of the revision, with a reason";
        "revision-not-stated", "the item has a revision and the record does not say which one it saw",
            "add revision = \"…\" to the record, as tested, and sign again";
        "serial-scrapped", "the piece is scrapped, or sits in one that is",
            "make evidence on a piece that will be used";
        "reworked-since", "the piece, or one in it, was reworked on the same day or later",
            "test again, or say in the rework's `affects` which requirements it touches";
        "contents-changed", "what is in the piece is not what was in it when the evidence was made, and the item does not keep it",
            "test again, or list the evidence in keeps_evidence of what was put in and taken out, with a reason";
        "nonconformance-open", "an open nonconformance is against the piece or the item",
            "disposition and close the nonconformance";
        "nonconformance-voids", "a rework or repair closed on the same day or later undid the evidence",
            "test again, or write voids = \"nothing\" with a reason in the nonconformance";
        "attachment-missing", "a file that was signed for is not there",
            "put the file back beside the record; git log --follow finds it";
        "attachment-altered", "a file that was signed for has other bytes now",
            "restore the file from git, or if it is the right one, run slipmark sign on the record, with the reason: that takes the new hash";
        "seal-broken", "the record was changed after it was signed",
            "restore the record from git, or sign it again";
        "instrument-not-named", "an instrument that the procedure requires, or any at all for a test, is not named",
            "add the instrument to `instruments`, or write no_instrument = \"reason\"";
        "instrument-not-calibrated", "an instrument had no calibration in force that day",
            "add the calibration to instruments.toml, or repeat the run";
        "instrument-recalled", "an instrument was found out of tolerance, and the record is from between that calibration and the one before it",
            "repeat the run with a good instrument, or keep the evidence in that calibration, with a reason";
        "procedure-superseded", "the procedure has another revision now, and runs of earlier ones are not said to count",
            "run the present revision, or write earlier_runs = \"count\" with a reason in the procedure";
        "result-missing", "the record names the requirement and does not judge this criterion",
            "add the result, or not_judged.NAME = \"reason\"";
        "conditions-not-shown", "a condition of the criterion is not recorded, or not inside its limits",
            "record the condition under [conditions], or run at the conditions asked";
        "out-of-order", "something that must come first on the same piece was not done before it",
            "do them in the order that `after` asks for; where both were on one day, write the hour in `date`";
        "used-up", "an event has been held with it since, after which it must be shown again",
            "make new evidence; where both were on one day, write the hour in `date`";
        "lapsed", "the evidence is older than valid_for allows",
            "repeat it";
        "recomputed", "what the record computes came to something else when it was signed",
            "see slipmark calc ID; if it is right now, sign the record again, with the reason";
        "rests-on-void", "it uses a result whose record is void, withdrawn, unsigned, missing or computed anew",
            "mend the record that it uses, or use another";
    Slipped:
        "mark-missing", "the evidence does not say which text of the requirement it was judged against",
            "compare, then run slipmark mark";
        "mark-slipped", "the requirement says something else than the evidence was judged against",
            "look at both texts, then re-affirm with slipmark mark, or make new evidence";
        "children-changed", "the children are not those that were judged to suffice",
            "judge again, and bring by_children up to date";
    Inconclusive:
        "straddles-limit", "the result lies nearer to the limit than its uncertainty",
            "measure better, or more";
        "no-uncertainty", "the decision rule needs an uncertainty and the result states none",
            "write the result as \"VALUE ± U UNIT\"; if the record is sealed, sign it again";
        "bound-undecided", "the result is a bound that does not decide the limit",
            "report a value, or a bound at or inside the limit";
        "too-few-trials", "the trials show neither that the reliability is reached nor that it is not",
            "make as many more as it says, and decide how many before you begin";
        "on-the-limit", "what was worked out in floating point lies on the deciding line, nearer than a billionth",
            "measure better, or more: nothing should hang on the last digits of a calculation";
    Unsigned:
        "only-unsigned", "only draft evidence reports it",
            "complete the record, then run slipmark sign";
        "newer-unsigned", "a draft of the same day or newer reports the same criterion",
            "sign the draft, or delete it if the run does not count";
        "deviation-not-accepted", "a deviation of the run is not accepted by anybody",
            "add accepted_by to the deviation; if the record is sealed, sign it again";
        "action-open", "an action of the run is not closed",
            "do it, then add closed = DATE";
        "not-kept-when-signed", "what the record computes was not written down when it was signed, so that a change of it would not show",
            "run slipmark sign on the record, with the reason";
        "safety-without-seal", "a requirement that people depend on takes sealed evidence only",
            "run slipmark sign on the record";
        "not-witnessed", "a test, inspection or demonstration that people depend on names no performer and another who witnessed it; or the only witness of an analysis is its performer",
            "name who watched when you sign: slipmark sign --witness; if nobody did, repeat it";
        "role-missing", "slipmark.toml asks for other people: none of those whom a rule under [[roles]] names performed or witnessed it",
            "repeat it with the people that the rule names, or name them if they were there, and sign again";
    NoEvidence:
        "no-record", "no record shows it",
            "make the evidence: slipmark new";
        "limit-tbd", "a limit is still to be determined",
            "settle the limit in the requirement";
        "requirement-draft", "the requirement is a draft",
            "agree on it and set status = \"active\", or withdraw it with a reason";
        "no-option", "no option is chosen for the slot",
            "set status = \"current\" on the option that a decision selects";
        "cannot-compute", "the result or the limit cannot be worked out",
            "see the fault that check reports, or write the result as a quantity";
        "no-plan", "the requirement says nowhere how it will be shown",
            "add a [[verify]] entry";
        "no-serial", "no piece is in scope",
            "name the serials that the event will use, or add pieces in service to the item";
        "no-item", "no current item has the tag",
            "tag an item, or correct applies_to";
        "no-child", "it is verified by its children and has none that are active",
            "add children, or plan evidence of its own";
        "child-not-due", "a child has nothing due by then",
            "give the child a plan entry before the same event or an earlier one";
        "no-sufficiency", "nobody has said that the children suffice",
            "add [by_children] with mark, list, judged_by and date";
        "child-open", "a child is open; its own state is taken over",
            "close the child first";
        "children-cycle", "the requirement is among its own descendants",
            "correct `parents`";
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn codes_are_unique_and_follow_the_order_of_states() {
        let mut seen = std::collections::BTreeSet::new();
        assert!(REASONS.iter().all(|entry| seen.insert(entry.code)));
        assert!(REASONS.is_sorted_by_key(|entry| entry.state));
    }
}
