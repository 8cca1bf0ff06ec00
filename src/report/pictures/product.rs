//! The product tree with where its parts stand: an outline, as in a list of parts.

use super::svg::{FINE, LINE, SOFT, Svg, WIDE, Words};
use crate::report::view::{PartView, ProductView};

/// From line to line, and how far what is inside is moved in.
const STEP: f64 = 20.0;
const INDENT: f64 = 22.0;
/// The deepest that is moved in further.
const DEEPEST: usize = 9;
const TOP: f64 = 22.0;
/// Where the state and the number of rows stand.
const STATE: f64 = 556.0;
const WORD: f64 = 572.0;

/// The picture; none where there is no part.
pub fn product(view: &ProductView, anchor: &str) -> Option<String> {
    if view.parts.iter().all(|part| part.kind == "project") {
        return None;
    }
    let mut svg = Svg::new(anchor, WIDE);
    svg.words((WORD, 12.0), Words::of("worst of its rows").small().soft());
    svg.words((WIDE, 12.0), Words::of("rows due").small().soft().ending());
    // For each depth the height of the last part there, from which the line goes on down.
    let mut above: Vec<f64> = Vec::new();
    for (at, part) in view.parts.iter().enumerate() {
        let y = TOP + (at as f64 + 0.5) * STEP;
        let depth = part.depth.min(DEEPEST);
        let x = depth as f64 * INDENT;
        svg.line((x, y + STEP / 2.0), (WIDE, y + STEP / 2.0), FINE.wide(0.4));
        if let Some(parent) = depth.checked_sub(1).and_then(|depth| above.get(depth).copied()) {
            let left = x - INDENT + 5.0;
            let start = above.get(depth).copied().unwrap_or(parent + 7.0);
            svg.line((left, start), (left, y), LINE.wide(0.7).in_grey(SOFT));
            svg.line((left, y), (x - 3.0, y), LINE.wide(0.7).in_grey(SOFT));
        }
        above.truncate(depth);
        above.resize(depth, y);
        above.push(y);
        drawn(&mut svg, part, (x, y));
    }
    let mut height = TOP + view.parts.len() as f64 * STEP + 6.0;
    if view.more > 0 {
        let words = format!("Not drawn: {} more parts; they stand below with the others.", view.more);
        svg.words((0.0, height + 10.0), Words::of(&words).small().soft());
        height += 18.0;
    }
    Some(svg.finish("The product tree, and where its parts stand", &in_words(view), height))
}

/// One part: what it is, and where its rows stand.
fn drawn(svg: &mut Svg, part: &PartView, (x, y): (f64, f64)) {
    let name = Words::of(&part.name).within(STATE - x - 20.0);
    let name = match part.kind {
        "serial" => name,
        _ => name.bold(),
    };
    svg.words((x, y + 4.0), if part.gone { name.soft() } else { name });
    let after = x + name.width() + 8.0;
    if after < STATE - 40.0 {
        let about = if part.kind == "slot" { format!("{} (slot)", part.about) } else { part.about.clone() };
        svg.words((after, y + 4.0), Words::of(&about).small().soft().within(STATE - after - 10.0));
    }
    if let Some(worst) = part.worst {
        svg.mark(worst, (STATE + 6.0, y), 11.0);
        svg.words((WORD, y + 4.0), Words::of(worst.word()).small());
        svg.words((WIDE, y + 4.0), Words::of(&rows(part)).small().ending());
    }
}

fn rows(part: &PartView) -> String {
    match (part.due, part.open) {
        (due, 0) => format!("{due}, none open"),
        (due, open) => format!("{open} of {due} open"),
    }
}

fn in_words(view: &ProductView) -> String {
    let one = |part: &PartView| {
        let stands = match part.worst {
            Some(worst) => format!(": {}, {}", worst.word(), rows(part)),
            None => String::new(),
        };
        format!("{}{} {} ({}){stands}.", "- ".repeat(part.depth.min(DEEPEST)), part.kind, part.name, part.about)
    };
    view.parts.iter().map(one).collect::<Vec<_>>().join(" ")
}

#[cfg(test)]
mod tests {
    use super::super::tests::{demo, example, well_formed};
    use super::*;
    use crate::report::view;

    #[test]
    fn every_row_stands_at_its_part() {
        let (analysis, before) = (example(), demo());
        let view = view::product(&analysis, &before.rows, 3);
        assert_eq!(view.more, 0);
        assert_eq!(view.parts.iter().map(|part| part.due).sum::<usize>(), before.rows.len());
        let open = before.rows.iter().filter(|row| row.state.is_open()).count();
        assert_eq!(view.parts.iter().map(|part| part.open).sum::<usize>(), open);
        // Every item, slot and piece once.
        let pieces: usize = analysis.model.items.iter().map(|item| item.serials.len()).sum();
        let count = |kind: &str| view.parts.iter().filter(|part| part.kind == kind).count();
        assert_eq!(
            (count("item"), count("slot"), count("serial")),
            (analysis.model.items.len(), analysis.model.slots.len(), pieces)
        );
        let picture = product(&view, "p").unwrap();
        well_formed(&picture);
        for part in &view.parts {
            assert!(picture.contains(&format!(">{}</text>", part.name)), "{}", part.name);
        }
    }

    #[test]
    fn an_option_stands_in_its_slot_and_a_piece_under_its_item() {
        let view = view::product(&example(), &[], 3);
        let at = |name: &str| view.parts.iter().position(|part| part.name == name).unwrap();
        let (slot, option) = (at("MOV-ACT"), at("ACT-W"));
        assert!(slot < option && view.parts[option].depth == view.parts[slot].depth + 1);
        assert!(view.parts[at("ACT-P")].gone && !view.parts[option].gone);
        assert_eq!(
            (view.parts[option + 1].kind, view.parts[option + 1].depth),
            ("serial", view.parts[option].depth + 1)
        );
    }

    #[test]
    fn a_deep_tree_stays_inside_and_one_without_parts_is_none() {
        let part = |depth| PartView {
            depth,
            kind: "item",
            name: "a-very-long-name".repeat(20),
            about: "x".repeat(400),
            gone: false,
            due: 3,
            open: 1,
            worst: Some(crate::state::State::Void),
        };
        let view = ProductView { parts: (0..60).map(part).collect(), more: 7 };
        let picture = product(&view, "p").unwrap();
        well_formed(&picture);
        assert!(picture.contains("Not drawn: 7 more parts"));
        assert!(product(&ProductView { parts: Vec::new(), more: 0 }, "p").is_none());
    }
}
