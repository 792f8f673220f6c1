//! Formulas of metering and work rate: a route through the library's own functions.

use super::formulas::Inputs;
use twinsow::drill::flow;
use twinsow::drive::work;
use twinsow::job::Rotor;
use twinsow::units;

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
            units::acres_from_ha(work::ha_per_h(width_m, km_per_h, efficiency))
        }
        "strip_ft_of_twentieth_acre" => {
            let width_m = of.take("openers")? * units::m_from_inches(of.take("spacing_in")?);
            units::M2_PER_ACRE / 20.0 / width_m / units::M_PER_FOOT
        }
        "row_in_of_ft2" => {
            let spacing_m = units::m_from_inches(of.take("spacing_in")?);
            units::M2_PER_FT2 / spacing_m / units::M_PER_INCH
        }
        "seeds_per_ft_of_row" => {
            let per_m2 = units::per_m2_from_per_ft2(of.take("seeds_per_ft2")?);
            per_m2 * units::m_from_inches(of.take("spacing_in")?) * units::M_PER_FOOT
        }
        "seeds_per_50_ft_of_row" => {
            let per_m2 = units::per_m2_from_per_acre(of.take("seeds_per_acre")?);
            per_m2 * units::m_from_inches(of.take("spacing_in")?) * 50.0 * units::M_PER_FOOT
        }
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
