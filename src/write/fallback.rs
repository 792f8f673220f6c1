//! One Shapefile per product for terminals that take no task data, and a page on which to use when.

use super::attributes::{Kind, Value};
use super::names;
use super::shapefile::{self, Field};
use super::stamp::Stamp;
use super::taskdata::Variant;
use crate::agronomy::caution::{self, AT_THE_DRILL, DEFER};
use crate::findings::Outcome;
use crate::plan::Plan;

/// A file below `terminal/fallback/`.
pub(super) struct File {
    /// Relative, with `/`.
    pub path: String,
    pub bytes: Vec<u8>,
    pub what: String,
}

/// The page, and five files per product. Each record is a single polygon with one number, the rate in
/// kg/ha, for many terminals take the first number they find.
///
/// # Errors
/// Names or sizes that a Shapefile cannot hold.
pub(super) fn files(plan: &Plan, forms: &[Variant], stamp: &Stamp) -> Outcome<Vec<File>> {
    let products = &plan.job.products;
    let stems = names::stems(products.iter().map(|product| product.id.as_str()));
    let mut files = vec![File {
        path: "README.txt".to_string(),
        bytes: page(plan, forms, &stems).into_bytes(),
        what: "which of the terminal files to use when".to_string(),
    }];
    let fields = [Field {
        name: "rate_kg_ha".to_string(),
        kind: Kind::Number,
    }];
    for (at, (product, stem)) in products.iter().zip(&stems).enumerate() {
        let rows: Vec<_> = plan
            .map
            .zones
            .iter()
            .filter_map(|zone| Some((zone, *zone.kg_per_ha.get(at)?)))
            .flat_map(|(zone, rate)| {
                let parts = zone.polygons.iter().map(std::slice::from_ref);
                parts.map(move |part| (part, vec![Value::Number(rate)]))
            })
            .collect();
        for (extension, bytes) in shapefile::files(&fields, &rows, stamp)? {
            files.push(File {
                path: format!("shapefile-{stem}/{stem}_{}.{extension}", plan.id),
                bytes,
                what: format!(
                    "{} as a Shapefile with one rate column ({extension})",
                    product.name
                ),
            });
        }
    }
    Ok(files)
}

fn page(plan: &Plan, forms: &[Variant], stems: &[String]) -> String {
    let one_line = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
    let mut page = format!(
        "Plan {} - {}\r\n\r\n\
         ../TASKDATA/\r\n    First choice: copy the folder TASKDATA to the root of the stick. {}\r\n    To run all maps at once, terminal and drill have to control one channel per product.\r\n",
        plan.id,
        one_line(&plan.job.name),
        Variant::ready(&plan.job).when()
    );
    for form in forms {
        page.push_str(&format!(
            "{}/\r\n    {} Copy the folder TASKDATA in it.\r\n",
            form.folder(),
            form.when()
        ));
    }
    for (product, stem) in plan.job.products.iter().zip(stems) {
        page.push_str(&format!(
            "shapefile-{stem}/\r\n    For a terminal that takes no task data: map of {} in kg/ha, column rate_kg_ha. Load it for hopper '{}'.\r\n",
            one_line(&product.name),
            one_line(&product.hopper)
        ));
    }
    page.push_str("\r\nIf no map loads, one flat rate sows the same total wherever no setback switches the product off:\r\n");
    for sum in &plan.tally.products {
        page.push_str(&format!(
            "    {}: {:.2} kg/ha\r\n",
            one_line(&sum.name),
            sum.flat_kg_per_ha
        ));
    }
    page.push_str(
        "A flat rate knows no setback: switch a product off by hand where it must be off.\r\n\
         Before sowing, compare the plan id, product, hopper and unit (kg/ha) on the screen with this\r\n\
         page, and do a calibration test with the product in the hopper.\r\n",
    );
    page.push_str(&format!("\r\nCautions\r\n    {DEFER}\r\n"));
    for of in caution::cautions(&plan.job) {
        for text in of.texts {
            page.push_str(&format!("    {}: {text}\r\n", one_line(&of.name)));
        }
    }
    page.push_str(&format!("    {AT_THE_DRILL}\r\n"));
    page
}
