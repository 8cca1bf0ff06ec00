//! Lays sheets out as a workbook.

use jiff::civil::Date;
use rust_xlsxwriter::{
    DocProperties, ExcelDateTime, Format, FormatAlign, FormatBorder, Url, Workbook, Worksheet, XlsxError,
};

use super::SUMMARY;
use super::grid::{Cell, Sheet};
use crate::report::ReportError;
use crate::report::packet::{Claims, Dated, fingerprint, running};
use crate::report::style;
use crate::report::tables::visible;
use crate::report::view::BeforeView;

// What a sheet can hold (ECMA-376 files as Excel reads them; Microsoft, "Excel specifications and limits"): lines, characters of a cell in
// UTF-16, links of a sheet, characters of a header in UTF-16.
const LINES: usize = 1_048_576;
const CELL: usize = 32_767;
const LINKS: usize = 65_530;
const HEADER: usize = 255;

/// What stands at the end of a text that was cut.
const CUT: &str = "… (cut off: a cell holds no more)";

/// A4, as the format numbers sizes of paper.
const A4: u8 = 9;

/// The workbook's bytes.
pub(super) fn write(
    sheets: &[Sheet],
    before: &BeforeView,
    dated: &Dated,
    claims: Claims,
) -> Result<Vec<u8>, ReportError> {
    let wrong = |error: XlsxError| ReportError::new(format!("the workbook cannot be made: {error}"));
    let mut book = Workbook::new();
    book.set_properties(&properties(before, dated).map_err(wrong)?);
    let looks = Looks::new();
    for sheet in sheets {
        if sheet.lines.len() >= LINES {
            return Err(ReportError {
                message: format!(
                    "the sheet {} would have {} lines, and a workbook holds {LINES}",
                    sheet.name,
                    sheet.lines.len()
                ),
                help: Some("write the lists as CSV".into()),
            });
        }
        lay_out(book.add_worksheet(), sheet, sheets, &looks, before).map_err(wrong)?;
    }
    fingerprint::onto_archive(book.save_to_buffer().map_err(wrong)?, claims)
}

/// Whether these are the first and the last bytes of a workbook of ours, which may be written over.
pub fn is_workbook(ends: &[u8]) -> bool {
    ends.starts_with(b"PK\x03\x04") && fingerprint::is_stamped(ends)
}

/// Title and date: never the clock, and no name of who made it.
fn properties(before: &BeforeView, dated: &Dated) -> Result<DocProperties, XlsxError> {
    let day = dated.date.as_deref().unwrap_or(&before.heading.today).parse().ok().and_then(day);
    let day = match day {
        Some(day) => day,
        None => ExcelDateTime::from_ymd(1980, 1, 1)?,
    };
    Ok(DocProperties::new()
        .set_title(plain(&format!("{}: verification packet, before {}", before.heading.project, before.event), HEADER))
        .set_author(format!("slipmark {}", before.heading.slipmark))
        .set_creation_datetime(&day))
}

/// A day, if the format can hold it: dates there begin in 1900.
fn day(day: Date) -> Option<ExcelDateTime> {
    let year = u16::try_from(day.year()).ok().filter(|year| *year > 1900)?;
    ExcelDateTime::from_ymd(year, day.month().unsigned_abs(), day.day().unsigned_abs()).ok()
}

/// How cells look.
struct Looks {
    plain: Format,
    /// For text that would be taken for a formula by whoever types it again.
    quoted: Format,
    head: Format,
    day: Format,
    link: Format,
    open: Format,
    done: Format,
}

impl Looks {
    fn new() -> Looks {
        let plain = Format::new().set_text_wrap().set_align(FormatAlign::Top);
        Looks {
            quoted: plain.clone().set_quote_prefix(),
            head: plain.clone().set_bold().set_background_color("#E7E6E6").set_border_bottom(FormatBorder::Thin),
            day: plain.clone().set_num_format("yyyy-mm-dd").set_align(FormatAlign::Left),
            link: plain.clone().set_font_color("#0B4F8A").set_quote_prefix(),
            open: plain.clone().set_bold().set_background_color("#FBE9E0"),
            done: plain.clone().set_background_color("#E6F1E6"),
            plain,
        }
    }
}

fn lay_out(
    to: &mut Worksheet,
    sheet: &Sheet,
    all: &[Sheet],
    looks: &Looks,
    before: &BeforeView,
) -> Result<(), XlsxError> {
    to.set_name(sheet.name)?;
    for (at, column) in (0u16..).zip(&sheet.columns) {
        to.write_string_with_format(0, at, column.head, &looks.head)?;
        to.set_column_width(at, width(sheet, usize::from(at)))?;
    }
    let mut links = 0;
    for (row, line) in (1u32..).zip(&sheet.lines) {
        for (column, cell) in (0u16..).zip(line) {
            let target = target(cell, all).filter(|_| links < LINKS);
            links += usize::from(target.is_some());
            put(to, (row, column), cell, target, looks)?;
        }
    }
    let last = u32::try_from(sheet.lines.len()).unwrap_or(u32::MAX);
    let columns = u16::try_from(sheet.columns.len()).unwrap_or(1).saturating_sub(1);
    to.set_print_area(0, 0, last, sheet.printed.saturating_sub(1).min(columns))?;
    if sheet.name != SUMMARY {
        to.autofilter(0, 0, last, columns)?;
        to.set_landscape();
    }
    to.set_freeze_panes(1, sheet.frozen)?;
    to.set_repeat_rows(0, 0)?;
    to.set_paper_size(A4).set_print_fit_to_pages(1, 0);
    to.set_margins(0.4, 0.4, 0.7, 0.7, 0.3, 0.3);
    to.set_header(header(&running(before), sheet.name));
    to.set_footer("&L&8Checks records, not hardware; no permission to operate&R&8Page &P of &N");
    Ok(())
}

/// What stands above every printed page.
pub(super) fn header(running: &str, sheet: &str) -> String {
    let (start, end) = ("&L&8", format!("&R&8{sheet}"));
    let mut text = plain(running, HEADER - start.len() - end.len());
    // What would be a code there is doubled, and may take up twice the space.
    while text.replace('&', "&&").encode_utf16().count() > HEADER - start.len() - end.len() {
        text.pop();
    }
    // A digit after the size of the letters would be read as a part of it.
    format!(
        "{start} {}{end}",
        text.replace('&', "&&").chars().take(HEADER - start.len() - end.len() - 1).collect::<String>()
    )
}

/// One line without what acts, of so many characters at most.
fn plain(text: &str, most: usize) -> String {
    let mut out = String::new();
    let mut length = 0;
    for character in visible(text).chars() {
        let character = if character.is_whitespace() { ' ' } else { character };
        length += character.len_utf16();
        if length > most {
            break;
        }
        out.push(character);
    }
    out
}

/// The cell that a link leads to.
fn target(cell: &Cell, all: &[Sheet]) -> Option<String> {
    let Cell::Link(_, name, place) = cell else { return None };
    let sheet = all.iter().find(|sheet| sheet.name == *name)?;
    let line = if place.is_empty() { 0 } else { sheet.places.get(place)? + 2 };
    Some(format!("internal:'{name}'!A{}", line.max(1)))
}

fn put(
    to: &mut Worksheet,
    (row, column): (u32, u16),
    cell: &Cell,
    target: Option<String>,
    looks: &Looks,
) -> Result<(), XlsxError> {
    match (cell, target) {
        (Cell::Nothing, _) => {}
        (Cell::Number(number), _) => {
            to.write_number_with_format(row, column, *number, &looks.plain)?;
        }
        (Cell::Day(own), _) => match day(*own) {
            Some(own) => {
                to.write_datetime_with_format(row, column, &own, &looks.day)?;
            }
            None => {
                to.write_string_with_format(row, column, own.to_string(), &looks.plain)?;
            }
        },
        (Cell::State(word, open), _) => {
            to.write_string_with_format(row, column, *word, if *open { &looks.open } else { &looks.done })?;
        }
        (Cell::Link(text, ..), Some(target)) => {
            let url = Url::new(target).set_text(fitting(text));
            to.write_url_with_format(row, column, url, &looks.link)?;
        }
        (Cell::Text(text) | Cell::Link(text, ..), _) => {
            let text = fitting(text);
            let risky = text.starts_with(['=', '+', '-', '@', '\t', '\'']);
            to.write_string_with_format(row, column, text, if risky { &looks.quoted } else { &looks.plain })?;
        }
    }
    Ok(())
}

/// A text as a cell can hold it: what acts is named, lines end in one way, and what is too long is cut and says so.
fn fitting(text: &str) -> String {
    let text = visible(text).replace("\r\n", "\n").replace('\r', "\n");
    // A character takes up two units at most, so that most texts need not be counted.
    if text.len() < CELL || text.encode_utf16().count() <= CELL {
        return text;
    }
    let mut room = CELL - CUT.encode_utf16().count();
    let kept = text.chars().take_while(|character| {
        let fits = character.len_utf16() <= room;
        room = room.saturating_sub(character.len_utf16());
        fits
    });
    let kept: String = kept.collect();
    kept + CUT
}

/// The width of a column: what its longest line needs, up to what the column may have.
fn width(sheet: &Sheet, at: usize) -> f64 {
    let Some(column) = sheet.columns.get(at) else { return 8.0 };
    let cells = sheet.lines.iter().filter_map(|line| line.get(at));
    let longest = |cell: &Cell| cell.shown().lines().map(style::columns).max().unwrap_or(0);
    // The arrow of the filter lies over the end of the head.
    let needed = cells.map(longest).chain([style::columns(column.head) + 3]).max().unwrap_or(0) + 1;
    f64::from(u16::try_from(needed).unwrap_or(u16::MAX).clamp(6, column.widest.max(6)))
}
