//! A path as seen from a folder.

use std::path::{Component, Path, PathBuf};

/// The way from `folder` to `file`, both absolute and without links; `file` itself where there is
/// no way (another drive). With `/` on every system; `None` if it is not UTF-8.
pub(super) fn path(folder: &Path, file: &Path) -> Option<String> {
    let from: Vec<Component<'_>> = folder.components().collect();
    let to: Vec<Component<'_>> = file.components().collect();
    let shared = from.iter().zip(&to).take_while(|(a, b)| a == b).count();
    if shared == 0 {
        return file.to_str().map(str::to_owned);
    }
    let up = from.iter().skip(shared).map(|_| Component::ParentDir);
    let way: PathBuf = up.chain(to.iter().skip(shared).copied()).collect();
    let parts: Option<Vec<&str>> = way
        .components()
        .map(|part| part.as_os_str().to_str())
        .collect();
    parts.map(|parts| parts.join("/"))
}

#[cfg(test)]
mod tests {
    use super::path;
    use std::path::Path;

    #[test]
    fn the_way_goes_up_and_down() {
        let way = |from: &str, to: &str| path(Path::new(from), Path::new(to)).unwrap_or_default();
        assert_eq!(way("/barn/job", "/barn/job/soil.shp"), "soil.shp");
        assert_eq!(way("/barn/job", "/barn/data/soil.shp"), "../data/soil.shp");
        assert_eq!(way("/a/b", "/c d/soil.shp"), "../../c d/soil.shp");
    }
}
