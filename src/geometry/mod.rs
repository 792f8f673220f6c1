//! Plane geometry on an integer grid: arrangement, areas, offsets, coverage of cells. No policy.
