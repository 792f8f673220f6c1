//! The answer in a plain sentence.

use super::answer::{Answer, Design};
use crate::findings::number;

/// t/ha with a sign where one is asked for.
fn tonnes(kg: f64) -> String {
    format!("{:.2}", kg / 1_000.0 + 0.0)
}

fn signed(kg: f64) -> String {
    format!("{:+.2}", kg / 1_000.0 + 0.0)
}

/// The effect, its interval, and whether it is shown.
pub fn sentence(answer: &Answer) -> String {
    let effect = &answer.effect;
    let more = if effect.kg_per_ha < 0.0 {
        "less"
    } else {
        "more"
    };
    let witnesses = match answer.design {
        Design::Pairs => format!("{} pairs", answer.blocks),
        Design::Blocks => format!("{} blocks", answer.blocks),
        Design::Rates | Design::Plots => format!("{} plots", answer.plots),
    };
    let shown = if answer.shown { "shown" } else { "not shown" };
    let interval = format!(
        "{witnesses} fit anything from {} to {} t/ha: {shown}.",
        signed(effect.from),
        signed(effect.to)
    );
    let Some(response) = &answer.response else {
        return format!(
            "This field, this year: {} gave {} t/ha {more} than {}; {interval}",
            answer.treatment,
            tonnes(effect.kg_per_ha.abs()),
            answer.base
        );
    };
    let set = match response.set {
        Some([from, to]) => format!("{from:.0} to {to:.0} may have"),
        None => "the plots do not bound it".to_owned(),
    };
    let end = if response.at_end {
        ", the end of what was tried"
    } else {
        ""
    };
    format!(
        "This field, this year: {} paid best{end} ({set}). {} gave {} t/ha {more} than {}; {interval}",
        number((response.best_rate * 10.0).round() / 10.0),
        answer.treatment,
        tonnes(effect.kg_per_ha.abs()),
        answer.base
    )
}

/// Money to the whole unit, with a sign; none before 0.
fn whole(value: f64) -> String {
    match value.round() {
        0.0 => "0".to_owned(),
        value => format!("{value:+.0}"),
    }
}

/// What it is worth, from which price it pays, and what would see more; empty where nothing can be said.
pub fn money_sentence(answer: &Answer, currency: &str) -> String {
    let mut parts = Vec::new();
    if let [low, expected, high] = answer.worth.as_slice() {
        let [a, b, c] = [low, expected, high].map(|worth| number(worth.price_per_t));
        let [x, y, z] = [low, expected, high].map(|worth| whole(worth.per_ha));
        let [from, to] = [whole(expected.from), whole(expected.to)];
        parts.push(format!(
            "At {a}, {b} and {c} {currency}/t that is {x}, {y} and {z} {currency}/ha after all costs that were given; at {b} anything from {from} to {to} fits."
        ));
    }
    if let Some(price) = answer.break_even_per_t {
        let what = if answer.design == Design::Rates {
            "The difference"
        } else {
            "It"
        };
        parts.push(format!(
            "{what} pays from {price:.0} {currency}/t, if it is what it seems."
        ));
    }
    if let (false, Some((kg, pairs))) = (answer.shown, answer.to_see) {
        parts.push(match pairs {
            Some(pairs) => format!(
                "To see {} t/ha in 8 of 10 such trials takes {pairs} pairs.",
                tonnes(kg)
            ),
            None => format!(
                "No number of pairs that a farm can drive would see {} t/ha here.",
                tonnes(kg)
            ),
        });
    }
    parts.join(" ")
}

#[cfg(test)]
mod tests {
    use super::super::answer::{Effect, Worth};
    use super::*;

    fn of(from: f64, to: f64, shown: bool) -> Answer {
        let worth = |price_per_t, per_ha| Worth {
            price_per_t,
            per_ha,
            from: -30.0,
            to: 68.0,
            best_rate: None,
        };
        Answer {
            design: Design::Pairs,
            treatment: "map".to_owned(),
            base: "flat".to_owned(),
            plots: 12,
            blocks: 6,
            effect: Effect {
                kg_per_ha: 180.0,
                from,
                to,
                p: 0.16,
                degrees_of_freedom: 5.0,
            },
            shown,
            base_kg_per_ha: 8_000.0,
            means: Vec::new(),
            least_significant_difference: None,
            p_of_all: None,
            response: None,
            worth: vec![worth(150.0, 15.0), worth(180.0, 20.4), worth(210.0, 26.0)],
            break_even_per_t: Some(66.7),
            to_see: Some((200.0, Some(16))),
            second: None,
        }
    }

    #[test]
    fn not_shown_is_an_answer() {
        let answer = of(-100.0, 460.0, false);
        assert_eq!(
            sentence(&answer),
            "This field, this year: map gave 0.18 t/ha more than flat; 6 pairs fit anything from -0.10 to +0.46 t/ha: not shown."
        );
        let money = money_sentence(&answer, "EUR");
        assert!(money.contains("+15, +20 and +26 EUR/ha"), "{money}");
        assert!(money.contains("from 67 EUR/t"), "{money}");
        assert!(money.ends_with("takes 16 pairs."), "{money}");
    }

    #[test]
    fn shown_asks_for_no_larger_trial() {
        let answer = of(60.0, 300.0, true);
        assert!(sentence(&answer).ends_with("t/ha: shown."));
        assert!(!money_sentence(&answer, "EUR").contains("takes"));
    }
}
