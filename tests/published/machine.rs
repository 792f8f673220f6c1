//! Formulas of metering and work rate: a route through the library's own functions.

use super::formulas::Inputs;
use twinsow::drill::flow;
use twinsow::drive::work_rate;
use twinsow::job::Rotor;
use twinsow::units;

/// As the guide writes it; its circumferences come out with no other.
#[allow(clippy::approx_constant)]
const PI_OF_THE_GUIDE: f64 = 3.14;

/// Metres in an international mile: 5280 feet.
const M_PER_MILE: f64 = 5280.0 * units::M_PER_FOOT;

/// The result of a formula; `None` if it is not one of these.
pub fn run(formula: &str, of: &mut Inputs) -> Result<Option<f64>, String> {
    let m2 = |ft2: f64| ft2 * units::M2_PER_FT2;
    Ok(Some(match formula {
        "kg_per_min" => flow::kg_per_min(
            of.take("kg_per_ha")?,
            of.take("width_m")?,
            of.take("speed_km_per_h")?,
        ),
        "catch_g_of_ft2" => {
            let rate = units::kg_per_ha_from_lb_per_acre(of.take("lb_per_acre")?);
            1000.0 * flow::catch_kg(rate, m2(of.take("ft2")?))
        }
        "lb_per_acre_of_catch" => {
            let area = m2(of.take("ft")? * of.take("runs")? * of.take("spacing_in")? / 12.0);
            // The rate whose catch this is: a catch is proportional to its rate.
            let rate = of.take("g")? / 1000.0 / flow::catch_kg(1.0, area);
            units::lb_per_acre_from_kg_per_ha(rate)
        }
        "acres_per_h" => {
            let width_m = of.take("width_ft")? * units::M_PER_FOOT;
            let km_per_h = of.take("mph")? * M_PER_MILE / 1000.0;
            let efficiency = of.take("efficiency_percent")? / 100.0;
            units::acres_from_ha(work_rate::ha_per_h(width_m, km_per_h, efficiency))
        }
        "strip_ft_of_twentieth_acre" => {
            let width_m = of.take("openers")? * units::m_from_inches(of.take("spacing_in")?);
            units::M2_PER_ACRE / 20.0 / width_m / units::M_PER_FOOT
        }
        "row_in_of_ft2" => {
            let spacing_m = units::m_from_inches(of.take("spacing_in")?);
            units::M2_PER_FT2 / spacing_m / units::M_PER_INCH
        }
        "wheel_turns" => {
            let round_m = of.take("wheel_round_in")? * units::M_PER_INCH;
            // Along a way, a width of 1 m is as good as any.
            let way_m = of.take("way_ft")? * units::M_PER_FOOT;
            flow::turns(way_m, 1.0, round_m)
        }
        "wheel_turns_of_diameter" => {
            let round_ft = PI_OF_THE_GUIDE * of.take("diameter_ft")?;
            flow::turns(of.take("way_ft")?, 1.0, round_ft)
        }
        "wheel_turns_of_area" => {
            let round_m = std::f64::consts::PI * of.take("diameter_m")?;
            let slip = of.take("slip_percent")? / 100.0;
            // A wheel that slips covers more in a turn than its round.
            flow::turns(
                of.take("area_m2")?,
                of.take("width_m")?,
                round_m / (1.0 - slip),
            )
        }
        "ft2_of_turns" => {
            let round_ft = of.take("wheel_round_ft")?;
            let row_ft = of.take("spacing_in")? / 12.0;
            of.take("turns")? / flow::turns(1.0, row_ft, round_ft)
        }
        "kg_per_ha_of_rotor" => {
            let rotor = Rotor {
                name: String::new(),
                cm3_per_rev: of.take("cm3_per_rev")?,
                min_rev_per_min: 1.0,
                max_rev_per_min: 100.0,
                filling_percent: 100.0,
            };
            let revolutions = flow::turns(10_000.0, of.take("width_m")?, of.take("m_per_rev")?);
            flow::kg_per_rev(&rotor, of.take("kg_per_l")?) * revolutions
        }
        "turn_down" => {
            let mut at = |end: &str| -> Result<f64, String> {
                let rate = of.take(&format!("{end}_kg_per_ha"))?;
                Ok(flow::kg_per_min(
                    rate,
                    1.0,
                    of.take(&format!("{end}_km_per_h"))?,
                ))
            };
            at("highest")? / at("lowest")?
        }
        "seeds_per_ft_of_row" => {
            let seeds_per_m2 = units::per_m2_from_per_ft2(of.take("seeds_per_ft2")?);
            seeds_per_m2 * units::m_from_inches(of.take("spacing_in")?) * units::M_PER_FOOT
        }
        "row_ft_of_acre" => {
            let spacing_m = units::m_from_inches(of.take("spacing_in")?);
            units::M2_PER_ACRE / spacing_m / units::M_PER_FOOT
        }
        "seeds_of_row" => {
            let seeds_per_m2 = units::per_m2_from_per_acre(of.take("seeds_per_acre")?);
            let row_m2 = units::m_from_inches(of.take("spacing_in")?)
                * of.take("row_ft")?
                * units::M_PER_FOOT;
            seeds_per_m2 * row_m2
        }
        "ha_per_h" => {
            let efficiency = of.take("efficiency_percent")? / 100.0;
            work_rate::ha_per_h(of.take("width_m")?, of.take("km_per_h")?, efficiency)
        }
        "ha_per_fill" => {
            let usable = of.take("usable_percent")? / 100.0;
            let kg = of.take("litres")? * of.take("kg_per_l")? * usable;
            work_rate::ha_per_fill(kg, of.take("kg_per_ha")?)
        }
        "metres" => work_rate::metres(of.take("km_per_h")?, of.take("seconds")?),
        "rev_per_min" => {
            let rotor = Rotor {
                name: String::new(),
                cm3_per_rev: of.take("cm3_per_rev")?,
                min_rev_per_min: 1.0,
                max_rev_per_min: 100.0,
                filling_percent: of.take("filling_percent")?,
            };
            of.take("kg_per_min")? / flow::kg_per_rev(&rotor, of.take("kg_per_l")?)
        }
        _ => return Ok(None),
    }))
}
