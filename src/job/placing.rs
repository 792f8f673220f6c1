//! What needs from tables, seed-safe limits and the balance need and exclude.

use super::placement::{OwnSeedLimit, SeedSafe};
use super::product::{Kind, Product};
use super::rules::{Check, at, listed};
use super::types::Job;
use std::path::PathBuf;

/// Name of the one limit that is an equation, not a table.
pub const EQUATION: &str = "south_dakota_stand_loss";

/// Checks what one product says about tables and its balance.
pub(super) fn product(check: &mut Check<'_>, n: usize, product: &Product) {
    let of_placed_fertiliser = [
        (at!["product", n, "form"].to_vec(), product.form.is_some()),
        (
            at!["product", n, "balance"].to_vec(),
            product.balance.is_some(),
        ),
        (
            at!["product", n, "rate", "placed_percent"].to_vec(),
            product.rate.placed_percent.is_some(),
        ),
    ];
    let placed = product.kind == Kind::Fertiliser && !product.surface_applied;
    for (path, given) in of_placed_fertiliser {
        if given && !placed {
            let key = path.last().cloned().unwrap_or_default();
            check.add(
                &path,
                format!("'{key}' is given for '{}'", product.id),
                "this key for fertiliser that goes through the air stream with the seed",
                "remove it, or correct 'kind' or 'surface_applied'",
            );
        }
    }
    let Some(from) = &product.rate.need_from_table else {
        return;
    };
    let path = at!["product", n, "rate", "need_from_table"].to_vec();
    one_table(check, &path, from.table.is_some(), &from.file);
    layer(check, &path, &from.layer);
    let mut nutrients: Vec<_> = product.rate.nutrient.into_iter().collect();
    for (m, also) in from.also.iter().enumerate() {
        let path = [path.as_slice(), at!["also", m]].concat();
        layer(check, &path, &also.layer);
        if nutrients.contains(&also.nutrient) {
            let path = [path.as_slice(), at!["nutrient"]].concat();
            check.add(
                &path,
                format!("a nutrient of '{}' is named twice", product.id),
                "each nutrient once",
                "remove one of the two",
            );
        }
        nutrients.push(also.nutrient);
    }
}

/// Checks all seed-safe limits.
pub(super) fn seed_safe(check: &mut Check<'_>) {
    let job = check.job;
    let spacing = row_spacing_m(job);
    for (n, limit) in job.seed_safe.iter().enumerate() {
        let path = at!["seed_safe", n].to_vec();
        if limit.table.is_some() || limit.file.is_some() {
            one_table(check, &path, limit.table.is_some(), &limit.file);
        }
        if let Some(ph) = &limit.soil_ph {
            super::rates::table(check, &[path.as_slice(), at!["soil_ph"]].concat(), ph);
        }
        texture(check, &path, limit);
        equation(check, &path, limit);
        match spacing {
            None => check.add(
                &path,
                "a seed-safe limit needs the row spacing, and the drill has none",
                "row_spacing_m in [drill]",
                "add row_spacing_m",
            ),
            Some(spacing) => match limit.spread_m.or(job.drill.opener_spread_m) {
                None => check.add(
                    &path,
                    "a seed-safe limit needs the spread at the opener, and neither it nor the drill has one",
                    "spread_m here, or opener_spread_m in [drill]",
                    "measure it in the field and add opener_spread_m to [drill]",
                ),
                Some(spread) if spread > spacing * (1.0 + 1e-9) => check.add(
                    &match limit.spread_m {
                        Some(_) => [path.as_slice(), at!["spread_m"]].concat(),
                        None => at!["drill", "opener_spread_m"].to_vec(),
                    },
                    format!(
                        "the spread at the opener, {spread} m, is wider than the row spacing, {spacing} m"
                    ),
                    "a spread up to the row spacing",
                    "correct the spread, or row_spacing_m in [drill]",
                ),
                Some(_) => {}
            },
        }
    }
    if job.seed_safe.is_empty() {
        return;
    }
    let placed = |product: &&Product| product.kind == Kind::Fertiliser && !product.surface_applied;
    if !job.products.iter().any(|product| placed(&product)) {
        check.add(
            at!["seed_safe", 0],
            "a seed-safe limit is given, and no fertiliser goes through the air stream",
            "seed_safe together with a fertiliser that is placed with the seed",
            "remove [[seed_safe]]",
        );
    }
    for (n, product) in job.products.iter().enumerate() {
        if !placed(&product) {
            continue;
        }
        for (key, given) in [
            ("grade", product.grade.is_some()),
            ("form", product.form.is_some()),
        ] {
            if !given {
                check.add(
                    at!["product", n],
                    format!("the seed-safe limit needs '{key}' of '{}'", product.id),
                    "grade and form of every fertiliser in the air stream",
                    format!("add '{key}' from the label"),
                );
            }
        }
    }
}

/// Checks the user's own limits beside the seed.
pub(super) fn own_limits(check: &mut Check<'_>) {
    let job = check.job;
    for (n, own) in job.own_seed_limits.iter().enumerate() {
        let path = at!["own_seed_limit", n].to_vec();
        let of = |key: &str| [path.as_slice(), &[key.to_owned()]].concat();
        check.known_product(&of("product"), &own.product);
        let product = job.products.iter().find(|known| known.id == own.product);
        if product.is_some_and(|known| known.kind != Kind::Fertiliser || known.surface_applied) {
            check.add(
                &of("product"),
                format!("'{}' is no fertiliser that lies with the seed", own.product),
                "the id of a fertiliser that goes through the air stream",
                "correct the id, or remove the entry",
            );
        }
        if job.own_seed_limits[..n]
            .iter()
            .any(|known| known.product == own.product)
        {
            check.add(
                &of("product"),
                format!("'{}' has two limits of your own", own.product),
                "one [[own_seed_limit]] for each product",
                "keep the one that is signed",
            );
        }
        if super::date::day_number(&own.on).is_none() {
            check.add(
                &of("on"),
                format!("on = '{}' is no date", own.on),
                "a day of the calendar as YYYY-MM-DD",
                "write the day it was signed, such as 2026-03-14",
            );
        }
        for (key, text) in [("because", &own.because), ("by", &own.by)] {
            if text.trim().is_empty() {
                check.add(
                    &of(key),
                    format!("'{key}' says nothing"),
                    "a reason, and the name of who signs it",
                    "fill it in, or remove the entry",
                );
            }
        }
        for (key, missing, what, next) in unsaid(job, own) {
            if missing {
                check.add(
                    &path,
                    format!("your own limit beside the seed does not say for which {what} it is"),
                    format!("{key}: {what} that it is for"),
                    format!("add {key}, {next}"),
                );
            }
        }
    }
}

/// What a limit of the user's own leaves unsaid though the job says it, so that nobody could tell a stricter case: key,
/// whether it is missing, what it is, where to look.
fn unsaid(job: &Job, own: &OwnSeedLimit) -> [(&'static str, bool, &'static str, &'static str); 5] {
    let product = job.products.iter().find(|known| known.id == own.product);
    let has_form = product.is_some_and(|known| known.form.is_some());
    let has_grade = product.is_some_and(|known| known.grade.is_some());
    let limits = &job.seed_safe;
    let has_spread =
        job.drill.opener_spread_m.is_some() || limits.iter().any(|of| of.spread_m.is_some());
    let has_texture = |of: &SeedSafe| of.texture.is_some() || of.texture_by_class.is_some();
    [
        (
            "row_spacing_m",
            own.row_spacing_m.is_none() && row_spacing_m(job).is_some(),
            "rows",
            "the widest rows it is for, as the drill has them",
        ),
        (
            "spread_m",
            own.spread_m.is_none() && has_spread,
            "spread",
            "the narrowest spread it is for, as measured at the opener",
        ),
        (
            "texture",
            own.texture.is_none() && limits.iter().any(has_texture),
            "texture",
            "the lightest texture it is for",
        ),
        (
            "form",
            own.form.is_none() && has_form,
            "form",
            "as the product has it",
        ),
        (
            "grade",
            own.grade.is_none() && has_grade,
            "grade",
            "as the product has it",
        ),
    ]
}

/// Row spacing in metres: as given, or working width over rows.
pub fn row_spacing_m(job: &Job) -> Option<f64> {
    let drill = &job.drill;
    let from_rows = drill
        .rows
        .map(|rows| drill.working_width_m / f64::from(rows));
    drill.row_spacing_m.or(from_rows)
}

fn one_table(check: &mut Check<'_>, path: &[String], table: bool, file: &Option<PathBuf>) {
    let empty = file
        .as_ref()
        .is_some_and(|file| file.as_os_str().is_empty());
    if table == file.is_some() || empty {
        check.add(
            path,
            "neither or both of 'table' and 'file' are given, or one is empty",
            "exactly one of table (a built-in one) and file (your own)",
            "keep the one that is meant",
        );
    }
}

fn layer(check: &mut Check<'_>, path: &[String], name: &str) {
    let names: Vec<&str> = check.job.layers.iter().map(|l| l.name.as_str()).collect();
    if names.contains(&name) {
        return;
    }
    let next = match super::keys::meant(name, &names) {
        Some(meant) => format!("did you mean '{meant}'?"),
        None => "use the name of a layer, or add a [[layer]]".to_owned(),
    };
    let known = listed(names.into_iter(), "no [[layer]] is given");
    let path = [path, at!["layer"]].concat();
    check.add(&path, format!("no layer is called '{name}'"), known, next);
}

fn texture(check: &mut Check<'_>, path: &[String], limit: &SeedSafe) {
    let Some(words) = &limit.texture_by_class else {
        return;
    };
    let path = [path, at!["texture_by_class"]].concat();
    layer(check, &path, &words.layer);
    if limit.texture.is_some() {
        check.add(
            &path,
            "both 'texture' and 'texture_by_class' are given",
            "one of them",
            "remove one of the two",
        );
    }
    if words.by_class.is_empty() && words.otherwise.is_none() {
        check.add(
            &path,
            "the table names no class",
            "by_class = { \"class\" = \"texture\" }, or 'otherwise'",
            "add the classes of the layer; 'twinsow describe' lists them",
        );
    }
}

fn equation(check: &mut Check<'_>, path: &[String], limit: &SeedSafe) {
    let is_equation = limit.table.as_deref() == Some(EQUATION);
    let given = limit.stand_loss_percent.is_some() || limit.moisture_texture_factor.is_some();
    if is_equation && limit.stand_loss_percent.is_none() {
        check.add(
            path,
            format!("'{EQUATION}' needs the stand loss that is accepted"),
            "stand_loss_percent",
            "add stand_loss_percent",
        );
    } else if !is_equation && given {
        check.add(
            path,
            "stand_loss_percent or moisture_texture_factor is given for a table",
            format!("these keys for table = \"{EQUATION}\" only"),
            "remove them",
        );
    }
}
