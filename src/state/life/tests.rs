//! Each way in which a worn part could pass for a fresh one.

use crate::analysis::{self, Analysis, Request};
use crate::diag::Class;
use crate::source::Memory;

/// A valve with a seal in it that lasts twelve cycles, and three events that use one, two and three of them.
const PROJECT: &[(&str, &str)] = &[
    (
        "slipmark.toml",
        "name = \"Stand\"\n\
         [[events]]\nname = \"leak-check\"\nserials = [\"MOV/SN01\"]\nuses.cycles = 1\n\
         [[events]]\nname = \"cold-flow\"\nserials = [\"MOV/SN01\"]\nuses.cycles = 2\n\
         [[events]]\nname = \"hot-fire\"\nserials = [\"MOV/SN01\"]\nuses.cycles = 3\n",
    ),
    (
        "MOV.md",
        "+++\nkind = \"item\"\nid = \"MOV\"\ntitle = \"Valve\"\n\
         [[serials]]\nnumber = \"SN01\"\n[[serials.contains]]\nserial = \"SEAL/S1\"\n\
         [[serials]]\nnumber = \"SN02\"\nuse = \"spare\"\n+++\n",
    ),
    (
        "SEAL.md",
        "+++\nkind = \"item\"\nid = \"SEAL\"\ntitle = \"Seal\"\n[life.cycles]\nlimit = 12\n\
         [[serials]]\nnumber = \"S1\"\n[[serials]]\nnumber = \"S2\"\nuse = \"spare\"\n+++\n",
    ),
];

struct Stand(Vec<(String, String)>);

impl Stand {
    fn new() -> Stand {
        Stand(PROJECT.iter().map(|(path, text)| (path.to_string(), text.to_string())).collect())
    }

    fn edit(mut self, path: &str, from: &str, to: &str) -> Stand {
        let text = &mut self.0.iter_mut().find(|(own, _)| own == path).unwrap().1;
        assert!(text.contains(from), "{path} does not hold {from:?}");
        *text = text.replacen(from, to, 1);
        self
    }

    fn put(mut self, path: &str, text: String) -> Stand {
        self.0.push((path.to_string(), text));
        self
    }

    /// A record of a test with these lines.
    fn record(self, id: &str, lines: &str) -> Stand {
        let text =
            format!("+++\nkind = \"test\"\nid = \"{id}\"\ntitle = \"Run\"\nno_instrument = \"none\"\n{lines}\n+++\n");
        self.put(&format!("{id}.md"), text)
    }

    /// A draft on the valve of a day, that used so much.
    fn used(self, id: &str, day: &str, cycles: &str) -> Stand {
        self.record(id, &format!("date = {day}\nserial = \"MOV/SN01\"\nuses.cycles = {cycles}"))
    }

    /// A held event with these lines.
    fn held(self, id: &str, event: &str, lines: &str) -> Stand {
        let head = format!("+++\nkind = \"event\"\nid = \"{id}\"\ntitle = \"Held\"\nevent = \"{event}\"\n");
        self.put(&format!("{id}.md"), format!("{head}{lines}\n+++\n"))
    }

    /// The same on the valve, completed, on a day in May.
    fn completed(self, id: &str, event: &str, cycles: u32) -> Stand {
        let lines = "date = 2026-05-05\noutcome = \"completed\"\nserials = [\"MOV/SN01\"]";
        self.held(id, event, &format!("{lines}\nuses.cycles = {cycles}"))
    }

    fn analysis(&self) -> Analysis {
        let memory = self.0.iter().fold(Memory::new(), |memory, (path, text)| memory.file(path, text.as_bytes()));
        analysis::run(&memory, Request::on(jiff::civil::date(2026, 6, 1))).unwrap()
    }

    /// What is said of limited lives before each event: `!` exceeded, `?` unknown, `.` nothing.
    fn answers(&self) -> String {
        let analysis = self.analysis();
        let one = |event: usize| {
            let due = analysis.findings.iter().filter(|gap| gap.due.counts_before(event));
            let codes: Vec<&str> = due.map(|gap| gap.code).filter(|code| code.starts_with("life-")).collect();
            match codes.as_slice() {
                [] => '.',
                ["life-exceeded"] => '!',
                ["life-unknown"] => '?',
                several => panic!("{several:?} before one event"),
            }
        };
        (0..analysis.model.config.events.len()).map(one).collect()
    }

    /// The codes of the faults, and of gaps that are about life.
    fn codes(&self) -> Vec<&'static str> {
        let analysis = self.analysis();
        let told = analysis.findings.iter().filter(|one| one.class() == Class::Fault || one.code.starts_with("life-"));
        // That a draft verifies nothing, and a held event has no plan, is not the matter here.
        let mut codes: Vec<&str> = told.map(|one| one.code).collect();
        codes.sort_unstable();
        codes.dedup();
        codes
    }

    fn message(&self, code: &str) -> String {
        let analysis = self.analysis();
        let found = analysis.findings.iter().find(|one| one.code == code);
        found.map(|one| format!("{}; {}", one.message, one.help)).unwrap_or_default()
    }
}

#[test]
fn on_the_limit_is_inside_and_what_is_to_come_counts_up_to_the_event() {
    assert_eq!(Stand::new().answers(), "...");
    assert_eq!(Stand::new().codes(), Vec::<&str>::new());
    // One, three and six cycles are to come.
    assert_eq!(Stand::new().used("TR-1", "2026-05-01", "6").answers(), "...");
    assert_eq!(Stand::new().used("TR-1", "2026-05-01", "7").answers(), "..!");
    assert_eq!(Stand::new().used("TR-1", "2026-05-01", "10").answers(), ".!!");
    assert_eq!(Stand::new().used("TR-1", "2026-05-01", "12").answers(), "!!!");
    let both = Stand::new().used("TR-1", "2026-05-01", "3").used("TR-2", "2026-05-02", "4");
    assert_eq!(both.answers(), "..!");
    assert_eq!(
        both.message("life-exceeded"),
        "SEAL/S1 is over its limit of 12 cycles before hot-fire: 7 used, 6 planned; use another piece, or renew this one: [[serials.reworked]] with resets = [\"cycles\"]; raise `limit` only on evidence"
    );
}

#[test]
fn the_hardware_saw_it_whoever_stands_by_it() {
    for status in ["draft", "signed", "withdrawn"] {
        let lines = "date = 2026-05-01\nserial = \"MOV/SN01\"\nuses.cycles = 7\nreason = \"r\"";
        let stand = Stand::new().record("TR-1", &format!("{lines}\nstatus = \"{status}\""));
        assert_eq!(stand.answers(), "..!", "{status}");
    }
}

#[test]
fn an_uncertainty_counts_upward_and_units_are_converted() {
    assert_eq!(Stand::new().used("TR-1", "2026-05-01", "\"6 ± 0.5\"").answers(), "..!");
    let hours = |used: &str| {
        let events = Stand::new().edit("SEAL.md", "limit = 12", "limit = \"12 h\"");
        let events = events.edit("slipmark.toml", "uses.cycles = 1", "uses.cycles = \"60 min\"");
        let events = events.edit("slipmark.toml", "uses.cycles = 2", "uses.cycles = \"120 min\"");
        events.edit("slipmark.toml", "uses.cycles = 3", "uses.cycles = \"10800 s\"").used("TR-1", "2026-05-01", used)
    };
    assert_eq!(hours("\"360 min\"").answers(), "...");
    assert_eq!(hours("\"361 min\"").answers(), "..!");
    // A number of cycles is no time: not nothing, but not known.
    assert_eq!(hours("1").answers(), "???");
    assert_eq!(hours("1").codes(), ["life-unknown", "units-do-not-match"]);
}

#[test]
fn what_is_not_said_is_not_nothing() {
    let procedure = |uses: &str| {
        let text = format!(
            "+++\nkind = \"procedure\"\nid = \"TP-1\"\ntitle = \"Run\"\nrevision = \"1\"\nstatus = \"released\"\nuses = [{uses}]\n+++\n"
        );
        Stand::new().put("TP-1.md", text)
    };
    let lines = "date = 2026-05-01\nserial = \"MOV/SN01\"\nprocedure = \"TP-1\"\nprocedure_revision = \"0\"";
    assert_eq!(procedure("").record("TR-1", lines).answers(), "...");
    let silent = procedure("\"cycles\"").record("TR-1", lines);
    assert_eq!(silent.answers(), "???");
    assert_eq!(
        silent.message("life-unknown"),
        "whether the cycles of SEAL/S1 last to leak-check cannot be told: TR-1 does not say how much it used; the limit is 12, 0 used, 1 planned; slipmark fill TR-1 uses.cycles=…; 0 if it used none"
    );
    assert_eq!(procedure("\"cycles\"").record("TR-1", &format!("{lines}\nuses.cycles = 6")).answers(), "...");
    assert_eq!(procedure("\"cycles\"").record("TR-1", &format!("{lines}\nuses.cycles = 7")).answers(), "..!");
    // Over the limit by what is known alone: that is said, and not that something is missing.
    assert_eq!(silent.used("TR-2", "2026-05-01", "8").answers(), "??!");
    let nowhere = procedure("\"cycles\"").record("TR-1", "date = 2026-05-01\nprocedure = \"TP-1\"");
    assert_eq!(nowhere.codes(), ["uses-without-piece"]);
}

#[test]
fn an_event_that_does_not_say_what_it_will_use() {
    let stand = || Stand::new().edit("slipmark.toml", "uses.cycles = 2\n", "");
    assert_eq!(stand().answers(), ".??");
    assert_eq!(
        stand().message("life-unknown"),
        "whether the cycles of SEAL/S1 last to cold-flow cannot be told: cold-flow does not say how much it will use; the limit is 12, 0 used, 1 planned; in slipmark.toml, under [[events]] with name = \"cold-flow\": uses.cycles = …, for one holding; 0 if it uses none"
    );
    assert_eq!(Stand::new().edit("slipmark.toml", "uses.cycles = 2", "uses.cycles = 0").answers(), "...");
    // A piece that is not there is not worn, whatever the event does not say.
    assert_eq!(
        stand()
            .edit("slipmark.toml", "cold-flow\"\nserials = [\"MOV/SN01\"]", "cold-flow\"\nserials = [\"MOV/SN02\"]")
            .answers(),
        "..."
    );
}

#[test]
fn a_name_that_is_spelled_differently() {
    let stand = Stand::new().record("TR-1", "date = 2026-05-01\nserial = \"MOV/SN01\"\nuses.cycle = 7");
    assert_eq!(stand.codes(), ["unknown-name"]);
    assert_eq!(
        stand.message("unknown-name"),
        "no piece of TR-1, and nothing in one, has a limited life called `cycle`; did you mean `cycles`?"
    );
    let event = Stand::new().edit("slipmark.toml", "uses.cycles = 3", "uses.cycels = 3");
    assert_eq!(event.codes(), ["life-unknown", "unknown-name"]);
    let piece = Stand::new().edit("SEAL.md", "number = \"S1\"", "number = \"S1\"\nused.strokes = 4");
    assert_eq!(piece.codes(), ["unknown-name"]);
    let rework = "number = \"S1\"\n[[serials.reworked]]\ndate = 2026-04-01\nreason = \"r\"\nresets = [\"strokes\"]";
    assert_eq!(Stand::new().edit("SEAL.md", "number = \"S1\"", rework).codes(), ["unknown-name"]);
    let aged = Stand::new().edit("SEAL.md", "limit = 12", "limit = \"900 d\"\ncounted = \"age\"");
    assert_eq!(aged.codes(), ["life-unknown", "unknown-name"], "no use wears what is counted by age");
}

#[test]
fn amounts_that_cannot_be() {
    for amount in ["-3", "\"many\"", "\"300 K\"", "\"< 3\"", "\"2 MPa gauge\"", "\"TBD\""] {
        let stand = Stand::new().used("TR-1", "2026-05-01", amount);
        assert_eq!(stand.answers(), "???", "{amount}");
        assert!(stand.codes().contains(&"bad-quantity"), "{amount}: {:?}", stand.codes());
    }
    for limit in ["-1", "\"12 ± 1\"", "\"TBD\"", "\"300 K\""] {
        let stand = Stand::new().edit("SEAL.md", "limit = 12", &format!("limit = {limit}"));
        assert_eq!((stand.answers().as_str(), stand.codes()), ("???", vec!["bad-quantity", "life-unknown"]), "{limit}");
    }
    let none = Stand::new().edit("SEAL.md", "limit = 12", "note = \"to come\"");
    assert_eq!((none.answers().as_str(), none.codes()), ("???", vec!["life-unknown", "missing-key"]));
}

#[test]
fn use_before_the_first_record_and_after_the_last_renewal() {
    let seal = |lines: &str| Stand::new().edit("SEAL.md", "number = \"S1\"", &format!("number = \"S1\"\n{lines}"));
    assert_eq!(seal("used.cycles = 6").answers(), "...");
    assert_eq!(seal("used.cycles = 7").answers(), "..!");
    let renewed = |date: &str| {
        seal(&format!("used.cycles = 12\n[[serials.reworked]]\n{date}reason = \"new lips\"\nresets = [\"cycles\"]"))
    };
    let on = "date = 2026-05-01\n";
    assert_eq!(renewed(on).answers(), "...");
    assert_eq!(renewed(on).used("TR-1", "2026-04-30", "7").answers(), "...", "before it was renewed");
    assert_eq!(renewed(on).used("TR-1", "2026-05-01", "7").answers(), "..!", "on the day");
    assert_eq!(renewed("date = 2026-05-01T12:00:00\n").used("TR-1", "2026-05-01T08:00:00", "7").answers(), "..!");
    assert_eq!(renewed(on).used("TR-1", "2026-05-02", "7").answers(), "..!", "after it");
    assert_eq!(renewed(on).record("TR-1", "serial = \"MOV/SN01\"\nuses.cycles = 7").answers(), "..!", "of no day");
    // A renewal without a day renews nothing, and one that is still to come is a fault.
    assert_eq!(renewed("").answers(), "!!!");
    assert!(renewed("").codes().contains(&"missing-key"));
    assert_eq!(renewed("date = 2027-05-01\n").codes(), ["date-in-future"]);
    // Work that renews something else, or nothing, renews nothing here.
    let other = "used.cycles = 7\n[[serials.reworked]]\ndate = 2026-05-01\nreason = \"cleaned\"";
    assert_eq!(seal(other).answers(), "..!");
}

#[test]
fn a_piece_that_moved() {
    let contains = |lines: &str| {
        let stand = Stand::new().edit("MOV.md", "serial = \"SEAL/S1\"", &format!("serial = \"SEAL/S1\"\n{lines}"));
        stand.used("TR-1", "2026-05-01", "7")
    };
    assert_eq!(contains("from = 2026-04-30").answers(), "..!");
    assert_eq!(contains("from = 2026-05-01").answers(), "..!", "put in on the day: it may have been there");
    assert_eq!(contains("from = 2026-05-02").answers(), "...");
    // Taken out and put into another valve, which the events use: what it saw in the first one stays with it.
    let moved = |to: &str| {
        let into = "number = \"SN02\"\n[[serials.contains]]\nserial = \"SEAL/S1\"\nfrom = 2026-05-10";
        let stand = contains(&format!("to = {to}")).edit("MOV.md", "number = \"SN02\"\nuse = \"spare\"", into);
        (0..3).fold(stand, |stand, _| stand.edit("slipmark.toml", "[\"MOV/SN01\"]", "[\"MOV/SN02\"]"))
    };
    assert_eq!(moved("2026-05-10").answers(), "..!");
    assert_eq!(moved("2026-05-01").answers(), "..!", "taken out on the day");
    assert_eq!(moved("2026-04-30").answers(), "...", "taken out before");
    let undated = Stand::new().edit("MOV.md", "serial = \"SEAL/S1\"", "serial = \"SEAL/S1\"\nfrom = 2026-05-02");
    let undated = undated.record("TR-1", "serial = \"MOV/SN01\"\nuses.cycles = 7");
    assert_eq!(undated.answers(), "..!", "a record of no day was on all that ever was inside");
    // On the shelf it is at no event.
    let shelved = contains("to = 2026-05-10");
    assert_eq!(shelved.answers(), "...");
}

#[test]
fn deeper_inside_counts_too() {
    let box_ = "+++\nkind = \"item\"\nid = \"BOX\"\ntitle = \"Box\"\n[[serials]]\nnumber = \"B1\"\ncontains = [\"MOV/SN01\"]\n+++\n";
    let stand = Stand::new().put("BOX.md", box_.to_string());
    let lines = "date = 2026-05-01\nserial = \"BOX/B1\"\nuses.cycles = 7";
    assert_eq!(stand.record("TR-1", lines).answers(), "..!");
}

#[test]
fn an_event_that_was_held_is_counted_as_it_was_and_once_more_if_it_is_asked_about() {
    let held = |cycles| Stand::new().completed("HE-1", "leak-check", cycles);
    // Seven behind it and five to come; held again, eight.
    assert_eq!(held(7).answers(), "...");
    assert_eq!(held(8).answers(), "..!", "it used more than was planned");
    assert_eq!(held(0).used("TR-1", "2026-05-01", "7").answers(), "...", "it is not planned any more");
    assert_eq!(held(0).used("TR-1", "2026-05-01", "12").answers(), "!!!");
    let all = Stand::new().completed("HE-1", "leak-check", 1).completed("HE-2", "cold-flow", 2);
    let all = all.completed("HE-3", "hot-fire", 7);
    // Ten of twelve: one more leak check or cold flow, but no hot fire.
    assert_eq!(all.answers(), "..!");
    let worn = all.used("TR-1", "2026-05-02", "2");
    assert_eq!(worn.answers(), "!!!", "each of them would be one too many");
}

#[test]
fn what_is_done_with_a_piece_asks_nothing_before_later_events() {
    // The leak check is done with the first valve, whose seal is worn out; the others use the second.
    let stand = Stand::new().completed("HE-1", "leak-check", 12);
    let stand = stand.edit("MOV.md", "number = \"SN02\"\nuse = \"spare\"", "number = \"SN02\"");
    let stand = (0..2).fold(stand, |stand, _| {
        let text = "\"MOV/SN01\"]\nuses.cycles = 2";
        let at = if stand.0[0].1.contains(text) { text } else { "\"MOV/SN01\"]\nuses.cycles = 3" };
        stand.edit("slipmark.toml", at, &at.replace("SN01", "SN02"))
    });
    assert_eq!(stand.answers(), "!..");
    // Not done: it must be held first, and cannot be.
    let stand = Stand::new().used("TR-1", "2026-05-01", "12");
    let stand = stand.edit("slipmark.toml", "\"MOV/SN01\"]\nuses.cycles = 2", "\"MOV/SN02\"]\nuses.cycles = 2");
    let stand = stand.edit("slipmark.toml", "\"MOV/SN01\"]\nuses.cycles = 3", "\"MOV/SN02\"]\nuses.cycles = 3");
    assert_eq!(stand.answers(), "!!!");
}

#[test]
fn an_event_that_was_given_up_or_held_twice() {
    let aborted = "date = 2026-05-05\noutcome = \"aborted\"\nserials = [\"MOV/SN01\"]\nuses.cycles = ";
    assert_eq!(Stand::new().held("HE-1", "leak-check", &format!("{aborted}6")).answers(), "...");
    assert_eq!(Stand::new().held("HE-1", "leak-check", &format!("{aborted}7")).answers(), "..!", "it is still to come");
    let twice = Stand::new().completed("HE-1", "leak-check", 4).completed("HE-2", "leak-check", 4);
    assert_eq!(twice.answers(), "..!", "both were");
    // With another piece, it is not done with this one.
    let other = "date = 2026-05-05\noutcome = \"completed\"\nserials = [\"MOV/SN02\"]";
    let stand = Stand::new().held("HE-1", "leak-check", other).used("TR-1", "2026-05-01", "7");
    assert_eq!(stand.answers(), "..!");
    // Of another name too.
    let stand = Stand::new().completed("HE-1", "leak-chek", 0).used("TR-1", "2026-05-01", "7");
    assert_eq!(stand.answers(), "..!");
}

#[test]
fn a_held_event_that_does_not_say_what_it_used() {
    let lines = "date = 2026-05-05\noutcome = \"completed\"\n";
    let there = format!("{lines}serials = [\"MOV/SN01\"]");
    assert_eq!(Stand::new().held("HE-1", "leak-check", &there).answers(), "???");
    assert_eq!(Stand::new().held("HE-1", "leak-check", lines).answers(), "???", "it does not say with which pieces");
    assert_eq!(
        Stand::new().held("HE-1", "leak-check", lines).message("life-unknown").split(": ").nth(1).unwrap(),
        "HE-1 does not say which pieces were there; the limit is 12, 0 used, 1 planned; write serials = [\"…\"] in HE-1"
    );
    let guessed = Stand::new().held("HE-1", "leak-check", &format!("{lines}uses.cycles = 1"));
    assert_eq!((guessed.answers().as_str(), guessed.codes()), ("???", vec!["life-unknown", "uses-without-piece"]));
    // One that uses none by its plan need not say so each time.
    let none = || Stand::new().edit("slipmark.toml", "uses.cycles = 1", "uses.cycles = 0");
    assert_eq!(none().held("HE-1", "leak-check", &there).answers(), "...");
    assert_eq!(none().held("HE-1", "leak-check", lines).answers(), "...");
    // Before the seal was renewed it does not matter.
    let rework = "number = \"S1\"\n[[serials.reworked]]\ndate = 2026-05-06\nreason = \"r\"\nresets = [\"cycles\"]";
    assert_eq!(
        Stand::new().edit("SEAL.md", "number = \"S1\"", rework).held("HE-1", "leak-check", &there).answers(),
        "..."
    );
}

#[test]
fn an_event_without_pieces_uses_all_that_is_in_service() {
    let stand = || {
        let text = PROJECT[0].1.replace("serials = [\"MOV/SN01\"]\n", "");
        let mut stand = Stand::new();
        stand.0[0].1 = text;
        stand.used("TR-1", "2026-05-01", "7")
    };
    assert_eq!(stand().answers(), "..!");
    // The seal itself is a spare, but it is in a valve that is in service.
    let spare = stand().edit("SEAL.md", "number = \"S1\"", "number = \"S1\"\nuse = \"spare\"");
    assert_eq!(spare.answers(), "..!");
    let aside = |to: &str| {
        let stand = stand().edit("MOV.md", "number = \"SN01\"", &format!("number = \"SN01\"\n{to}"));
        stand.edit("SEAL.md", "number = \"S1\"", "number = \"S1\"\nuse = \"spare\"").answers()
    };
    assert_eq!(aside("use = \"spare\""), "...");
    assert_eq!(aside("use = \"qualification\""), "...");
    assert_eq!(aside("status = \"scrapped\""), "...");
    let dropped = stand().edit("MOV.md", "title = \"Valve\"", "title = \"Valve\"\nstatus = \"dropped\"");
    assert_eq!(dropped.answers(), "..!", "the seal is in service by itself");
    assert_eq!(dropped.edit("SEAL.md", "title = \"Seal\"", "title = \"Seal\"\nassembly = \"MOV\"").answers(), "...");
}

#[test]
fn age_counts_to_the_event_from_the_day_it_was_built_or_renewed() {
    let aged = |limit: &str, lines: &str| {
        let stand = Stand::new().edit("SEAL.md", "limit = 12", &format!("limit = {limit}\ncounted = \"age\""));
        let stand = stand.edit("SEAL.md", "number = \"S1\"", &format!("number = \"S1\"\n{lines}"));
        let stand = ["uses.cycles = 1\n", "uses.cycles = 2\n"]
            .iter()
            .fold(stand, |it, uses| it.edit("slipmark.toml", uses, ""));
        stand.edit("slipmark.toml", "uses.cycles = 3", "date = 2026-07-01")
    };
    // Thirty-one days from the first of May end on the first of June; sixty-one on the first of July.
    assert_eq!(aged("\"61 d\"", "built = 2026-05-01").answers(), "...");
    assert_eq!(aged("\"60 d\"", "built = 2026-05-01").answers(), "..!");
    assert_eq!(aged("\"30 d\"", "built = 2026-05-01").answers(), "!!!");
    assert_eq!(
        aged("\"60 d\"", "built = 2026-05-01").message("life-exceeded").split(';').next().unwrap(),
        "the cycles of SEAL/S1 ended on 2026-06-30, 60 d after 2026-05-01"
    );
    assert_eq!(aged("\"60 d\"", "").answers(), "???", "nobody knows how old it is");
    let renewed = "built = 2020-05-01\n[[serials.reworked]]\ndate = 2026-05-20\nreason = \"r\"\nresets = [\"cycles\"]";
    assert_eq!(aged("\"60 d\"", renewed).answers(), "...");
    assert_eq!(aged("\"60 d\"", "built = 2026-08-01").codes(), ["date-in-future"]);
    assert_eq!(aged("60", "built = 2026-05-01").codes(), ["bad-quantity", "life-unknown"]);
    assert_eq!(aged("\"3 years\"", "built = 2026-05-01").codes(), ["bad-quantity", "life-unknown"]);
}

#[test]
fn each_budget_of_each_piece_is_told_by_itself() {
    let stand = Stand::new().edit("SEAL.md", "limit = 12", "limit = 12\n[life.strokes]\nlimit = 100");
    let stand = stand.edit("MOV.md", "title = \"Valve\"", "title = \"Valve\"\n[life.cycles]\nlimit = 20");
    assert_eq!(stand.codes(), ["life-unknown"]);
    let analysis = stand.used("TR-1", "2026-05-01", "7").analysis();
    let told = analysis.findings.iter().filter(|gap| gap.code.starts_with("life-"));
    let told: Vec<(&str, String)> =
        told.map(|gap| (gap.code, gap.message.split(':').next().unwrap().to_string())).collect();
    let exceeded = "SEAL/S1 is over its limit of 12 cycles before hot-fire".to_string();
    let unknown = "whether the strokes of SEAL/S1 last to leak-check cannot be told".to_string();
    assert_eq!(told, [("life-exceeded", exceeded), ("life-unknown", unknown)]);
}

type Step = fn(Stand) -> Stand;

/// What can be added to a project without making any piece fresher.
const WORSE: &[Step] = &[
    |it| it.used("TR-1", "2026-05-04", "4"),
    |it| it.used("TR-2", "2026-05-03", "\"1 ± 0.5\""),
    |it| it.record("TR-3", "serial = \"MOV/SN01\"\nuses.cycles = 2"),
    |it| it.completed("EV-1", "leak-check", 1),
    |it| {
        it.held(
            "EV-2",
            "cold-flow",
            "date = 2026-05-05\noutcome = \"aborted\"\nserials = [\"MOV/SN01\"]\nuses.cycles = 1",
        )
    },
    |it| it.held("EV-3", "hot-fire", "date = 2026-05-06\noutcome = \"completed\""),
    |it| {
        it.held(
            "EV-4",
            "hot-fire",
            "date = 2026-05-07\noutcome = \"completed\"\nserials = [\"MOV/SN01\"]\nuses.cycles = 3",
        )
    },
    |it| it.edit("slipmark.toml", "uses.cycles = 2\n", ""),
    |it| it.edit("slipmark.toml", "uses.cycles = 3", "uses.cycles = 5"),
];

/// What can have been so from the start.
const AROUND: &[Step] = &[
    |it| it,
    |it| {
        let renewed = "number = \"S1\"\nused.cycles = 12\n[[serials.reworked]]\ndate = 2026-05-03\nreason = \"r\"\nresets = [\"cycles\"]";
        it.edit("SEAL.md", "number = \"S1\"", renewed)
    },
    |it| it.edit("MOV.md", "serial = \"SEAL/S1\"", "serial = \"SEAL/S1\"\nfrom = 2026-05-03"),
    |it| {
        let text = PROJECT[0].1.replace("serials = [\"MOV/SN01\"]\n", "");
        let mut it = it;
        it.0[0].1 = text;
        it
    },
];

#[test]
fn more_use_never_looks_like_less() {
    let mut seen = std::collections::BTreeSet::new();
    for around in AROUND {
        let answers: Vec<String> = (0..1usize << WORSE.len())
            .map(|chosen| {
                let steps = WORSE.iter().enumerate().filter(|(at, _)| chosen & (1 << at) != 0);
                steps.fold(around(Stand::new()), |it, (_, step)| step(it)).answers()
            })
            .collect();
        for (chosen, answer) in answers.iter().enumerate() {
            seen.insert(answer.clone());
            for more in (0..WORSE.len()).filter(|at| chosen & (1 << at) == 0) {
                let after = &answers[chosen | (1 << more)];
                // What is not known any more is as open as what was over the limit.
                let worse = answer.chars().zip(after.chars()).all(|(was, is)| was == '.' || is != '.');
                assert!(worse, "{answer} becomes {after} with {more} beside {chosen:b}");
            }
        }
    }
    // It was a question: every mark was met before every event.
    for event in 0..3 {
        for mark in ".?!".chars() {
            assert!(
                seen.iter().any(|answer| answer.chars().nth(event) == Some(mark)),
                "{mark} before {event}: {seen:?}"
            );
        }
    }
}
