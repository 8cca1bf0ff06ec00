//! The data sheet as a page to print and as Markdown.

use minijinja::context;
use minijinja::value::Serde;

use super::ReportError;
use super::finished::Must;
use super::packet::page::{Document, fill};
use super::tables::{Table, markdown as tables};
use super::view::{SheetField, SheetView};
use crate::templates::Templates;

/// What every sheet has near its start.
const GENERATOR: &str = "<meta name=\"generator\" content=\"slipmark sheet";

/// Whether a file that starts with these bytes is a sheet of ours, which may be written over.
pub fn is_sheet(start: &[u8]) -> bool {
    let start = String::from_utf8_lossy(&start[..start.len().min(2000)]).into_owned();
    start.contains(GENERATOR) || start.starts_with("## Data sheet ") || start.starts_with("DATA SHEET ")
}

/// The line at the foot of every page, and above the signatures.
fn running(view: &SheetView) -> String {
    let pieces: Vec<&str> = view.pieces.iter().map(|piece| piece.serial.as_str()).collect();
    let on = if pieces.is_empty() { view.heading.project.clone() } else { pieces.join(", ") };
    format!(
        "{} revision {}, {on}, printed {}",
        view.procedure,
        view.revision.as_deref().unwrap_or("?"),
        view.heading.today
    )
}

/// The sheet as one page of HTML that needs nothing beside it.
///
/// # Errors
/// If a template is at fault, or the page does not say what it must.
pub fn html(view: &SheetView, templates: &Templates) -> Result<String, ReportError> {
    let whole = context! { fields_of_run => Serde(&view.fields), signed => Serde(SIGNED), ..minijinja::Value::from(Serde(view)) };
    let running = running(view);
    let words = view.decides.join(" ");
    let own = Document { templates, name: "sheet.html", style: "sheet.css", running: &running, words: &words };
    fill(own, whole, || must(view))
}

/// What the page must say: who decides, every caution, what is known of the pieces, and what the run is held against with how that
/// stands.
fn must(view: &SheetView) -> Vec<Must> {
    let usual = view.hazards.iter().flat_map(|hazard| hazard.cautions.iter().map(|text| (*text).to_string()));
    let steps = view.steps.iter().flat_map(|step| &step.cautions).cloned();
    let decides = view.decides.iter().map(|text| (*text).to_string());
    let said = decides.chain(view.cautions.iter().cloned()).chain(usual).chain(steps);
    let rows = view.requirements.iter().map(|own| vec![own.id.clone(), own.state.to_string()]);
    let known = view.known.iter().map(|own| {
        // Of a piece, its item is a word of its own.
        let first = own.name.split('/').next().unwrap_or_default();
        [first, &own.name, &own.what, &own.today].map(String::from).to_vec()
    });
    said.map(Must::Say).chain([Must::Lines(known.collect()), Must::Lines(rows.collect())]).collect()
}

/// An empty box to tick.
const BOX: &str = "☐";

/// The sheet as Markdown: tables whose words are text, never markup.
pub fn markdown(view: &SheetView) -> String {
    let table = |caption: String, heads: &[&'static str], rows: Vec<Vec<String>>| Table {
        caption,
        heads: heads.to_vec(),
        rows,
    };
    let or = |text: &Option<String>| text.clone().unwrap_or_default();
    let head = head(view).into_iter().map(|(name, value)| vec![name.to_string(), value]).collect();
    let mut cautions: Vec<Vec<String>> =
        view.decides.iter().map(|text| vec!["first".into(), (*text).to_string()]).collect();
    cautions.extend(view.cautions.iter().map(|text| vec!["here".into(), text.clone()]));
    for hazard in &view.hazards {
        let usual = if hazard.cautions.is_empty() {
            vec!["no usual cautions are known here"]
        } else {
            hazard.cautions.to_vec()
        };
        cautions.extend(usual.into_iter().map(|text| vec![hazard.hazard.clone(), text.to_string()]));
    }
    let first = view.prerequisites.iter().map(|own| {
        let today = own.today.clone().unwrap_or_else(|| "to be looked at".into());
        vec![BOX.into(), own.name.clone(), own.what.clone(), today]
    });
    let known = view.known.iter().map(|own| [BOX, &own.name, &own.what, &own.today].map(String::from).to_vec());
    let first = first.chain(known);
    let instruments = view.instruments.iter().map(|own| {
        vec![
            BOX.into(),
            own.id.clone(),
            own.what.clone(),
            or(&own.range),
            or(&own.resolution),
            or(&own.uncertainty),
            or(&own.needed),
            own.due.clone(),
        ]
    });
    let mut steps = Vec::new();
    for step in &view.steps {
        let name = step.name.as_ref().map_or(String::new(), |name| format!("{name}: "));
        let hold = if step.hold { "HOLD; released by ________" } else { "" };
        let mut text = vec![format!("{name}{}", step.text)];
        text.extend(step.cautions.iter().map(|caution| format!("Caution: {caution}")));
        steps.push(vec![BOX.into(), step.number.to_string(), text.join(" "), hold.to_string()]);
    }
    let fields = |at: String, fields: &[SheetField]| -> Vec<Vec<String>> {
        let row = |own: &SheetField| {
            let what = or(&own.text);
            let room = if own.measured { "________ ± ________" } else { "________________" };
            vec![
                at.clone(),
                own.name.clone(),
                room.into(),
                or(&own.unit),
                or(&own.instrument),
                own.asked.join("; "),
                or(&own.expected),
                what,
            ]
        };
        fields.iter().map(row).collect()
    };
    let mut readings = fields("run".into(), &view.fields);
    for step in &view.steps {
        readings.extend(fields(step.number.to_string(), &step.fields));
    }
    readings.extend(fields("asked".into(), &view.also));
    let requirements = view.requirements.iter().map(|own| {
        let safety = if own.safety { "safety" } else { "" };
        vec![
            own.id.clone(),
            own.title.clone(),
            own.statement.clone(),
            own.subject.clone(),
            safety.into(),
            own.mark.clone(),
            own.state.into(),
        ]
    });
    tables(&[
        table(format!("Data sheet {}: {}", view.procedure, view.title), &["", "value"], head),
        table("Cautions".into(), &["of", "caution"], cautions),
        table("Before the run".into(), &["", "what", "which", "today"], first.collect()),
        table(
            "Instruments".into(),
            &["", "id", "what", "range", "resolution", "uncertainty", "needed", "calibration due"],
            instruments.collect(),
        ),
        table("Steps".into(), &["", "step", "what is done", "hold point"], steps),
        table("Readings".into(), &["at", "field", "reading", "unit", "from", "asked", "expected", "what"], readings),
        table(
            "Held against".into(),
            &["requirement", "title", "statement", "on", "", "mark today", "state today"],
            requirements.collect(),
        ),
        table("Who".into(), &["must be"], view.people.iter().map(|text| vec![text.clone()]).collect()),
        table(
            "Signed".into(),
            &["", "name", "date and time"],
            SIGNED.iter().map(|role| vec![(*role).to_string(), "________".into(), "________".into()]).collect(),
        ),
    ])
}

/// Who signs.
pub const SIGNED: &[&str] = &["performed by", "witnessed by", "deviations accepted by"];

/// The facts at the head of a sheet.
pub fn head(view: &SheetView) -> Vec<(&'static str, String)> {
    let mut head = vec![("project", view.heading.project.clone())];
    let revision = view.revision.as_deref().unwrap_or("not stated");
    head.push(("procedure", format!("{}, revision {revision}, {}", view.procedure, view.status)));
    for piece in &view.pieces {
        let revision = piece.revision.as_ref().map_or(String::new(), |revision| format!(", revision {revision}"));
        head.push(("piece", format!("{}, {}{revision}, {}", piece.serial, piece.title, piece.purpose)));
    }
    head.extend(view.stage.map(|stage| ("stage", stage.to_string())));
    let commit = view.heading.commit.as_ref().map_or("no commit", |commit| commit.get(..10).unwrap_or(commit));
    let more = if view.heading.clean { "" } else { ", with changes that are not committed" };
    head.push(("printed", format!("{}, from {commit}{more}", view.heading.today)));
    head.extend(view.remarks.iter().map(|remark| ("mind", remark.clone())));
    head
}
