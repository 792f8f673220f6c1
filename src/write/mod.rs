//! A plan to files: one module per format. No format knows another.
