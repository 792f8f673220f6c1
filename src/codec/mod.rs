//! Pure codecs shared by reading and writing. No files, no domain.
