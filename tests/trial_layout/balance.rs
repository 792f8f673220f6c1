//! What is broadcast beside flat strips.

use super::*;

/// Where the drill lays a part only, flat plots get in all what the map gives in the mean: in the rate table, the balance that is told,
/// the order and the spreader's map.
#[test]
fn flat_strips_keep_what_is_broadcast() {
    let by_class = "{ layer = \"soil\", by_class = { low = 60.0, mid = 100.0, high = 140.0 } }";
    let needs = "{ layer = \"soil\", by_class = { low = 30.0, mid = 50.0, high = 70.0 } }";
    let limits = "limits = { max_kg_per_ha = 80, step_kg_per_ha = 1 }\n";
    let own = format!("kg_per_ha = {by_class} }}\n{limits}balance = {{ name = \"starter, spread\"");
    let other = format!(
        "need_kg_per_ha = {needs}, nutrient = \"p2o5\" }}\n{limits}balance = {{ name = \"superphosphate\", grade = {{ p2o5_percent = 46 }}"
    );
    // What a kilogram that is broadcast stands for, kg of the placed product.
    for (rate, stands_for) in [(own, 1.0), (other, 46.0 / 52.0)] {
        let tried = trial("map_against_flat", "product = \"starter\"\nblocks = 4\n");
        let (_, bare) = laid(&with_starter(&rate, &(PHOSPHATE.to_owned() + SPREADER)));
        let (prepared, plan) = laid(&with_starter(
            &rate,
            &(PHOSPHATE.to_owned() + &tried + SPREADER),
        ));
        sound("balance", &prepared, &plan);
        let in_all = |row: &twinsow::plan::Combination| {
            let rate = &row.rates[1];
            let broadcast = rate.balance.as_ref().map_or(0.0, |of| of.kg_per_ha);
            rate.kg_per_ha + broadcast * stands_for
        };
        let open = bare.rates.rows.iter();
        let open = open.filter(|row| row.facts.part == LandPart::Interior);
        let (m2, mass) = open.fold((0.0, 0.0), |(m2, mass), row| {
            (m2 + row.area_m2, mass + in_all(row) * row.area_m2)
        });
        let mean = mass / m2;
        let told = &plan.trials[0].flat_in_all;
        assert_eq!(told.len(), 1);
        assert!(
            (told[0].in_all_kg_per_ha - mean).abs() < 1e-6,
            "{told:?} {mean}"
        );
        let mut flat_m2 = 0.0;
        for row in &plan.rates.rows {
            let asks = |of: &twinsow::agronomy::Reason| {
                of.rule == Rule::TrialStrip
                    && of.inputs.iter().any(|(name, _)| name == "asked kg/ha")
            };
            if row.rates[1].reasons.iter().any(asks) {
                flat_m2 += row.area_m2;
                assert!(
                    (in_all(row) - mean).abs() < 1e-6,
                    "{} of {mean}",
                    in_all(row)
                );
            }
        }
        let of_flat = plan.trials[0].plots.iter();
        let of_flat = of_flat.filter(|plot| plot.treatment == "flat");
        let of_flat: f64 = of_flat.map(|plot| plot.area_m2).sum();
        assert!((flat_m2 - of_flat).abs() < 1.0, "{flat_m2} {of_flat}");
        // The balance that is counted, and what it costs, are those of the rows.
        let left = |plan: &Plan| -> f64 {
            let rows = plan.rates.rows.iter();
            let each = rows.map(|row| {
                let left = row.rates[1].balance.as_ref().map_or(0.0, |of| of.kg_per_ha);
                left * row.area_m2 / 1e4
            });
            each.sum()
        };
        let cost = plan.trials[0].costs.iter();
        let mut cost = cost.filter(|cost| cost.product == "starter");
        let more = cost.next().expect("a cost").more_balance_kg;
        assert!(
            (left(&plan) - left(&bare) - more).abs() < 0.05,
            "{} {} {more}",
            left(&plan),
            left(&bare)
        );
        // The spreader's map has it: by its steps and whole cells within 1 %.
        let [spread] = plan.spreaders.as_slice() else {
            panic!("one spreader's map")
        };
        let spread_kg = spread.plan.tally.planned.products[0].map_kg();
        assert!(
            (spread_kg / left(&plan) - 1.0).abs() < 0.01,
            "{spread_kg} {}",
            left(&plan)
        );
        let said = |code: &str| plan.findings.iter().any(|of| of.code == code);
        assert!(said("trial.flat_in_all") && !said("trial.balance"));
        // 24 m of spreader over strips of 12 m.
        assert!(said("trial.spreader_width"));
    }
}

/// Of 24 kg/ha in all, half of it drilled (below every limit): flat plots get no more in all, whatever the drill lays there, and a rate that is the whole
/// leaves nothing.
#[test]
fn flat_plots_get_no_more_in_all_than_the_map_gives() {
    let rate = "kg_per_ha = 24.0, placed_percent = 50 }\nlimits = { max_kg_per_ha = 200, step_kg_per_ha = 1 }\nbalance = { name = \"starter, spread\"";
    for (flat, drilled, left) in [
        ("flat_kg_per_ha = 18\n", 18.0, 6.0),
        ("flat_kg_per_ha = 24\n", 24.0, 0.0),
        ("flat_kg_per_ha = 26\n", 26.0, 0.0),
    ] {
        let tried = trial(
            "map_against_flat",
            &format!("product = \"starter\"\nblocks = 4\n{flat}"),
        );
        let (_, plan) = laid(&with_starter(rate, &(PHOSPHATE.to_owned() + &tried)));
        let asks = |of: &twinsow::agronomy::Reason| {
            of.rule == Rule::TrialStrip && of.inputs.iter().any(|(name, _)| name == "asked kg/ha")
        };
        let rows = plan.rates.rows.iter();
        let mut rows = rows
            .filter(|row| row.rates[1].reasons.iter().any(asks))
            .peekable();
        assert!(rows.peek().is_some(), "{flat}");
        for row in rows {
            let broadcast = row.rates[1].balance.as_ref().map_or(0.0, |of| of.kg_per_ha);
            let has = (row.rates[1].kg_per_ha, broadcast);
            assert!(
                (has.0 - drilled).abs() < 1e-9 && (has.1 - left).abs() < 1e-9,
                "{flat}{has:?}"
            );
        }
    }
}

/// Of 24 kg/ha in all flat plots get 18 by the drill and leave 6. A spreader that gives 10 at least makes 28 of it, a sixth more; one with
/// fine steps gives it. Half of a price of 500 a tonne for each kilogram less that is broadcast.
#[test]
fn a_spreader_that_cannot_give_what_flat_plots_leave_is_told_and_what_is_broadcast_has_its_price() {
    let rate = "kg_per_ha = 24.0, placed_percent = 50 }\nlimits = { max_kg_per_ha = 200, step_kg_per_ha = 1 }\nbalance = { name = \"starter, spread\", price_per_t = 500.0";
    let tried = trial(
        "map_against_flat",
        "product = \"starter\"\nblocks = 4\nflat_kg_per_ha = 18\n",
    );
    for (limits, spread) in [
        ("limits = { min_kg_per_ha = 10 }\n", Some(10.0)),
        ("limits = { step_kg_per_ha = 0.1 }\n", None),
        ("", None),
    ] {
        let more = PHOSPHATE.to_owned() + &tried + SPREADER + limits;
        let (_, plan) = laid(&with_starter(rate, &more));
        let trial = &plan.trials[0];
        let [flat] = trial.flat_in_all.as_slice() else {
            panic!("{:?}", trial.flat_in_all)
        };
        assert_eq!(flat.spread_kg_per_ha, spread, "{limits}");
        let of_flat = trial.plots.iter().filter(|plot| plot.treatment == "flat");
        let of_flat: f64 = of_flat.map(|plot| plot.area_m2).sum();
        let expected_m2 = spread.map_or(0.0, |_| of_flat);
        assert!((flat.spread_otherwise_m2 - expected_m2).abs() < 1.0);
        let told = plan.findings.iter();
        let told = told.filter(|of| of.code == "trial.spread_otherwise");
        assert_eq!(told.count(), usize::from(spread.is_some()), "{limits}");
        let cost = trial.costs.iter().find(|cost| cost.product == "starter");
        let cost = cost.expect("a cost");
        let money = cost.more_balance_money.expect("a price");
        assert!(cost.more_balance_kg < -1.0, "{cost:?}");
        assert!(
            (money - cost.more_balance_kg * 0.5).abs() < 1e-9,
            "{cost:?}"
        );
        assert_eq!(cost.more_money, None);
    }
}
