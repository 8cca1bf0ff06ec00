//! The templates and styles that come with the program.

use super::Template;

/// A table of them: name, and what it lays out.
macro_rules! ours {
    ($($name:literal, $about:literal;)+) => {
        &[$(Template { name: $name, text: include_str!(concat!("../../templates/", $name)), about: $about },)+]
    };
}

/// All of them. Only what names end in `.html` is filled, and escaped.
pub(super) const OURS: &[Template] = ours! {
    "changes.html", "the page of `changes`";
    "concepts.css", "the style of the pages of `concepts` and `trend`";
    "concepts.html", "the page of `concepts`";
    "live/between.html", "changes between any two commits, in `view`";
    "live/events.html", "the page that `view` begins with";
    "live/failed.html", "that there is no answer, in `view`";
    "live/head.html", "what pages of `view` follow the files by";
    "live/keys.html", "what keys do, in `view`";
    "live/plain.html", "the frame of pages of `view` about no event";
    "live/revisions.html", "a requirement as it read, in `view`";
    "live/rows.html", "chosen rows, in `view`";
    "live/what_if.html", "what other values of a calculation come to, in `view`";
    "packet.html", "the whole packet";
    "packet/beside.html", "gaps, nonconformances, waivers, what lapses, what was withdrawn";
    "packet/cautions.html", "the usual cautions";
    "packet/changed.html", "what changed, in the packet and wherever changes are told";
    "packet/changes.html", "the packet's part about changes";
    "packet/cover.html", "the packet's first page";
    "packet/entry.html", "a decision, a departure or a held event; on a page of its own a procedure too";
    "packet/faults.html", "faults, and what is asked less";
    "packet/files.html", "the list of files with their hashes";
    "packet/hardware.html", "the packet's part about items and serials";
    "packet/item.html", "an item with its serials";
    "packet/life.html", "limited life";
    "packet/macros.html", "pieces that others share: a state, a link, a list";
    "packet/manifest.html", "the packet's part about its files";
    "packet/marks.html", "the shapes of the states";
    "packet/matrix.html", "the packet's verification matrix";
    "packet/matrix_tables.html", "the two tables of a matrix";
    "packet/open.html", "the packet's part about what is open";
    "packet/open_row.html", "one open row";
    "packet/packet.css", "the style of the packet, of `changes` and, with pages/pages.css, of pages";
    "packet/procedure.html", "a procedure with its cautions and steps, in the packet";
    "packet/record.html", "a record";
    "packet/records.html", "the packet's part about records";
    "packet/registers.html", "the packet's parts about decisions, departures, procedures";
    "packet/requirement.html", "a requirement with its rows and its history";
    "packet/requirements.html", "the packet's part about requirements";
    "packet/slot.html", "a slot with its options";
    "packet/stands.html", "where the rows stand";
    "packet/verdict.html", "the verdict, and what must be read before it";
    "pages/all.html", "the list of everything";
    "pages/changes.html", "what changed";
    "pages/files.html", "the files with their hashes";
    "pages/frame.html", "what stands round every page";
    "pages/front.html", "what is open, by what closes it";
    "pages/instrument.html", "an instrument";
    "pages/leaves.html", "the links to further pages of a list";
    "pages/matrix.html", "the matrix";
    "pages/pages.css", "the style that pages have beside the packet's";
    "pages/rows.html", "rows that have to do with a thing";
    "pages/search.html", "the search";
    "pages/serial.html", "a serial-numbered piece";
    "pages/settings.html", "the settings";
    "pages/steps.html", "the steps of a procedure";
    "pages/thing.html", "a thing of any kind";
    "set.css", "what keeps the note on a page that a project's templates set from being hidden";
    "set.html", "that note";
    "sheet.css", "the style of the data sheet";
    "sheet.html", "the data sheet";
    "trend.html", "the page of `trend`";
    "worked.css", "the style of the page of `calc`";
    "worked.html", "the page of `calc`";
    "working.html", "the working of a record, wherever it stands";
};

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_template_is_listed_in_order() {
        let root = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("templates");
        let mut found = Vec::new();
        let mut folders = vec![root.clone()];
        while let Some(folder) = folders.pop() {
            for entry in folder.read_dir().unwrap() {
                let path = entry.unwrap().path();
                if path.is_dir() {
                    folders.push(path);
                } else {
                    found.push(path.strip_prefix(&root).unwrap().to_str().unwrap().to_string());
                }
            }
        }
        // Scripts, and the style of what moves on live pages, are none: nothing of a project may run.
        found.retain(|name| (name.ends_with(".html") || name.ends_with(".css")) && name != "live/view.css");
        found.sort();
        let listed: Vec<&str> = OURS.iter().map(|own| own.name).collect();
        assert_eq!(found, listed);
    }
}
