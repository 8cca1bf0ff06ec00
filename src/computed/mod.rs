//! What the records of a project compute: calculations and reductions, with the values that they start from.
