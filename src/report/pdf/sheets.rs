//! Which bands stand on which sheet of paper, and where.

use super::band::{Band, Ink};

/// A size, in points.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Size {
    /// How wide.
    pub(super) width: f32,
    /// How high.
    pub(super) height: f32,
}

/// The margins: left and right, above, below, in points.
pub(super) const SIDE: f32 = 51.0;
pub(super) const ABOVE: f32 = 58.0;
pub(super) const BELOW: f32 = 50.0;

impl Size {
    /// The same on its side.
    pub(super) fn turned(self) -> Size {
        Size { width: self.height, height: self.width }
    }

    /// How wide text is.
    pub(super) fn text(self) -> f32 {
        self.width - 2.0 * SIDE
    }
}

/// Bands that stand on sheets of one size.
pub(super) struct Run {
    /// The size.
    pub(super) size: Size,
    /// The bands.
    pub(super) bands: Vec<Band>,
}

/// A band on a sheet.
#[derive(Debug)]
pub(super) struct On {
    /// Which band of its run.
    pub(super) band: usize,
    /// How far down the sheet, in points.
    pub(super) y: f32,
    /// How much room was left before it, in points.
    pub(super) room: f32,
    /// It stands elsewhere too: the head of a table.
    pub(super) again: bool,
}

/// A sheet.
pub(super) struct Sheet {
    /// Which run.
    pub(super) run: usize,
    /// Its size.
    pub(super) size: Size,
    /// What stands on it.
    pub(super) bands: Vec<On>,
}

/// Puts bands onto sheets.
pub(super) fn sheets(runs: &[Run]) -> Vec<Sheet> {
    let mut sheets = Vec::new();
    for (run, own) in runs.iter().enumerate() {
        let mut filling = Filling { run, size: own.size, y: ABOVE, bands: Vec::new(), sheets: Vec::new() };
        for at in 0..own.bands.len() {
            filling.band(&own.bands, at);
        }
        filling.end();
        sheets.append(&mut filling.sheets);
    }
    sheets
}

struct Filling {
    run: usize,
    size: Size,
    y: f32,
    bands: Vec<On>,
    sheets: Vec<Sheet>,
}

impl Filling {
    fn band(&mut self, bands: &[Band], at: usize) {
        let Some(band) = bands.get(at) else { return };
        let bottom = self.size.height - BELOW;
        let top = self.y + if self.bands.is_empty() { 0.0 } else { band.before };
        if !self.bands.is_empty() && (band.fresh || top + together(bands, at) > bottom) {
            self.end();
            for head in band.head.clone().unwrap_or_default() {
                if let Some(own) = bands.get(head) {
                    self.put(own, head, true);
                }
            }
        }
        self.put(band, at, false);
    }

    fn put(&mut self, band: &Band, at: usize, again: bool) {
        let room = if self.bands.is_empty() { 0.0 } else { band.before };
        self.bands.push(On { band: at, y: self.y + room, room, again });
        self.y += room + band.height;
    }

    fn end(&mut self) {
        if !self.bands.is_empty() {
            let bands = std::mem::take(&mut self.bands);
            self.sheets.push(Sheet { run: self.run, size: self.size, bands });
        }
        self.y = ABOVE;
    }
}

/// How high is what must stay on one sheet, from a band on; no more than a third of a sheet is kept so.
fn together(bands: &[Band], at: usize) -> f32 {
    let mut height = bands.get(at).map_or(0.0, |band| band.height);
    let mut at = at;
    while bands.get(at).is_some_and(|band| band.keep) && height < 260.0 {
        at += 1;
        let Some(next) = bands.get(at) else { break };
        height += next.before + next.height;
    }
    height
}

/// A place: the sheet, from 0, and how far down it, in points.
pub(super) type At = (usize, f32);

/// Where the headings stand, by their numbers.
pub(super) fn headings(runs: &[Run], sheets: &[Sheet], count: usize) -> Vec<At> {
    let mut found = vec![(0, 0.0); count];
    each(runs, sheets, |sheet, y, ink| {
        if let Ink::Heading(number) = ink
            && let Some(place) = found.get_mut(*number)
        {
            *place = (sheet, y);
        }
    });
    found
}

/// Looks at all that stands on sheets, in order, but not at what stands there anew.
pub(super) fn each<'r>(runs: &'r [Run], sheets: &[Sheet], mut look: impl FnMut(usize, f32, &'r Ink)) {
    for (number, sheet) in sheets.iter().enumerate() {
        let Some(run) = runs.get(sheet.run) else { continue };
        for on in sheet.bands.iter().filter(|on| !on.again) {
            let inks = run.bands.get(on.band).map(|band| band.inks.as_slice()).unwrap_or_default();
            inks.iter().for_each(|ink| look(number, on.y, ink));
        }
    }
}
