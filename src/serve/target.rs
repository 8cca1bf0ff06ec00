//! What was asked for.

use hyper::Uri;

/// More fields than this has no form of ours.
const MOST_FIELDS: usize = 256;

/// A page and how it is to be shown.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Asked {
    /// The parts of the address, decoded: none is empty, `.` or `..`, and none holds a separator or a control character.
    pub parts: Vec<String>,
    /// Whether the address ends in a slash.
    pub folder: bool,
    /// The fields of the form, decoded, in their order.
    pub fields: Vec<(String, String)>,
}

impl Asked {
    /// Reads the target of a request; none if it leads nowhere.
    pub(super) fn of(uri: &Uri) -> Option<Asked> {
        let path = uri.path().strip_prefix('/')?;
        let (path, folder) = path.strip_suffix('/').map_or((path, false), |path| (path, true));
        if folder && path.is_empty() {
            return None;
        }
        let mut parts = Vec::new();
        for part in path.split('/').filter(|_| !path.is_empty()) {
            let part = decoded(part, false)?;
            let odd = |c: char| c.is_control() || matches!(c, '/' | '\\');
            if part.is_empty() || part == "." || part == ".." || part.contains(odd) {
                return None;
            }
            parts.push(part);
        }
        let fields = uri.query().unwrap_or("").split('&').filter(|field| !field.is_empty());
        let fields = fields.map(|field| {
            let (name, value) = field.split_once('=').unwrap_or((field, ""));
            Some((decoded(name, true)?, decoded(value, true)?))
        });
        let fields: Vec<(String, String)> = fields.take(MOST_FIELDS + 1).collect::<Option<_>>()?;
        (fields.len() <= MOST_FIELDS).then_some(Asked { parts, folder, fields })
    }

    /// The address without a slash before it.
    pub fn address(&self) -> String {
        self.parts.join("/")
    }

    /// The first value of a field that is not empty.
    pub fn value(&self, name: &str) -> Option<&str> {
        self.fields.iter().find(|(own, value)| own == name && !value.is_empty()).map(|(_, value)| value.as_str())
    }

    /// Every value of a field that is not empty.
    pub fn values<'a>(&'a self, name: &'a str) -> impl Iterator<Item = &'a str> {
        let own = self.fields.iter().filter(move |(own, value)| own == name && !value.is_empty());
        own.map(|(_, value)| value.as_str())
    }
}

/// Text from percent-encoded UTF-8; in a form `+` is a space.
fn decoded(text: &str, form: bool) -> Option<String> {
    let mut bytes = Vec::with_capacity(text.len());
    let mut rest = text.bytes();
    while let Some(byte) = rest.next() {
        match byte {
            b'%' => {
                let (high, low) = (digit(rest.next()?)?, digit(rest.next()?)?);
                bytes.push(high << 4 | low);
            }
            b'+' if form => bytes.push(b' '),
            other => bytes.push(other),
        }
    }
    String::from_utf8(bytes).ok()
}

fn digit(byte: u8) -> Option<u8> {
    char::from(byte).to_digit(16).and_then(|digit| u8::try_from(digit).ok())
}
