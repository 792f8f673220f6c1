//! Straight edges stay straight: points put on those that another CRS would bend.

use super::crs::Crs;
use super::plane::{Plane, from_meridian};
use crate::coordinates::{LonLat, PlaneXy};
use crate::read::Xy;
use crate::units::M_PER_DEGREE;

/// Edges shorter than this are left as they are, metres. Among the CRSs in use the strongest bend is
/// that of a parallel in a plane, tan(latitude) / R: 1.5e-6 per metre at 84 degrees, and over 15 m that
/// is 0.04 mm.
pub(super) const SHORT_M: f64 = 15.0;
/// How far the middle of an edge may lie beside the chord, metres. The promise is 0.05 mm, so that the area of a
/// long field is that of its border as drawn; the rest is for what lies between the places tested and for the
/// difference between the edge's plane and the field's.
const BESIDE_M: f64 = 0.000_04;
/// Edges longer than this are tested at their quarters too, metres: they may bend both ways.
const TESTED_AT_QUARTERS_M: f64 = 500.0;
/// Edges longer than this are halved untested, metres: what is straight in the plane about one of its ends bends in the
/// field's by L^2 x / (16 R^2), 0.004 mm for a kilometre 2.5 km from the middle.
const HALVED_M: f64 = 1_000.0;
/// Most points put on all edges of a layer.
const MOST: usize = 5_000_000;
/// Most halvings of one edge: what is left then is shorter than 1 mm.
const DEEPEST: u32 = 36;
/// Square of nine tenths of [`SHORT_M`] in degrees.
const SURELY_SHORT_DEGREES2: f64 = {
    let degrees = 0.9 * SHORT_M / M_PER_DEGREE;
    degrees * degrees
};

/// An edge, in the direction that does not depend on the ring it was found in.
pub(super) struct Edge {
    /// Ends in the source CRS, the smaller first.
    source: [Xy; 2],
    /// The same ends in degrees on WGS 84.
    lon_lat: [LonLat; 2],
    /// Whether its ring runs the other way.
    pub reversed: bool,
}

/// Why points cannot be put on an edge.
pub(super) enum Failure {
    /// This point (source CRS) of this edge has no place on Earth.
    NoPlace(usize, Xy),
    /// More points than a layer may get.
    TooMany,
}

impl Edge {
    /// The edge between two places, each in the source CRS and in degrees; `None` if it is too short
    /// to be bent. Both rings along a shared border get the same edge.
    pub(super) fn between(source: [Xy; 2], lon_lat: [LonLat; 2]) -> Option<Self> {
        // Without the cosine an edge is longer; most are short even so.
        let [from, to] = lon_lat;
        let [east, north] = [from_meridian(to.lon, from.lon), to.lat - from.lat];
        let surely_short = east * east + north * north < SURELY_SHORT_DEGREES2;
        if surely_short || length_m(lon_lat) < SHORT_M {
            return None;
        }
        let [a, b] = source;
        let reversed = (a[0], a[1]) > (b[0], b[1]);
        Some(Self {
            source: if reversed { [b, a] } else { [a, b] },
            lon_lat: if reversed { [to, from] } else { [from, to] },
            reversed,
        })
    }

    /// The ends in degrees.
    pub(super) fn ends(&self) -> [LonLat; 2] {
        self.lon_lat
    }

    /// The place at this share of the way, in the source CRS.
    fn at(&self, share: f64, turn: Option<f64>) -> Xy {
        let [a, b] = self.source;
        let mut step = [b[0] - a[0], b[1] - a[1]];
        // An edge between longitudes goes the shorter way round.
        if let Some(turn) = turn {
            if step[0] > turn / 2.0 {
                step[0] -= turn;
            } else if step[0] < -turn / 2.0 {
                step[0] += turn;
            }
        }
        [a[0] + share * step[0], a[1] + share * step[1]]
    }
}

/// Length of an edge between two places in degrees, metres, to a per cent.
pub(super) fn length_m([a, b]: [LonLat; 2]) -> f64 {
    let middle = ((a.lat + b.lat) / 2.0).to_radians();
    (from_meridian(b.lon, a.lon) * middle.cos()).hypot(b.lat - a.lat) * M_PER_DEGREE
}

/// A part of an edge, between two shares of its way.
struct Piece {
    edge: usize,
    shares: [f64; 2],
    ends: [LonLat; 2],
    depth: u32,
}

/// The points (degrees, WGS 84) to put on each edge, in the edge's own direction, so that chords lie
/// within 0.05 mm of the straight edge in the source CRS.
///
/// Halves edges level by level, all of a level in one batch.
pub(super) fn points_on(edges: &[Edge], crs: &Crs) -> Result<Vec<Vec<LonLat>>, Failure> {
    let turn = crs.turn();
    let mut found: Vec<Vec<(f64, LonLat)>> = vec![Vec::new(); edges.len()];
    let mut count = 0;
    let mut level: Vec<Piece> = edges
        .iter()
        .enumerate()
        .map(|(edge, e)| Piece {
            edge,
            shares: [0.0, 1.0],
            ends: e.lon_lat,
            depth: 0,
        })
        .collect();
    while !level.is_empty() {
        let mut sources = Vec::with_capacity(level.len());
        let mut owners = Vec::with_capacity(level.len());
        for (i, piece) in level.iter().enumerate() {
            let [a, b] = piece.shares;
            let edge = &edges[piece.edge];
            for &share in tested(length_m(piece.ends)) {
                sources.push(edge.at(a + share * (b - a), turn));
                owners.push(i);
            }
        }
        let places = crs
            .try_wgs84(sources.clone())
            .map_err(|bad| Failure::NoPlace(level[owners[bad]].edge, sources[bad]))?;
        let mut next = Vec::new();
        let mut rest = places.as_slice();
        for piece in &level {
            let length = length_m(piece.ends);
            let (mine, others) = rest.split_at(tested(length).len());
            rest = others;
            // The middle stands first.
            let Some(&middle) = mine.first() else {
                continue;
            };
            let bent = length > HALVED_M || beside_m(piece.ends, mine) > BESIDE_M;
            if !bent || length < SHORT_M / 2.0 || piece.depth >= DEEPEST {
                continue;
            }
            let half = (piece.shares[0] + piece.shares[1]) / 2.0;
            found[piece.edge].push((half, middle));
            count += 1;
            let Piece { edge, depth, .. } = *piece;
            let depth = depth + 1;
            next.push(Piece {
                edge,
                shares: [piece.shares[0], half],
                ends: [piece.ends[0], middle],
                depth,
            });
            next.push(Piece {
                edge,
                shares: [half, piece.shares[1]],
                ends: [middle, piece.ends[1]],
                depth,
            });
        }
        if count > MOST {
            return Err(Failure::TooMany);
        }
        level = next;
    }
    Ok(found
        .into_iter()
        .map(|mut on_edge| {
            on_edge.sort_by(|a, b| a.0.total_cmp(&b.0));
            on_edge.into_iter().map(|(_, place)| place).collect()
        })
        .collect())
}

/// The shares of an edge that are tested, the middle first.
fn tested(length_m: f64) -> &'static [f64] {
    if length_m > TESTED_AT_QUARTERS_M {
        &[0.5, 0.25, 0.75]
    } else {
        &[0.5]
    }
}

/// The largest distance of these places from the chord, metres, in the plane about the chord's start.
fn beside_m([a, b]: [LonLat; 2], places: &[LonLat]) -> f64 {
    let plane = Plane::about(a.lon, a.lat);
    let PlaneXy { x: bx, y: by } = plane.to_plane(b);
    let chord = bx.hypot(by);
    places
        .iter()
        .map(|&place| {
            let PlaneXy { x, y } = plane.to_plane(place);
            (bx * y - by * x).abs() / chord
        })
        .fold(0.0, f64::max)
}
