//! Byte ranges in files.

/// Which file of a [`SourceMap`](super::SourceMap) a span lies in.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct FileId(pub u32);

/// A half-open range of bytes in one file.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Span {
    /// The file.
    pub file: FileId,
    /// First byte.
    pub start: u32,
    /// One past the last byte.
    pub end: u32,
}

impl Span {
    /// Makes a span from byte offsets; offsets past 4 GiB are clamped (files that large are refused on reading).
    pub fn new(file: FileId, range: std::ops::Range<usize>) -> Self {
        let clamp = |offset: usize| u32::try_from(offset).unwrap_or(u32::MAX);
        Span { file, start: clamp(range.start), end: clamp(range.end.max(range.start)) }
    }

    /// The same as a range of `usize`.
    pub fn range(self) -> std::ops::Range<usize> {
        self.start as usize..self.end as usize
    }
}

/// A value and where it was written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Spanned<T> {
    /// The value.
    pub value: T,
    /// Where it was written.
    pub span: Span,
}

impl<T> Spanned<T> {
    /// Joins a value and its place.
    pub fn new(value: T, span: Span) -> Self {
        Spanned { value, span }
    }
}

impl<T> std::ops::Deref for Spanned<T> {
    type Target = T;
    fn deref(&self) -> &T {
        &self.value
    }
}
