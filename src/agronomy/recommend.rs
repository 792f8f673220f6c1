//! The need of a nutrient by a recommendation table, on land with its soil index.

use super::class::class_key;
use super::library::Tables;
use super::tables::{Between, Index, Need, Recommendations};
use super::{Why, nutrient};
use crate::findings::{Fault, Outcome, Place};
use crate::job::{Decides, FromTable, Grade, Job, Nutrient};
use crate::texts::Words;
use crate::texts::quantity::Given;
use crate::zones::Facts;

/// A need and how it was found.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Recommended {
    pub nutrient: Nutrient,
    pub need: Need,
    /// How the class of the index was found, with the laboratory's value if there is one.
    pub index: String,
    /// The laboratory's value with its unit.
    pub value: Option<(String, f64)>,
    /// " on phosphate '1'".
    pub on: String,
}

/// Every need that a product's rule names: that of its own nutrient first.
///
/// # Errors
/// A class or value that the table does not know, a wrong unit, a yield the table cannot adjust for.
pub(super) fn needs(
    job: &Job,
    tables: &Tables,
    from: &FromTable,
    own: Nutrient,
    facts: &Facts,
) -> Outcome<Vec<Recommended>> {
    let table = tables.recommendations(from)?;
    let mut needs = vec![one(
        job,
        table,
        from,
        own,
        &from.layer,
        from.laboratory_unit.as_deref(),
        facts,
    )?];
    for also in &from.also {
        let unit = also.laboratory_unit.as_deref();
        let layer = &also.layer;
        needs.push(one(job, table, from, also.nutrient, layer, unit, facts)?);
    }
    Ok(needs)
}

/// Which of the needs decides, by its place: the first, or the one that asks for most product.
///
/// # Errors
/// The product has none of its own nutrient.
pub(super) fn deciding(needs: &[Recommended], decides: Decides, grade: &Grade) -> Outcome<usize> {
    let mut most = (0, 0.0);
    for (place, need) in needs.iter().enumerate() {
        // Another need that the product holds nothing of cannot decide.
        if place > 0
            && (decides == Decides::Nutrient || nutrient::percent_of(grade, need.nutrient) <= 0.0)
        {
            continue;
        }
        let wanted = nutrient::product_kg_per_ha(need.need.kg_per_ha, grade, need.nutrient)?;
        if wanted > most.1 {
            most = (place, wanted);
        }
    }
    Ok(most.0)
}

fn one(
    job: &Job,
    table: &Recommendations,
    from: &FromTable,
    nutrient: Nutrient,
    layer: &str,
    unit: Option<&str>,
    facts: &Facts,
) -> Outcome<Recommended> {
    let crop = table.crop(&from.crop, from.straw)?;
    let place = job.layers.iter().position(|known| known.name == layer);
    let class = place
        .and_then(|place| facts.classes.get(place))
        .ok_or_else(|| {
            Fault::input(
                "agronomy.no_class",
                Place::nowhere(),
                format!("there is land without a class of layer '{layer}'"),
                "a class from every layer on all land",
                "Give the layer a 'class_of_gaps'.",
            )
        })?;
    let index = crop
        .amounts
        .iter()
        .find(|(known, _)| *known == nutrient)
        .and_then(|(_, amounts)| table.indices.get(amounts.index));
    let (name, index, value) = match (index, unit) {
        (Some(index), Some(unit)) => by_value(index, unit, layer, class, Words::of(job))?,
        (Some(index), None) => (by_class(index, class), String::new(), None),
        // `need` says which nutrients the table has.
        (None, _) => (class_key(class), String::new(), None),
    };
    Ok(Recommended {
        nutrient,
        need: table.need(crop, nutrient, &name, from.yield_t_per_ha)?,
        index,
        value,
        on: Words::of(job).say(&Why::OnClass {
            layer: layer.to_owned(),
            class: class_key(class),
        }),
    })
}

/// The table's own spelling of a class, or the class as it stands if the table has none like it.
fn by_class(index: &Index, class: &str) -> String {
    let wanted = class_key(class);
    let known = index.classes.iter().map(|(name, _)| name);
    let same = known.into_iter().find(|name| class_key(name) == wanted);
    same.cloned().unwrap_or(wanted)
}

type Found = (String, String, Option<(String, f64)>);

/// The class of a laboratory value, with the sentence about it.
fn by_value(index: &Index, unit: &str, layer: &str, class: &str, words: Words) -> Outcome<Found> {
    if unit != index.unit {
        return Err(Fault::input(
            "agronomy.laboratory_unit",
            Place::nowhere(),
            format!("the values of layer '{layer}' are in {unit}"),
            format!("{} in {}, as the table has it", index.quantity, index.unit),
            "Convert the values, or correct laboratory_unit; another method of extraction is another quantity.",
        ));
    }
    let value: f64 = class.trim().parse().map_err(|_| {
        Fault::input(
            "agronomy.laboratory_value",
            Place::nowhere(),
            format!("layer '{layer}' has '{class}' where a laboratory value should be"),
            format!("numbers in {unit}"),
            "Correct the value, or leave laboratory_unit out if the layer has classes.",
        )
    })?;
    let name = index.class_of(value)?.to_owned();
    let rule = match index.between {
        Between::Nearest => Why::IndexNearest,
        Between::Lower => Why::IndexLower,
    };
    let sentence = words.say(&Why::Index {
        quantity: index.quantity.clone(),
        value: Given(value),
        unit: unit.to_owned(),
        name: name.clone(),
        source: index.source.clone(),
        rule: words.say(&rule),
        rule_source: index.between_source.clone(),
    });
    Ok((
        name,
        sentence,
        Some((format!("{} {unit}", index.quantity), value)),
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn need(nutrient: Nutrient, kg_per_ha: f64) -> Recommended {
        Recommended {
            nutrient,
            need: Need {
                kg_per_ha,
                table_kg_per_ha: kg_per_ha,
                class: String::new(),
                said: Why::NeedMet,
                source: String::new(),
            },
            index: String::new(),
            value: None,
            on: String::new(),
        }
    }

    #[test]
    fn of_two_needs_that_ask_for_the_same_the_products_own_decides() {
        let grade = Grade {
            n_percent: 10.0,
            p2o5_percent: 20.0,
            ..Grade::default()
        };
        let decides = |nitrogen: f64, decides| {
            let needs = [
                need(Nutrient::P2o5, 40.0),
                need(Nutrient::N, nitrogen),
                need(Nutrient::K2o, 500.0),
            ];
            deciding(&needs, decides, &grade).expect("it holds phosphate")
        };
        assert_eq!(decides(20.0, Decides::LargestNeed), 0);
        assert_eq!(decides(20.1, Decides::LargestNeed), 1);
        assert_eq!(decides(20.1, Decides::Nutrient), 0);
    }
}
