//! From byte offsets to lines and columns, for printing.

/// A place as a person names it: both count from 1, columns in characters.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct LineColumn {
    /// Line, from 1.
    pub line: usize,
    /// Column in characters, from 1.
    pub column: usize,
}

/// The starts of a text's lines.
#[derive(Clone, Debug)]
pub struct LineIndex {
    starts: Vec<u32>,
}

impl LineIndex {
    /// Finds the lines of `text`; `\n` ends a line, so `\r\n` does too.
    pub fn new(text: &str) -> Self {
        let mut starts = vec![0];
        starts.extend(text.bytes().enumerate().filter(|(_, byte)| *byte == b'\n').map(|(at, _)| at as u32 + 1));
        LineIndex { starts }
    }

    /// Line and column of a byte offset; an offset past the end is the end.
    pub fn locate(&self, text: &str, offset: usize) -> LineColumn {
        let mut offset = offset.min(text.len());
        while !text.is_char_boundary(offset) {
            offset -= 1;
        }
        let line = self.starts.partition_point(|start| *start as usize <= offset);
        let start = self.starts[line - 1] as usize;
        let before = text[start..offset].trim_start_matches('\u{feff}');
        LineColumn { line, column: before.chars().count() + 1 }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn counts_characters_and_skips_the_byte_order_mark() {
        let text = "\u{feff}+++\r\nid = \"é\" x\n";
        let index = LineIndex::new(text);
        let at = |needle: &str| index.locate(text, text.find(needle).unwrap());
        assert_eq!(at("+++"), LineColumn { line: 1, column: 1 });
        assert_eq!(at("id"), LineColumn { line: 2, column: 1 });
        assert_eq!(at(" x"), LineColumn { line: 2, column: 9 });
        assert_eq!(index.locate(text, 999), LineColumn { line: 3, column: 1 });
    }
}
