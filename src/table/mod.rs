//! Tables of data with units in their headers, and what is reduced from them.
