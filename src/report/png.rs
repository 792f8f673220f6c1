//! Pictures as PNG, for messages: the same drawing as the SVG, in pixels.

use crate::findings::{Fault, Outcome, Place};
use resvg::tiny_skia::{Pixmap, Transform};
use resvg::usvg::{Options, Tree};

/// Pixels to a unit of the drawing, so that small figures stay sharp on a phone.
const SCALE: f32 = 2.0;

/// Draws pictures; the font comes with the program, so that no machine's own fonts change them.
pub(super) struct Painter {
    options: Options<'static>,
}

impl Painter {
    pub(super) fn new() -> Self {
        let mut options = Options::default();
        let fonts = options.fontdb_mut();
        fonts.load_font_data(dejavu::sans::regular().to_vec());
        fonts.load_font_data(dejavu::sans::bold().to_vec());
        options.font_family = "DejaVu Sans".to_owned();
        Self { options }
    }

    /// One picture, from SVG to PNG.
    ///
    /// # Errors
    /// None that the report's own drawings can cause.
    pub(super) fn png(&self, svg: &[u8]) -> Outcome<Vec<u8>> {
        let tree = Tree::from_data(svg, &self.options).map_err(|error| unfit(&error))?;
        let [width, height] = [tree.size().width(), tree.size().height()]
            .map(|length| (length * SCALE).ceil() as u32);
        let mut pixels = Pixmap::new(width, height).ok_or_else(|| unfit(&"it has no size"))?;
        let scale = Transform::from_scale(SCALE, SCALE);
        resvg::render(&tree, scale, &mut pixels.as_mut());
        pixels.encode_png().map_err(|error| unfit(&error))
    }
}

fn unfit(error: &dyn std::fmt::Display) -> Box<Fault> {
    Fault::program(
        "report.png",
        Place::nowhere(),
        format!("a picture could not be turned into PNG: {error}"),
        "a drawing that can be drawn",
    )
}
