//! A path as seen from a folder.

use std::fs;
use std::path::{Component, Path};

/// The names that lead from a folder that is there to a file that is there, past all links; `None` where no way does, as
/// to another drive, or where a name is not UTF-8.
pub(super) fn way(folder: &Path, file: &Path) -> Option<Vec<String>> {
    let here = folder.as_os_str().is_empty();
    let folder = if here { Path::new(".") } else { folder };
    names(
        &fs::canonicalize(folder).ok()?,
        &fs::canonicalize(file).ok()?,
    )
}

/// The same for paths that are absolute and without links.
pub(super) fn names(folder: &Path, file: &Path) -> Option<Vec<String>> {
    let from: Vec<Component<'_>> = folder.components().collect();
    let to: Vec<Component<'_>> = file.components().collect();
    let shared = from.iter().zip(&to).take_while(|(a, b)| a == b).count();
    if shared == 0 {
        return None;
    }
    let up = from.iter().skip(shared).map(|_| Some("..".to_owned()));
    let down = to.iter().skip(shared);
    up.chain(down.map(|part| part.as_os_str().to_str().map(str::to_owned)))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::names;
    use std::path::Path;

    #[test]
    fn the_way_goes_up_and_down() {
        let way =
            |from: &str, to: &str| names(Path::new(from), Path::new(to)).map(|all| all.join("/"));
        let is = |text: &str| Some(text.to_owned());
        assert_eq!(way("/barn/job", "/barn/job/soil.shp"), is("soil.shp"));
        assert_eq!(
            way("/barn/job", "/barn/data/soil.shp"),
            is("../data/soil.shp")
        );
        assert_eq!(way("/a/b", "/c d/soil.shp"), is("../../c d/soil.shp"));
        assert_eq!(way("barn", "/barn/soil.shp"), None);
    }
}
