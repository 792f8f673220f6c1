//! The formulas that blocks of check values name: a route through the library's own functions. The only
//! arithmetic of its own is what a source does and the library does not (its shortcuts, pure live seed).

use std::collections::BTreeMap;
use twinsow::agronomy::{mixture, nutrient, seed};
use twinsow::job::{Grade, Joined, Nutrient};
use twinsow::units;

/// Inputs that must all be used.
pub struct Inputs(BTreeMap<String, f64>);

impl Inputs {
    /// Takes an input out.
    pub fn take(&mut self, name: &str) -> Result<f64, String> {
        self.0
            .remove(name)
            .ok_or_else(|| format!("input '{name}' is missing"))
    }

    /// Takes the share of seeds that become plants out.
    fn share(&mut self, joined: Joined) -> Result<f64, String> {
        let germination = match joined {
            Joined::Included => None,
            Joined::Multiply | Joined::Subtract => Some(self.take("germination_percent")?),
        };
        let establishment = self.take("establishment_percent")?;
        seed::plants_per_seed(germination, establishment, joined).map_err(|fault| fault.to_string())
    }

    fn grade(&mut self) -> Result<Grade, String> {
        Ok(Grade {
            n_percent: self.take("n_percent")?,
            p2o5_percent: self.take("p2o5_percent")?,
            k2o_percent: self.take("k2o_percent")?,
            ..Grade::default()
        })
    }
}

/// The result of a formula.
///
/// # Errors
/// A formula that is not known, an input that is missing or too many, a fault of the library.
pub fn run(formula: &str, inputs: BTreeMap<String, f64>) -> Result<f64, String> {
    let mut inputs = Inputs(inputs);
    let answer = answer(formula, &mut inputs)?;
    match inputs.0.keys().next() {
        Some(name) => Err(format!(
            "formula '{formula}' does not use the input '{name}'"
        )),
        None => Ok(answer),
    }
}

fn answer(formula: &str, of: &mut Inputs) -> Result<f64, String> {
    // The ends of formula names that say how germination and establishment are joined.
    let (stem, joined) = match formula.rsplit_once('_') {
        Some((stem, "multiply")) => (stem, Joined::Multiply),
        Some((stem, "subtract")) => (stem, Joined::Subtract),
        Some((stem, "included")) => (stem, Joined::Included),
        _ => (formula, Joined::Included),
    };
    let lb_per_acre = units::lb_per_acre_from_kg_per_ha;
    Ok(match stem {
        "kg_per_ha_of_plants" => seed::kg_per_ha_of_plants(
            of.take("plants_per_m2")?,
            of.take("thousand_grain_weight_g")?,
            of.share(joined)?,
        ),
        "mixture_share" => {
            mixture::of_full_kg_per_ha(of.take("full_kg_per_ha")?, of.take("share_percent")?)
        }
        "mixture_kg_per_ha" => {
            let full = seed::kg_per_ha_of_plants(
                of.take("plants_per_m2")?,
                of.take("thousand_grain_weight_g")?,
                of.share(joined)?,
            );
            mixture::of_full_kg_per_ha(full, of.take("share_percent")?)
        }
        "kg_per_ha_of_seeds" => seed::kg_per_ha_of_seeds(
            of.take("seeds_per_m2")?,
            of.take("thousand_grain_weight_g")?,
        ),
        "lb_per_acre_of_plants" => {
            let plants = units::per_m2_from_per_ft2(of.take("plants_per_ft2")?);
            lb_per_acre(seed::kg_per_ha_of_plants(
                plants,
                of.take("thousand_grain_weight_g")?,
                of.share(joined)?,
            ))
        }
        "lb_per_acre_of_stand" => {
            let plants = units::per_m2_from_per_acre(of.take("plants_per_acre")?);
            let weight = units::thousand_grain_weight_g_from_seeds_per_lb(of.take("seeds_per_lb")?);
            let establishment = 100.0 - of.take("stand_loss_percent")?;
            let share = seed::plants_per_seed(
                Some(of.take("germination_percent")?),
                establishment,
                Joined::Multiply,
            )
            .map_err(|fault| fault.to_string())?;
            lb_per_acre(seed::kg_per_ha_of_plants(plants, weight, share))
        }
        "bushels_per_acre_of_live_seed" => {
            let live = units::per_m2_from_per_acre(of.take("live_seeds_per_acre")?);
            let weight = units::thousand_grain_weight_g_from_seeds_per_lb(of.take("seeds_per_lb")?);
            let share = of.take("viable_percent")? / 100.0 * of.take("pure_percent")? / 100.0;
            lb_per_acre(seed::kg_per_ha_of_plants(live, weight, share))
                / of.take("lb_per_bushel")?
        }
        "seeds_per_ft2" => {
            let plants = units::per_m2_from_per_ft2(of.take("plants_per_ft2")?);
            units::per_ft2_from_per_m2(seed::seeds_per_m2(plants, of.share(joined)?))
        }
        "seeds_per_m2" => seed::seeds_per_m2(of.take("plants_per_m2")?, of.share(joined)?),
        "seeds_per_acre_of_lb" => units::per_acre_from_per_m2(seeds_of_lb(of)?),
        "seeds_per_ft2_of_lb" => units::per_ft2_from_per_m2(seeds_of_lb(of)?),
        "plants_per_ft2_of_lb" => {
            let kg_per_ha = units::kg_per_ha_from_lb_per_acre(of.take("lb_per_acre")?);
            let weight = of.take("thousand_grain_weight_g")?;
            units::per_ft2_from_per_m2(seed::plants_per_m2_of_kg(
                kg_per_ha,
                weight,
                of.share(joined)?,
            ))
        }
        "shortcut_lb_per_acre" => shortcut(of)?,
        "shortcut_over_exact" => {
            let mut exact = Inputs(of.0.clone());
            shortcut(of)? / answer("lb_per_acre_of_plants_multiply", &mut exact)?
        }
        "lb_per_acre_of_seeds" => {
            let seeds = units::per_m2_from_per_ft2(of.take("seeds_per_ft2")?);
            lb_per_acre(seed::kg_per_ha_of_seeds(
                seeds,
                of.take("thousand_grain_weight_g")?,
            ))
        }
        "lb_per_acre_of_seed_count" => {
            let seeds = units::per_m2_from_per_ft2(of.take("seeds_per_ft2")?);
            let weight = units::thousand_grain_weight_g_from_seeds_per_lb(of.take("seeds_per_lb")?);
            lb_per_acre(seed::kg_per_ha_of_seeds(seeds, weight))
        }
        "lb_per_acre_of_seeds_per_acre" => {
            let seeds = units::per_m2_from_per_acre(of.take("seeds_per_acre")?);
            let weight = units::thousand_grain_weight_g_from_seeds_per_lb(of.take("seeds_per_lb")?);
            lb_per_acre(seed::kg_per_ha_of_seeds(seeds, weight))
        }
        "seeds_per_lb_of_sample_lb" => {
            let kg = units::kg_from_lb(of.take("sample_lb")?);
            seeds_per_lb(of.take("seeds")?, kg)
        }
        "seeds_per_lb_of_sample_oz" => {
            let kg = units::kg_from_lb(of.take("sample_oz")? / units::OZ_PER_LB);
            seeds_per_lb(of.take("seeds")?, kg)
        }
        "seeds_per_lb_of_20_g" => seeds_per_lb(of.take("seeds")?, 0.020),
        "plants_per_m2_of_seeds" => of.take("seeds_per_m2")? * of.share(joined)?,
        "plants_per_100_seeds" => 100.0 * of.share(joined)?,
        "thousand_grain_weight_g" => {
            units::thousand_grain_weight_g_from_seeds_per_lb(of.take("seeds_per_lb")?)
        }
        "product_for_p2o5" => product_for_p2o5(of.take("need_kg_per_ha")?, &of.grade()?)?,
        "product_for_p2o5_lb_per_acre" => {
            let need = units::kg_per_ha_from_lb_per_acre(of.take("need_lb_per_acre")?);
            lb_per_acre(product_for_p2o5(need, &of.grade()?)?)
        }
        "n_with_p2o5" => {
            let need = of.take("need_kg_per_ha")?;
            let grade = of.grade()?;
            nutrient::supply_kg_per_ha(product_for_p2o5(need, &grade)?, &grade, Nutrient::N)
        }
        "supply_of_n" => {
            nutrient::supply_kg_per_ha(of.take("product_kg_per_ha")?, &of.grade()?, Nutrient::N)
        }
        "supply_of_p2o5" => {
            nutrient::supply_kg_per_ha(of.take("product_kg_per_ha")?, &of.grade()?, Nutrient::P2o5)
        }
        "supply_of_k2o" => {
            nutrient::supply_kg_per_ha(of.take("product_kg_per_ha")?, &of.grade()?, Nutrient::K2o)
        }
        "p2o5_from_p" => units::p2o5_from_p(of.take("p")?),
        "p_from_p2o5" => units::p_from_p2o5(of.take("p2o5")?),
        "k2o_from_k" => units::k2o_from_k(of.take("k")?),
        "k_from_k2o" => units::k_from_k2o(of.take("k2o")?),
        "uk_units_per_acre_from_kg_per_ha" => {
            units::uk_units_per_acre_from_kg_per_ha(of.take("kg_per_ha")?)
        }
        "bushels_per_tonne" => units::bushels_per_tonne(of.take("lb_per_bushel")?),
        "lb_per_acre_from_kg_per_ha" => lb_per_acre(of.take("kg_per_ha")?),
        "kg_per_ha_from_lb_per_acre" => units::kg_per_ha_from_lb_per_acre(of.take("lb_per_acre")?),
        "per_ft2_from_per_m2" => units::per_ft2_from_per_m2(of.take("per_m2")?),
        "per_acre_from_per_m2" => units::per_acre_from_per_m2(of.take("per_m2")?),
        "kg_per_m3_from_lb_per_bushel" => {
            1_000.0 * units::kg_per_l_from_lb_per_us_bushel(of.take("lb_per_bushel")?)
        }
        "kg_per_m3_from_lb_per_ft3" => {
            1_000.0 * units::kg_per_l_from_lb_per_ft3(of.take("lb_per_ft3")?)
        }
        _ => {
            return match crate::machine::run(formula, of)? {
                Some(answer) => Ok(answer),
                None => crate::tables::answer(formula, of),
            };
        }
    })
}

/// The Canadian shortcut: plants/ft2 x g per thousand / survival / 10, in lb/ac.
fn shortcut(of: &mut Inputs) -> Result<f64, String> {
    Ok(
        of.take("plants_per_ft2")? * of.take("thousand_grain_weight_g")?
            / of.share(Joined::Multiply)?
            / 10.0,
    )
}

/// Seeds per m2 of a rate in lb/ac.
fn seeds_of_lb(of: &mut Inputs) -> Result<f64, String> {
    let kg_per_ha = units::kg_per_ha_from_lb_per_acre(of.take("lb_per_acre")?);
    Ok(seed::seeds_per_m2_of_kg(
        kg_per_ha,
        of.take("thousand_grain_weight_g")?,
    ))
}

/// Seeds per lb from a counted sample.
fn seeds_per_lb(seeds: f64, kg: f64) -> f64 {
    units::seeds_per_lb_from_thousand_grain_weight_g(kg / seeds * 1.0e6)
}

fn product_for_p2o5(need: f64, grade: &Grade) -> Result<f64, String> {
    nutrient::product_kg_per_ha(need, grade, Nutrient::P2o5).map_err(|fault| fault.to_string())
}
