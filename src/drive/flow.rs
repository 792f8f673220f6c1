//! What the meters do along a bout: the map's answers after the delays, section by section.

use super::bout::Bout;
use super::look_up::Answer;
use serde::Serialize;

/// Delays of a product that the terminal does not make up for, in seconds.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize)]
pub struct Delays {
    pub start_s: f64,
    pub stop_s: f64,
    pub step_up_s: f64,
    pub step_down_s: f64,
    /// How far ahead of the outlets the terminal looks up the map and its sections, metres.
    pub ahead_m: f64,
}

impl Delays {
    /// Seconds that a change between two rates takes.
    pub fn of_change(&self, old: f64, new: f64) -> f64 {
        if old == 0.0 {
            self.start_s
        } else if new == 0.0 {
            self.stop_s
        } else if new > old {
            self.step_up_s
        } else {
            self.step_down_s
        }
    }
}

/// A stretch of a section with constant rates.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Stretch {
    /// Index of the section, from the left.
    pub section: usize,
    pub from_m: f64,
    pub to_m: f64,
    /// Per product, kg/ha.
    pub kg_per_ha: Vec<f64>,
}

/// A rate from a station on.
type Steps = Vec<(f64, f64)>;

/// All stretches of a bout, section by section.
pub(super) fn stretches(bout: &Bout, answers: &[Answer], delays: &[Delays]) -> Vec<Stretch> {
    let steps: Vec<Steps> = delays
        .iter()
        .enumerate()
        .map(|(nth, delays)| delayed(bout, answers, nth, delays))
        .collect();
    let mut stretches: Vec<Stretch> = Vec::new();
    for (section, of_section) in bout.sections.iter().enumerate() {
        for &[on, off] in &of_section.on_m {
            let gates: Vec<[f64; 2]> = delays
                .iter()
                .map(|d| {
                    let at = |station: f64, seconds| station - d.ahead_m + bout.metres(seconds);
                    [at(on, d.start_s), at(off, d.stop_s)]
                })
                .collect();
            let begin = gates.iter().map(|gate| gate[0]).fold(on, f64::min);
            let end = gates.iter().map(|gate| gate[1]).fold(off, f64::max);
            let mut cuts = vec![begin, on, off, end];
            cuts.extend(gates.iter().flatten());
            cuts.extend(steps.iter().flatten().map(|(from, _)| *from));
            cuts.retain(|cut| (begin..=end).contains(cut));
            cuts.sort_by(f64::total_cmp);
            cuts.dedup();
            let first = stretches.len();
            for pair in cuts.windows(2) {
                let &[from_m, to_m] = pair else { continue };
                let middle = (from_m + to_m) / 2.0;
                let rate = |(steps, gate): (&Steps, &[f64; 2])| {
                    if middle < gate[0] || middle > gate[1] {
                        return 0.0;
                    }
                    let nth = steps.partition_point(|(from, _)| *from <= middle);
                    let step = steps.get(nth.saturating_sub(1));
                    step.map_or(0.0, |(_, rate)| *rate)
                };
                let kg_per_ha: Vec<f64> = steps.iter().zip(&gates).map(rate).collect();
                // Before its begin and beyond its end only what runs counts.
                if (from_m >= off || to_m <= on) && kg_per_ha.iter().all(|rate| *rate == 0.0) {
                    continue;
                }
                match stretches.get_mut(first..).and_then(<[_]>::last_mut) {
                    Some(last) if last.to_m == from_m && last.kg_per_ha == kg_per_ha => {
                        last.to_m = to_m;
                    }
                    _ => stretches.push(Stretch {
                        section,
                        from_m,
                        to_m,
                        kg_per_ha,
                    }),
                }
            }
        }
    }
    stretches
}

/// The steps of one product's meter: each of the map's answers after its delay. An answer that comes
/// into effect before an earlier one takes that one's place.
fn delayed(bout: &Bout, answers: &[Answer], product: usize, delays: &Delays) -> Steps {
    let mut steps: Steps = Vec::new();
    let mut before: Option<f64> = None;
    for answer in answers {
        let rate = answer.kg_per_ha[product];
        let seconds = match before {
            // What the map says at the start of the way is set before it begins.
            None => 0.0,
            Some(old) if old == rate => continue,
            Some(old) => delays.of_change(old, rate),
        };
        before = Some(rate);
        let from = answer.from_m - delays.ahead_m + bout.metres(seconds);
        while steps.len() > 1 && steps.last().is_some_and(|(last, _)| *last >= from) {
            steps.pop();
        }
        steps.push((from, rate));
    }
    steps
}

#[cfg(test)]
mod tests {
    use super::super::bout::Section;
    use super::super::path::Path;
    use super::*;
    use crate::job::LandPart;

    fn bout() -> Bout {
        Bout {
            number: 1,
            part: LandPart::Interior,
            strip: Some(1),
            path: Path::new(&[[0.0, 0.0], [100.0, 0.0]], false),
            sections: vec![Section {
                left_m: [-3.0, 3.0],
                on_m: vec![[0.0, 100.0]],
            }],
            closed: Vec::new(),
            closed_along: Default::default(),
            // 3 m/s.
            speed_km_per_h: 10.8,
        }
    }

    fn answers(list: &[(f64, f64)]) -> Vec<Answer> {
        let answer = |&(from_m, rate): &(f64, f64)| Answer {
            from_m,
            kg_per_ha: vec![rate],
        };
        list.iter().map(answer).collect()
    }

    fn got(answers: &[Answer], delays: Delays) -> Vec<(f64, f64, f64)> {
        let stretches = stretches(&bout(), answers, &[delays]);
        let rates = stretches.iter().map(|s| (s.from_m, s.to_m, s.kg_per_ha[0]));
        rates.collect()
    }

    #[test]
    fn without_delays_the_meter_does_what_the_map_says() {
        let answers = answers(&[(0.0, 100.0), (40.0, 150.0), (70.0, 0.0)]);
        let wanted = vec![(0.0, 40.0, 100.0), (40.0, 70.0, 150.0), (70.0, 100.0, 0.0)];
        assert_eq!(got(&answers, Delays::default()), wanted);
    }

    #[test]
    fn every_delay_moves_its_own_kind_of_change() {
        let delays = Delays {
            start_s: 1.0,
            stop_s: 2.0,
            step_up_s: 3.0,
            step_down_s: 4.0,
            ahead_m: 0.0,
        };
        let answers = answers(&[
            (0.0, 100.0),
            (20.0, 150.0),
            (40.0, 120.0),
            (60.0, 0.0),
            (80.0, 90.0),
        ]);
        let wanted = vec![
            (0.0, 3.0, 0.0),
            (3.0, 29.0, 100.0),
            (29.0, 52.0, 150.0),
            (52.0, 66.0, 120.0),
            (66.0, 83.0, 0.0),
            (83.0, 106.0, 90.0),
        ];
        assert_eq!(got(&answers, delays), wanted);
    }

    #[test]
    fn a_look_up_ahead_of_the_outlets_comes_early_and_a_delay_makes_up_for_it() {
        let answers = answers(&[(0.0, 100.0), (40.0, 150.0)]);
        let ahead = Delays {
            ahead_m: 6.0,
            ..Delays::default()
        };
        let early = vec![(-6.0, 34.0, 100.0), (34.0, 94.0, 150.0), (94.0, 100.0, 0.0)];
        assert_eq!(got(&answers, ahead), early);
        // 2 s at 3 m/s are these 6 m.
        let made_up = Delays {
            start_s: 2.0,
            stop_s: 2.0,
            step_up_s: 2.0,
            ..ahead
        };
        assert_eq!(
            got(&answers, made_up),
            vec![(0.0, 40.0, 100.0), (40.0, 100.0, 150.0)]
        );
    }

    #[test]
    fn an_answer_that_overtakes_an_earlier_one_takes_its_place() {
        let delays = Delays {
            step_up_s: 5.0,
            ..Delays::default()
        };
        // Up at 15 m would come at 30 m; down at 20 m comes at once.
        let answers = answers(&[(0.0, 100.0), (15.0, 150.0), (20.0, 80.0)]);
        assert_eq!(
            got(&answers, delays),
            vec![(0.0, 20.0, 100.0), (20.0, 100.0, 80.0)]
        );
    }
}
