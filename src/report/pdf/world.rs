//! All that the typesetter gets to see: one template, the page taken apart, its pictures, and the fonts built in. No files, no
//! network, no clock.

use foldhash::HashMap;

use typst::diag::{FileError, FileResult};
use typst::foundations::{Bytes, Datetime, Duration};
use typst::syntax::{FileId, RootedPath, Source, VirtualPath, VirtualRoot};
use typst::text::{Font, FontBook};
use typst::utils::LazyHash;
use typst::{Library, LibraryExt, World};

use crate::report::ReportError;

const TEMPLATE: &str = include_str!("../../../templates/packet/packet.typ");
const TEMPLATE_NAME: &str = "packet.typ";

/// The typesetter's world.
pub(super) struct Given {
    library: LazyHash<Library>,
    book: LazyHash<FontBook>,
    fonts: Vec<Font>,
    main: Source,
    files: HashMap<FileId, Bytes>,
}

impl Given {
    /// With these files beside the template.
    pub(super) fn new(files: impl IntoIterator<Item = (String, Vec<u8>)>) -> Result<Given, ReportError> {
        let fonts: Vec<Font> = typst_assets::fonts().flat_map(|data| Font::iter(Bytes::new(data))).collect();
        let named = |(name, bytes): (String, Vec<u8>)| Ok((id(&name)?, Bytes::new(bytes)));
        Ok(Given {
            library: LazyHash::new(Library::default()),
            book: LazyHash::new(FontBook::from_fonts(&fonts)),
            fonts,
            main: Source::new(id(TEMPLATE_NAME)?, TEMPLATE.to_string()),
            files: files.into_iter().map(named).collect::<Result<_, ReportError>>()?,
        })
    }

    /// Where in the template something is, as `packet.typ:LINE`.
    pub(super) fn line(&self, byte: Option<usize>) -> String {
        let line = byte.and_then(|byte| self.main.lines().byte_to_line(byte));
        line.map_or_else(|| TEMPLATE_NAME.to_string(), |line| format!("{TEMPLATE_NAME}:{}", line + 1))
    }
}

fn id(name: &str) -> Result<FileId, ReportError> {
    let path = VirtualPath::new(name).map_err(|_| ReportError { message: format!("{name} is no name for a file") })?;
    Ok(RootedPath::new(VirtualRoot::Project, path).intern())
}

impl World for Given {
    fn library(&self) -> &LazyHash<Library> {
        &self.library
    }

    fn book(&self) -> &LazyHash<FontBook> {
        &self.book
    }

    fn main(&self) -> FileId {
        self.main.id()
    }

    fn source(&self, id: FileId) -> FileResult<Source> {
        if id == self.main.id() { Ok(self.main.clone()) } else { Err(FileError::AccessDenied) }
    }

    fn file(&self, id: FileId) -> FileResult<Bytes> {
        self.files.get(&id).cloned().ok_or(FileError::AccessDenied)
    }

    fn font(&self, index: usize) -> Option<Font> {
        self.fonts.get(index).cloned()
    }

    fn today(&self, _: Option<Duration>) -> Option<Datetime> {
        None
    }
}
