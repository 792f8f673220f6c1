//! The formulas of blocks about published tables: recommendations and seed-safe limits.

use crate::formulas::Inputs;
use twinsow::agronomy::seed_safe::equation::Slopes;
use twinsow::agronomy::seed_safe::{self, Answer, Situation};
use twinsow::agronomy::tables::{self, Straw};
use twinsow::job::{FertiliserForm as Form, Nutrient};
use twinsow::units;

/// Share of dry matter that makes RB209's factors 19.5 and 10.2 out of 2.291 and 1.205: inferred, not read there.
const DRY_MATTER: f64 = 0.85;

pub fn answer(formula: &str, of: &mut Inputs) -> Result<f64, String> {
    if let Some(place) = formula.strip_prefix("phosphate ") {
        let (province, crop) = place.split_once(' ').ok_or("no crop")?;
        let table = format!("{province}_phosphate");
        return limit(&table, crop, "", Form::MonoammoniumPhosphate, of)
            .map(units::lb_per_acre_from_kg_per_ha);
    }
    // Any cell of a built-in table: name, crop, texture, form.
    let parts: Vec<&str> = formula.split(", ").collect();
    if let [unit, table, crop, texture, form] = parts.as_slice() {
        let form = match *form {
            "urea" => Form::Urea,
            "without_urea" => Form::WithoutUrea,
            "monoammonium_phosphate" => Form::MonoammoniumPhosphate,
            "diammonium_phosphate" => Form::DiammoniumPhosphate,
            other => return Err(format!("no form '{other}'")),
        };
        let kg_per_ha = limit(table, crop, texture, form, of)?;
        return match *unit {
            "cell" => Ok(kg_per_ha),
            "cell_lb" => Ok(units::lb_per_acre_from_kg_per_ha(kg_per_ha)),
            other => Err(format!("no unit '{other}'")),
        };
    }
    // The same formulas in lb/ac.
    if let Some(stem) = formula.strip_suffix("_lb") {
        return answer(stem, of).map(units::lb_per_acre_from_kg_per_ha);
    }
    match formula {
        "seedbed_utilisation" => Ok(seed_safe::seedbed_utilisation_percent(
            units::m_from_inches(of.take("spread_in")?),
            units::m_from_inches(of.take("row_in")?),
        )),
        "row_load" => Ok(seed_safe::row_load_g_per_m(
            of.take("kg_per_ha")?,
            of.take("row_m")?,
        )),
        "manitoba_urea_light" => limit("manitoba_urea_cereals", "barley", "light", Form::Urea, of),
        "manitoba_urea_medium" => {
            limit("manitoba_urea_cereals", "barley", "medium", Form::Urea, of)
        }
        "manitoba_urea_heavy" => limit("manitoba_urea_cereals", "barley", "heavy", Form::Urea, of),
        "kansas_medium" => limit(
            "kansas_n_k2o_wheat",
            "wheat",
            "medium",
            Form::WithoutUrea,
            of,
        ),
        "kansas_coarse" => limit(
            "kansas_n_k2o_wheat",
            "wheat",
            "coarse",
            Form::WithoutUrea,
            of,
        ),
        "uk_sands" => limit(
            "uk_sands_warning_line",
            "wheat",
            "sandy",
            Form::MonoammoniumPhosphate,
            of,
        ),
        "south_dakota_maize_urea" => south_dakota("maize", of),
        "south_dakota_wheat_urea" => south_dakota("spring wheat", of),
        "south_dakota_maize_urea_n" => Ok(south_dakota("maize", of)? * 0.46),
        "south_dakota_wheat_urea_n" => Ok(south_dakota("spring wheat", of)? * 0.46),
        "rb209_wheat_incorporated_p2o5_index_1" => rb209("winter wheat", Straw::Incorporated, of),
        "rb209_rape_p2o5_index_1" => rb209("winter oilseed rape", Straw::Any, of),
        "rb209_wheat_removed_p2o5_offtake" => offtake(Nutrient::P2o5, of),
        "rb209_wheat_removed_k2o_offtake" => offtake(Nutrient::K2o, of),
        "offtake_of_grain_p2o5" => {
            let kg =
                of.take("yield_t_per_ha")? * 1_000.0 * DRY_MATTER * of.take("p_percent")? / 100.0;
            Ok(units::p2o5_from_p(kg))
        }
        "offtake_of_grain_k2o" => {
            let kg =
                of.take("yield_t_per_ha")? * 1_000.0 * DRY_MATTER * of.take("k_percent")? / 100.0;
            Ok(units::k2o_from_k(kg))
        }
        "offtake_with_straw_to_5" => {
            let per_t = of.take("grain_kg_per_t")? + 0.5 * of.take("straw_kg_per_t")?;
            Ok((of.take("yield_t_per_ha")? * per_t / 5.0).round() * 5.0)
        }
        "north_dakota_p2o5" => north_dakota(Nutrient::P2o5, of),
        "north_dakota_k2o" => north_dakota(Nutrient::K2o, of),
        _ => Err(format!("no formula '{formula}'")),
    }
}

fn limit(
    table: &str,
    crop: &str,
    texture: &str,
    form: Form,
    of: &mut Inputs,
) -> Result<f64, String> {
    let table = seed_safe::built_in(table).map_err(|fault| fault.to_string())?;
    let spread_m = units::m_from_inches(of.take("spread_in")?);
    let row_m = units::m_from_inches(of.take("row_in")?);
    let situation = Situation {
        crop,
        texture,
        dry: false,
        row_m,
        spread_m,
        form,
        words: Some(Default::default()),
    };
    match table.limit(&situation).map_err(|fault| fault.to_string())? {
        Answer::Limit(limit) if limit.conservative_bound => {
            Err(format!("only a bound: {}", limit.cell))
        }
        Answer::Limit(limit) => Ok(limit.kg_per_ha),
        // A warning line is a ceiling, never a limit.
        Answer::NotCovered(of) => of
            .ceiling_kg_per_ha
            .filter(|_| table.ceiling_only)
            .ok_or(of.why),
    }
}

fn south_dakota(crop: &str, of: &mut Inputs) -> Result<f64, String> {
    let slopes = Slopes::built_in().map_err(|fault| fault.to_string())?;
    let urea = slopes.material("urea").map_err(|fault| fault.to_string())?;
    let spread_m = units::m_from_inches(of.take("spread_in")?);
    let row_m = units::m_from_inches(of.take("row_in")?);
    urea.kg_per_ha(crop, spread_m, row_m, of.take("stand_loss_percent")?, 1.0)
        .map_err(|fault| fault.to_string())
}

/// P2O5 at index 1 for a yield.
fn rb209(crop: &str, straw: Straw, of: &mut Inputs) -> Result<f64, String> {
    let table = tables::built_in("uk_rb209_arable_2023").map_err(|fault| fault.to_string())?;
    let crop = table.crop(crop, straw).map_err(|fault| fault.to_string())?;
    let need = table.need(crop, Nutrient::P2o5, "1", Some(of.take("yield_t_per_ha")?));
    need.map(|need| need.kg_per_ha)
        .map_err(|fault| fault.to_string())
}

/// What winter wheat carries off with its straw.
fn offtake(nutrient: Nutrient, of: &mut Inputs) -> Result<f64, String> {
    let table = tables::built_in("uk_rb209_arable_2023").map_err(|fault| fault.to_string())?;
    let crop = table
        .crop("winter wheat", Straw::Removed)
        .map_err(|fault| fault.to_string())?;
    let amounts = crop
        .amounts
        .iter()
        .find(|(other, _)| *other == nutrient)
        .ok_or("no such nutrient")?;
    Ok(amounts.1.offtake_kg_per_t.ok_or("no offtake")? * of.take("yield_t_per_ha")?)
}

fn north_dakota(nutrient: Nutrient, of: &mut Inputs) -> Result<f64, String> {
    let table =
        tables::built_in("us_north_dakota_barley_2023").map_err(|fault| fault.to_string())?;
    let crop = table
        .crop("barley", Straw::Any)
        .map_err(|fault| fault.to_string())?;
    let amounts = crop
        .amounts
        .iter()
        .find(|(other, _)| *other == nutrient)
        .ok_or("no such nutrient")?;
    let number = of.take("class_number")? as usize;
    amounts
        .1
        .kg_per_ha
        .get(number - 1)
        .copied()
        .ok_or_else(|| "no such class".to_owned())
}
