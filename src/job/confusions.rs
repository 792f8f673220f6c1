//! Numbers that are plainly in another unit of measure than their key says.

/// Keys that are looked at. A number by class or by product stands below one of them.
const QUANTITIES: [&str; 13] = [
    "working_width_m",
    "sections_m",
    "row_spacing_m",
    "thousand_grain_weight_g",
    "germination_percent",
    "establishment_percent",
    "percent",
    "reserve_percent",
    "bulk_density_kg_per_l",
    "usable_l",
    "seeds_per_m2",
    "plants_per_m2",
    "kg_per_ha",
];

/// What a number looks like, and what to write instead.
pub(super) struct Confused {
    pub looks_like: &'static str,
    pub next: String,
}

/// Looks at a number at the end of a path of keys (list items by number, classes by name).
pub(super) fn look(path: &[&str], value: f64) -> Option<Confused> {
    let place = path.iter().rposition(|key| QUANTITIES.contains(key))?;
    // A part of a sum or a product is no such quantity, only what they come to.
    if path[place..]
        .iter()
        .any(|key| ["sum", "product"].contains(key))
    {
        return None;
    }
    let key = &path[place];
    let (looks_like, instead) = match *key {
        "working_width_m" | "sections_m" => width(value)?,
        "row_spacing_m" if value > 50.0 && value <= 2000.0 => ("millimetres", value / 1000.0),
        "row_spacing_m" if value > 2.0 && value <= 50.0 => ("centimetres", value / 100.0),
        "thousand_grain_weight_g" if value > 0.0 && value < 0.1 => ("kilograms", value * 1000.0),
        "thousand_grain_weight_g" if value > 2000.0 && value.is_finite() => {
            return Some(Confused {
                looks_like: "seeds in a pound, or milligrams",
                next: format!(
                    "if so, write seeds_per_lb = {value} instead of it, or write {} for {key}",
                    value / 1000.0
                ),
            });
        }
        "germination_percent" | "establishment_percent" if value > 0.0 && value <= 1.0 => {
            ("a fraction, not percent", value * 100.0)
        }
        "percent" if value > 0.0 && value <= 2.0 => ("a factor, not percent", value * 100.0),
        "reserve_percent" if value > 0.0 && value <= 0.2 => {
            ("a fraction, not percent", value * 100.0)
        }
        "bulk_density_kg_per_l" if (100.0..=3000.0).contains(&value) => {
            ("kilograms per cubic metre", value / 1000.0)
        }
        "usable_l" if value > 0.0 && value < 20.0 => ("cubic metres", value * 1000.0),
        "seeds_per_m2" | "plants_per_m2" if value > 5000.0 && value.is_finite() => {
            ("a number per hectare", value / crate::units::M2_PER_HA)
        }
        "kg_per_ha" if value > 5000.0 && value.is_finite() => ("grams per hectare", value / 1000.0),
        _ => return None,
    };
    let instead = (instead * 1e9).round() / 1e9;
    Some(Confused {
        looks_like,
        next: format!("if so, write {instead} for {key}"),
    })
}

/// What to do about a number out of its range, where more can be said than to correct it.
pub(super) fn advice(path: &[&str], value: f64) -> Option<&'static str> {
    match path {
        ["setback", _, "distance_m"] if value <= 0.0 => Some(
            "write the distance that the label or the local rule asks for, measured from where it says; where 'source' draws the strip itself, as an office or a surveyor measured it, write how far off that may be, such as 0.5",
        ),
        _ => None,
    }
}

/// Widths beyond the widest drill: up to 25 m written in centimetres, beyond that in millimetres.
fn width(value: f64) -> Option<(&'static str, f64)> {
    match value {
        v if v > 60.0 && v <= 2500.0 => Some(("centimetres", v / 100.0)),
        v if v > 2500.0 && v <= 60_000.0 => Some(("millimetres", v / 1000.0)),
        _ => None,
    }
}
