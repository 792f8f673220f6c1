//! Names as a terminal shows them: cut to what the standard holds.

use crate::codec::taskdata::{MOST_CHARACTERS, designator};
use crate::findings::{Decision, Finding, Place};
use crate::job::Job;

/// Products that nobody can tell apart on the screen, and names that are cut there.
pub(super) fn findings(job: &Job) -> Vec<Finding> {
    let mut found = Vec::new();
    let shown = |nth: usize| {
        let product = job.products.get(nth);
        let texts = product.map(|own| [designator(&own.name), designator(&own.id)]);
        let mut texts = texts.into_iter().flatten();
        texts.find(|text| !text.is_empty()).unwrap_or_default()
    };
    for (nth, product) in job.products.iter().enumerate() {
        let own = shown(nth);
        let place = || Place::file(&job.file).feature(format!("product '{}'", product.id));
        let alike = |other: &usize| shown(*other).to_lowercase() == own.to_lowercase();
        let others: Vec<usize> = (0..nth).filter(alike).collect();
        if !others.is_empty() {
            let both = others.into_iter().chain([nth]);
            let both = both.filter_map(|at| Some(job.products.get(at)?.id.as_str()));
            found.push(Finding::decision(
                Decision::NamesAlike,
                place(),
                format!(
                    "A terminal shows {MOST_CHARACTERS} characters of a name, and two products are '{own}' there, with nothing but a number behind one of them: swapped maps are easily missed. Give one of them another start of its name."
                ),
            )
            .of_products(both));
        } else if product.name.trim().chars().count() > MOST_CHARACTERS {
            found.push(Finding::note(
                "plan.name_cut",
                place(),
                format!("A terminal shows the product as '{own}': names are cut to {MOST_CHARACTERS} characters."),
            ));
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::path::Path;

    fn job(names: [&str; 2]) -> Job {
        let product = |id: &str, name: &str, hopper: &str| {
            format!(
                "[[product]]\nid = \"{id}\"\nname = \"{name}\"\nkind = \"seed\"\nhopper = \"{hopper}\"\nrate = {{ kg_per_ha = 90.0 }}\n"
            )
        };
        let hopper =
            |name: &str| format!("[[drill.hopper]]\nname = \"{name}\"\nusable_l = 1000.0\n");
        let text = format!(
            "name = \"n\"\nfield = {{ name = \"f\", boundary = {{ file = \"b.geojson\" }} }}\n[drill]\nworking_width_m = 6.0\n{}{}{}{}",
            hopper("front"),
            hopper("rear"),
            product("a", names[0], "front"),
            product("b", names[1], "rear")
        );
        Job::parse(&text, Path::new("job.toml")).unwrap_or_else(|fault| panic!("{fault}"))
    }

    #[test]
    fn names_that_a_screen_shows_alike_ask_for_a_decision() {
        let start = "Spring barley of the upper field,";
        let long = [format!("{start} north"), format!("{start} south")];
        let found = findings(&job([&long[0], &long[1]]));
        let codes: Vec<&str> = found.iter().map(|own| own.code.as_ref()).collect();
        assert_eq!(codes, ["plan.name_cut", "plan.names_alike"]);
        assert!(findings(&job(["Barley", "Oats"])).is_empty());
    }
}
