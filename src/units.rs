//! Quantities and exact conversions: one home for every factor, each with its source.
