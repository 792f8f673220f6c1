//! A trial as it is laid out.

use super::blocks::{Block, Search, Zones, price_per_kg};
use super::draw;
use super::driven::{OnPlot, on_plots};
use super::ground::{Bouts, Rectangle};
use super::land::{OfRow, WithStrips};
use super::sight::{Sight, Size};
use super::spread::{OnFlat, balance_price_per_kg};
use super::treatments::{Treatment, Want};
use super::width::Wheelings;
use crate::agronomy::{self, Rate, SpreadRates, has_balance};
use crate::coordinates::{LonLat, PlaneXy};
use crate::drive::as_driven::Patch;
use crate::findings::{Outcome, number};
use crate::frame::Frame;
use crate::job::{Chessboard, Job, TrialDesign};
use crate::plan::rated_land::RatedLand;
use crate::units::M2_PER_HA;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A trial in the map.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct LaidTrial {
    /// Its name in the job.
    pub name: String,
    /// What is held against what.
    pub design: TrialDesign,
    /// Ids of the products whose rates differ.
    pub products: Vec<String>,
    /// What is tried.
    pub treatments: Vec<TrialTreatment>,
    /// Width of a strip, m: whole bouts.
    pub strip_width_m: f64,
    /// Bouts of a strip.
    pub strip_bouts: usize,
    /// Where the wheels of the sprayer run.
    pub wheelings: Wheelings,
    /// Width of the header that strips are laid out for, m.
    pub header_width_m: f64,
    /// Left out at both ends of a plot, m: what the harvester mixes and the drill takes to come to a rate.
    pub ends_m: f64,
    /// Where its blocks make a chessboard: blocks across and along the bouts, and cells of a block side by side.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub chessboard: Option<Chessboard>,
    /// Block by block, in the order in which they lie.
    pub plots: Vec<TrialPlot>,
    /// What it can see.
    pub sight: Sight,
    /// What it costs against the map, per product that it changes.
    pub costs: Vec<TrialCost>,
    /// What flat plots get in all, per product that is drilled and broadcast there.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub flat_in_all: Vec<FlatInAll>,
}

/// What flat plots get of a product that is drilled in part: what the map gives in all, in the mean.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct FlatInAll {
    /// Id of the product.
    pub product: String,
    /// In all, kg/ha of the product.
    pub in_all_kg_per_ha: f64,
    /// What the drill lays of it: mean over the flat plots, kg/ha.
    pub drilled_kg_per_ha: f64,
    /// What is broadcast for the rest: mean over the flat plots, kg/ha of what is broadcast.
    pub broadcast_kg_per_ha: f64,
    /// Land of flat plots that gets in all more than 5 % more or less than that, for the spreader's own most, least and step do not
    /// allow its rate there, m2.
    #[serde(default)]
    pub spread_otherwise_m2: f64,
    /// What the spreader gives there at the widest, kg/ha of what is broadcast.
    #[serde(default)]
    pub spread_kg_per_ha: Option<f64>,
}

/// What a trial tries.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct TrialTreatment {
    /// Its name.
    pub name: String,
    /// Whether it goes by the map in everything.
    pub by_the_map: bool,
}

/// A plot of a trial.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct TrialPlot {
    /// Its name, such as 1-03: the trial and its number there.
    pub id: String,
    /// Name of what is tried on it.
    pub treatment: String,
    /// Name of its block.
    pub block: String,
    /// Length along the bouts, m.
    pub length_m: f64,
    /// Land in the plane, m2.
    pub area_m2: f64,
    /// Its outline, degrees, the first point again at the end.
    pub outline_lon_lat: Vec<LonLat>,
    /// Where the middle of the header may go, so that the whole swath lies in the plot; as the outline.
    pub harvest_lon_lat: Vec<LonLat>,
    /// Per product (job order): mean of what the strip asks for, kg/ha.
    pub asked_kg_per_ha: Vec<f64>,
    /// Per product: mean of what the map has, kg/ha; limits and steps hold in strips too.
    pub kg_per_ha: Vec<f64>,
    /// Per product: mean of what the drive lays between the ends, kg/ha.
    pub sown_kg_per_ha: Vec<f64>,
    /// Per product: share of its land between the ends that gets within 5 % of what was asked, percent.
    pub within_5_percent: Vec<f64>,
}

/// What a trial takes of a product.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct TrialCost {
    /// Id of the product.
    pub product: String,
    /// More than the map without the trial, kg; less is below 0.
    pub more_kg: f64,
    /// The same in the money of the job; null where it has no price.
    pub more_money: Option<f64>,
    /// More left to broadcast than without the trial, kg of what is broadcast; less is below 0: a strip asks for all that the
    /// land gets.
    #[serde(default)]
    pub more_balance_kg: f64,
    /// The same in the money of the job; null where what is broadcast has no price, or nothing changes.
    #[serde(default)]
    pub more_balance_money: Option<f64>,
}

/// A change of what is left to broadcast that is worth a word, kg. Our own choice, no source.
const LEAST_BALANCE_KG: f64 = 0.1;

fn is_broadcast(kg: f64) -> bool {
    kg.abs() >= LEAST_BALANCE_KG
}

impl TrialCost {
    /// Whether what is left to broadcast changes by as much as anybody broadcasts.
    pub fn changes_balance(&self) -> bool {
        is_broadcast(self.more_balance_kg)
    }
}

/// A trial while it is laid out.
pub(super) struct Laying {
    pub trial: LaidTrial,
    pub bouts: Bouts,
    treatments: Vec<Treatment>,
    /// Whether blocks lie in one zone each.
    by_zone: bool,
    /// Per plot: its ground, and the number of its treatment.
    ground: Vec<(Rectangle, usize)>,
    /// Per plot, per product: what is asked for, where it is not what the map has.
    asked: Vec<Vec<Option<f64>>>,
    on_plots: Vec<Vec<OnPlot>>,
    /// Rates that a limit or step moves, by product: land, and the widest, asked and had, kg/ha.
    pub held: Vec<Held>,
}

/// Rates in strips that are not quite what was asked for.
pub(super) struct Held {
    pub product: usize,
    pub area_m2: f64,
    pub asked_kg_per_ha: f64,
    pub kg_per_ha: f64,
}

impl Laying {
    /// Treatments are drawn for the plots of the blocks.
    pub fn of(
        nth: usize,
        search: &Search,
        zones: &Zones,
        blocks: &[Block],
        wheelings: Wheelings,
    ) -> Self {
        let (tried, job) = (search.tried, search.job);
        let trial = tried.trial;
        let frame = &search.land.prepared.frame;
        let mut ground = Vec::new();
        let mut plots = Vec::new();
        let mut in_zone = vec![0_usize; zones.rates.len()];
        let half_header_m = trial.header_width_m / 2.0;
        for (block, of) in blocks.iter().enumerate() {
            let number_in_zone = in_zone
                .get_mut(of.zone as usize)
                .map_or(block + 1, |count| {
                    *count += 1;
                    *count
                });
            let zone = zones
                .rates
                .get(of.zone as usize)
                .filter(|rates| !rates.is_empty());
            let block_name = match zone {
                Some(rates) => {
                    let rates: Vec<String> = rates.iter().map(|rate| number(*rate)).collect();
                    format!("zone {}: {number_in_zone}", rates.join(" and "))
                }
                None => (block + 1).to_string(),
            };
            let order = draw::order(
                trial,
                tried.treatments.len(),
                block,
                of.turn.unwrap_or(block),
            );
            for (rectangle, treatment) in of.plots.iter().zip(order) {
                let name = tried.treatments.get(treatment).map(|of| of.name.clone());
                plots.push(TrialPlot {
                    id: format!("{}-{:02}", nth + 1, plots.len() + 1),
                    treatment: name.unwrap_or_default(),
                    block: block_name.clone(),
                    length_m: rectangle.u[1] - rectangle.u[0],
                    area_m2: 0.0,
                    outline_lon_lat: ring(rectangle, search.bouts, frame),
                    harvest_lon_lat: ring(
                        &rectangle.within(0.0, half_header_m),
                        search.bouts,
                        frame,
                    ),
                    asked_kg_per_ha: Vec::new(),
                    kg_per_ha: Vec::new(),
                    sown_kg_per_ha: Vec::new(),
                    within_5_percent: Vec::new(),
                });
                ground.push((*rectangle, treatment));
            }
        }
        let shortest_m = plots
            .iter()
            .map(|plot| plot.length_m)
            .fold(f64::INFINITY, f64::min);
        let size = Size {
            treatments: tried.treatments.len(),
            blocks: blocks.len(),
            plots_per_mean: tried.plots_per_mean,
            harvested_m: shortest_m - 2.0 * search.ends_m,
        };
        let ids = tried
            .products
            .iter()
            .filter_map(|nth| job.products.get(*nth));
        let (wide, _) = search.strip;
        let treatments = tried.treatments.iter();
        Self {
            trial: LaidTrial {
                name: trial.name.clone(),
                design: trial.design,
                products: ids.map(|product| product.id.clone()).collect(),
                treatments: treatments
                    .map(|of| TrialTreatment {
                        name: of.name.clone(),
                        by_the_map: of.is_map(),
                    })
                    .collect(),
                strip_width_m: wide as f64 * search.bouts.width_m,
                strip_bouts: wide as usize,
                wheelings,
                header_width_m: trial.header_width_m,
                ends_m: search.ends_m,
                chessboard: search.board().map(|(board, cells_across)| Chessboard {
                    cells_across: u32::try_from(cells_across).ok(),
                    ..*board
                }),
                plots,
                sight: Sight::of(
                    &size,
                    trial.plot_variation_kg_per_ha,
                    trial.should_see_kg_per_ha,
                ),
                costs: Vec::new(),
                flat_in_all: Vec::new(),
            },
            bouts: *search.bouts,
            treatments: tried.treatments.clone(),
            by_zone: tried.by_zone,
            ground,
            asked: Vec::new(),
            on_plots: Vec::new(),
            held: Vec::new(),
        }
    }

    /// Ground and treatment of every plot.
    pub fn plots(&self) -> Vec<(Rectangle, usize)> {
        self.ground.clone()
    }

    /// Whether a treatment goes by the map in everything.
    pub fn is_map(&self, treatment: usize) -> bool {
        self.treatments
            .get(treatment)
            .is_some_and(Treatment::is_map)
    }

    /// Takes areas, rates and costs from the land that the plots lie on.
    ///
    /// # Errors
    /// Limits of the spreader that leave no rate.
    pub fn take_land(
        &mut self,
        land: &RatedLand,
        rows: &[OfRow],
        with: &WithStrips,
        job: &Job,
    ) -> Outcome<()> {
        let products = job.products.len();
        let mut spread = Vec::with_capacity(products);
        for product in &job.products {
            let spreader = job.spreader.as_ref().filter(|_| has_balance(job, product));
            let rates = spreader.map(|spreader| SpreadRates::of(job, spreader, product));
            spread.push(OnFlat::of(rates.transpose()?));
        }
        let mut more_kg = vec![0.0; products];
        let mut more_balance_kg = vec![0.0; products];
        let mut held: Vec<Option<Held>> = (0..products).map(|_| None).collect();
        let mut flat_in_all = vec![[Mean::default(), Mean::default(), Mean::default()]; products];
        self.asked.clear();
        for ((plot, (_, treatment)), on_rows) in self
            .trial
            .plots
            .iter_mut()
            .zip(&self.ground)
            .zip(&with.of_plot)
        {
            let area_m2: f64 = on_rows.iter().map(|(_, m2)| m2).sum();
            let mut asked_mean = vec![Mean::default(); products];
            let mut has_mean = vec![Mean::default(); products];
            let own = self.treatments.get(*treatment);
            for (row, m2) in on_rows {
                let map = land.kg_per_ha.get(*row as usize);
                let strips = rows
                    .get(*row as usize)
                    .and_then(|of| of.strips.as_ref().ok());
                let rates = strips.and_then(|of| of.get(*treatment));
                let (Some(map), Some(rates), Some(own)) = (map, rates, own) else {
                    continue;
                };
                let balances = land.rates.rows.get(*row as usize).map(|row| &row.rates);
                let balances = balances.into_iter().flatten().zip(rates);
                for (more_kg, (of_map, of_strip)) in more_balance_kg.iter_mut().zip(balances) {
                    let left = |rate: &Rate| rate.balance.as_ref().map_or(0.0, |of| of.kg_per_ha);
                    *more_kg += (left(of_strip) - left(of_map)) * m2 / M2_PER_HA;
                }
                let asked = own.asked(map);
                let each = asked.iter().zip(rates).zip(&job.products);
                let sums = flat_in_all.iter_mut().zip(&mut spread);
                for (((asked, rate), product), (means, spread)) in each.zip(sums) {
                    if asked.is_some_and(|asked| asked.in_all_kg_per_ha.is_some()) {
                        let in_all = agronomy::in_all_kg_per_ha(product, rate);
                        let left = rate.balance.as_ref().map_or(0.0, |of| of.kg_per_ha);
                        for (mean, of) in means.iter_mut().zip([in_all, rate.kg_per_ha, left]) {
                            mean.add(of, *m2);
                        }
                        spread.add(product, rate, *m2);
                    }
                }
                for (nth, ((asked, rate), map)) in asked.iter().zip(rates).zip(map).enumerate() {
                    let wants = asked.map_or(*map, |asked| asked.kg_per_ha);
                    let has = rate.kg_per_ha;
                    asked_mean[nth].add(wants, *m2);
                    has_mean[nth].add(has, *m2);
                    more_kg[nth] += (has - map) * m2 / M2_PER_HA;
                    if has == wants {
                        continue;
                    }
                    let of = held[nth].get_or_insert(Held {
                        product: nth,
                        area_m2: 0.0,
                        asked_kg_per_ha: wants,
                        kg_per_ha: has,
                    });
                    of.area_m2 += m2;
                    if (has - wants).abs() > (of.kg_per_ha - of.asked_kg_per_ha).abs() {
                        (of.asked_kg_per_ha, of.kg_per_ha) = (wants, has);
                    }
                }
            }
            plot.area_m2 = area_m2;
            plot.asked_kg_per_ha = asked_mean.iter().map(Mean::value).collect();
            plot.kg_per_ha = has_mean.iter().map(Mean::value).collect();
            let wants = own.into_iter().flat_map(|of| &of.wants);
            let each = wants.zip(&plot.asked_kg_per_ha);
            self.asked.push(
                each.map(|(want, asked)| (*want != Want::Map).then_some(*asked))
                    .collect(),
            );
        }
        self.held = held.into_iter().flatten().collect();
        let flat_in_all = job.products.iter().zip(flat_in_all.iter().zip(&spread));
        let flat_in_all =
            flat_in_all.filter(|(_, ([_, _, left], _))| left.m2 > 0.0 && left.value() > 0.0);
        self.trial.flat_in_all = flat_in_all
            .map(
                |(product, ([in_all, drilled, broadcast], spread))| FlatInAll {
                    product: product.id.clone(),
                    in_all_kg_per_ha: in_all.value(),
                    drilled_kg_per_ha: drilled.value(),
                    broadcast_kg_per_ha: broadcast.value(),
                    spread_otherwise_m2: spread.otherwise_m2,
                    spread_kg_per_ha: spread.widest.map(|(_, kg_per_ha)| kg_per_ha),
                },
            )
            .collect();
        let costs = more_kg.iter().zip(&more_balance_kg).zip(&job.products);
        let changed = costs
            .enumerate()
            .filter(|(_, ((kg, balance_kg), _))| **kg != 0.0 || **balance_kg != 0.0);
        self.trial.costs = changed
            .map(|(nth, ((kg, balance_kg), product))| TrialCost {
                product: product.id.clone(),
                more_kg: *kg,
                more_money: price_per_kg(job, nth).map(|price| price * kg),
                more_balance_kg: *balance_kg,
                more_balance_money: balance_price_per_kg(product)
                    .filter(|_| is_broadcast(*balance_kg))
                    .map(|price| price * balance_kg),
            })
            .collect();
        Ok(())
    }

    /// Takes what the drive lays on each plot.
    pub fn take_driven(&mut self, patches: &[Patch], job: &Job) {
        let ends_m = self.trial.ends_m;
        let inner: Vec<Rectangle> = self
            .ground
            .iter()
            .map(|(plot, _)| plot.within(ends_m, 0.0))
            .collect();
        self.on_plots = on_plots(
            &inner,
            &self.asked,
            &self.bouts,
            patches,
            job.products.len(),
        );
        for (plot, on) in self.trial.plots.iter_mut().zip(&self.on_plots) {
            plot.sown_kg_per_ha = on.iter().map(|of| of.sown_kg_per_ha).collect();
            plot.within_5_percent = on.iter().map(|of| of.within * 100.0).collect();
        }
    }

    /// Plots that the drive does not lay as they ask, by their numbers, with their ground.
    pub fn not_as_asked(&self, job: &Job) -> Vec<(usize, Rectangle)> {
        let bad = |nth: usize| {
            let tried = self.trial.products.iter();
            let tried = tried.filter_map(|id| job.products.iter().position(|own| own.id == *id));
            let of = |product: usize| {
                let asked = self.asked.get(nth)?.get(product)?;
                let on = self.on_plots.get(nth)?.get(product)?;
                Some(on.as_asked(asked.is_some() || self.by_zone))
            };
            !tried.map(of).all(|fine| fine == Some(true))
        };
        let plots = self.ground.iter().enumerate();
        plots
            .filter(|(nth, _)| bad(*nth))
            .map(|(nth, (plot, _))| (nth, *plot))
            .collect()
    }
}

/// A mean over land; of one rate exactly this rate.
#[derive(Clone, Default)]
struct Mean {
    sum: f64,
    m2: f64,
    only: Option<f64>,
    several: bool,
}

impl Mean {
    fn add(&mut self, rate: f64, m2: f64) {
        self.sum += rate * m2;
        self.m2 += m2;
        self.several |= self.only.is_some_and(|only| only != rate);
        self.only = Some(rate);
    }

    fn value(&self) -> f64 {
        match self.only {
            Some(only) if !self.several => only,
            _ if self.m2 > 0.0 => self.sum / self.m2,
            _ => 0.0,
        }
    }
}

fn ring(rectangle: &Rectangle, bouts: &Bouts, frame: &Frame) -> Vec<LonLat> {
    frame.ring_in_degrees(rectangle.corners(bouts).map(PlaneXy::of_pair).into_iter())
}
