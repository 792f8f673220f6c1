//! How the parts of a geometry are put together as their elements end: points, lines of several pieces, rings and polygons.

use super::Reading;
use crate::read::Path;

impl Reading {
    /// Puts what has ended where the elements around it say.
    pub(super) fn part(&mut self, parents: &[String], name: &str) -> Result<(), String> {
        let parent = parents.last().map_or("", String::as_str);
        let in_ring = parents.iter().any(|around| around == "Ring");
        match name {
            "Point" => {
                let points = std::mem::take(&mut self.line);
                if let Some((_, found)) = &mut self.feature {
                    found.points.extend(points);
                }
            }
            "LinearRing" => {
                let ring = std::mem::take(&mut self.line);
                self.ring_ends(parent, ring)?;
            }
            "Ring" => {
                let ring = std::mem::take(&mut self.ring);
                self.ring_ends(parent, ring)?;
            }
            // Pieces of one line follow each other; where they meet the place stands twice.
            "LineString" | "LineStringSegment" if in_ring => {
                let line = std::mem::take(&mut self.line);
                join(&mut self.ring, line)?;
            }
            "LineStringSegment" => {
                let line = std::mem::take(&mut self.line);
                if let Some((_, found)) = &mut self.feature {
                    match found.lines.last_mut() {
                        Some(open) if self.curve_is_open => join(open, line)?,
                        _ => found.lines.push(line),
                    }
                    self.curve_is_open = true;
                }
            }
            "Curve" => self.curve_is_open = false,
            "LineString" => {
                let line = std::mem::take(&mut self.line);
                if let Some((_, found)) = &mut self.feature {
                    found.lines.push(line);
                }
            }
            "Polygon" | "PolygonPatch" | "Rectangle" | "Triangle" => {
                let exterior = self.exterior.take().unwrap_or_default();
                let holes = std::mem::take(&mut self.holes);
                if let Some((_, found)) = &mut self.feature {
                    let rings = std::iter::once(exterior).chain(holes);
                    found.polygons.push(rings.collect());
                }
            }
            _ => {}
        }
        Ok(())
    }

    fn ring_ends(&mut self, parent: &str, ring: Path) -> Result<(), String> {
        match parent {
            "exterior" | "outerBoundaryIs" if self.exterior.is_some() => {
                Err("a polygon has two outer rings".to_owned())
            }
            "exterior" | "outerBoundaryIs" => {
                self.exterior = Some(ring);
                Ok(())
            }
            "interior" | "innerBoundaryIs" => {
                self.holes.push(ring);
                Ok(())
            }
            _ => {
                if let Some((_, found)) = &mut self.feature {
                    found.lines.push(ring);
                }
                Ok(())
            }
        }
    }
}

/// Goes on with a line where it ends.
fn join(line: &mut Path, more: Path) -> Result<(), String> {
    match (line.last(), more.first()) {
        (Some(last), Some(first)) if last == first => line.extend(more.into_iter().skip(1)),
        (Some(_), Some(_)) => {
            return Err("a piece of a line does not begin where the one before it ends".to_owned());
        }
        _ => line.extend(more),
    }
    Ok(())
}
