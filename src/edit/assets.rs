//! The page: its files, compiled in.

/// A file of the page.
pub struct Asset {
    /// Its path, from the root.
    pub path: &'static str,
    /// What it is.
    pub media_type: &'static str,
    /// Its bytes.
    pub bytes: &'static [u8],
}

const HTML: &str = "text/html; charset=utf-8";
const CSS: &str = "text/css; charset=utf-8";
const SCRIPT: &str = "text/javascript; charset=utf-8";

/// All files of the page; `/` is the page itself.
pub const ASSETS: [Asset; 3] = [
    Asset {
        path: "/",
        media_type: HTML,
        bytes: include_bytes!("page/page.html"),
    },
    Asset {
        path: "/style.css",
        media_type: CSS,
        bytes: include_bytes!("page/style.css"),
    },
    Asset {
        path: "/page.js",
        media_type: SCRIPT,
        bytes: include_bytes!("page/page.js"),
    },
];

/// The words of the page, by section and key, in TOML.
pub const TEXTS: &str = include_str!("texts/en.toml");
