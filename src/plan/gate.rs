//! The gate check: places near the field entrance whose rates are far apart, to be looked up on the screen with
//! the drill raised. Method: docs/methods/gate-check.md.

use super::Plan;
use super::gate_cells::{Distances, cells_to_show};
use crate::coordinates::{LonLat, PlaneXy};
use crate::units::LEAST_M_PER_DEGREE;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Corners of the border that lie so far beside the outermost one count as on the same side, metres: a long side may
/// have points on it, and they need not lie on one line of the plane.
const BESIDE_M: f64 = 0.5;

/// The places of the gate check, nearest first, and in words the mistakes that they do not show.
#[derive(Debug, Clone)]
pub struct GateCheck {
    /// Nearest first.
    pub places: Vec<GatePlace>,
    /// In words.
    pub misses: Vec<String>,
}

/// A place of the gate check.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct GatePlace {
    /// Middle of a cell of the terminal's grid, degrees on WGS 84.
    pub lon_lat: LonLat,
    /// From the entrance, metres.
    pub distance_m: f64,
    /// What the screen has to show, per product in job order; as task data hold it, to 0.01 kg/ha.
    pub kg_per_ha: Vec<f64>,
}

impl Plan {
    /// Up to three places, nearest first, chosen so that they show as many mistakes as they can, and then with rates
    /// far apart; fewer where the map has fewer places.
    pub fn gate_check(&self) -> Vec<GatePlace> {
        self.gate().places.clone()
    }

    /// Mistakes that the places of the gate check do not show, in words: the map looks the same with them there.
    pub fn gate_check_misses(&self) -> Vec<String> {
        self.gate().misses.clone()
    }

    /// Both of these at once.
    pub fn gate(&self) -> &GateCheck {
        self.maps.known_gate.get_or_init(|| self.find_gate())
    }

    fn find_gate(&self) -> GateCheck {
        let entrance_lon_lat = self.entrance();
        let entrance = self.land.frame.to_plane(entrance_lon_lat);
        let from_entrance = |at: PlaneXy| (at.x - entrance.x).hypot(at.y - entrance.y);
        let about_m = |place: LonLat| {
            let at = self.land.frame.fast_to_plane(place);
            let [east, north] = [at.x - entrance.x, at.y - entrance.y];
            (east * east + north * north).sqrt()
        };
        let exactly_m = |place: LonLat| from_entrance(self.land.frame.to_plane(place));
        let distances = Distances {
            about_m: &about_m,
            exactly_m: &exactly_m,
            // A way in the plane is nowhere shorter than on the ground.
            at_least_m: &|lat| (lat - entrance_lon_lat.lat).abs() * LEAST_M_PER_DEGREE,
        };
        let (chosen, missed) = cells_to_show(&self.maps.rate.degrees, &distances);
        let products = self.job.products.iter();
        let names: Vec<&str> = products.map(|product| product.name.as_str()).collect();
        let misses = match chosen.is_empty() {
            true => Vec::new(),
            false => missed.into_iter().map(|of| of.words(&names)).collect(),
        };
        let places = chosen.into_iter().map(|cell| GatePlace {
            lon_lat: cell.lon_lat,
            distance_m: cell.distance_m,
            kg_per_ha: cell.raw.iter().map(|raw| *raw as f64 / 100.0).collect(),
        });
        GateCheck {
            places: places.collect(),
            misses,
        }
    }

    /// Where the drill enters: what the job says, else the start of the first bout, which lies along the
    /// border on the right of the heading.
    fn entrance(&self) -> LonLat {
        if let Some(entrance) = self.job.field.entrance {
            return entrance.lon_lat();
        }
        let heading = self
            .drive
            .report
            .as_ref()
            .map_or(0.0, |drive| drive.heading_deg);
        let (sine, cosine) = heading.to_radians().sin_cos();
        let turned = |PlaneXy { x, y }: PlaneXy| (-x * cosine + y * sine, x * sine + y * cosine);
        let corners = || self.land.boundary.iter().flat_map(|part| &part.exterior);
        let about: Vec<PlaneXy> = self.land.frame.all_to_plane(corners().copied().collect());
        let places = || about.iter().map(|&place| turned(place));
        let least = places().fold(f64::INFINITY, |least, (beside, _)| least.min(beside));
        let first = places()
            .zip(corners())
            .filter(|((beside, _), _)| *beside <= least + BESIDE_M)
            .min_by(|((_, a), _), ((_, b), _)| a.total_cmp(b));
        first.map_or(self.land.frame.origin(), |(_, corner)| *corner)
    }
}
