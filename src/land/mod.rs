//! Land: the field less exclusions, split into headland and interior, with setback strips.
