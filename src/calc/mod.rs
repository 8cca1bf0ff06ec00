//! The calculation language: read, unit-checked, worked out with its uncertainty.
