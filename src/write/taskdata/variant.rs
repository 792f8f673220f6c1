//! The forms of task data: which a job wants ready, and which lie beside it for other terminals.

use crate::job::{GridHolds, Job, MapAs, ProductsPerTask, TaskDataVersion};

/// One form of task data.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::write) struct Variant {
    pub version: TaskDataVersion,
    pub holds: Holds,
    pub products_per_task: ProductsPerTask,
}

/// What a task holds its map in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::write) enum Holds {
    /// A grid of rates (type 2).
    Rates,
    /// A grid of numbers of treatment zones (type 1).
    ZoneNumbers,
    /// Treatment zones with polygons, no grid.
    Polygons,
}

/// The forms that every plan comes in.
const USUAL: [Variant; 7] = {
    use {Holds as G, ProductsPerTask as P, TaskDataVersion as V};
    [
        Variant {
            version: V::V4_3,
            holds: G::Rates,
            products_per_task: P::All,
        },
        Variant {
            version: V::V3_3,
            holds: G::Rates,
            products_per_task: P::All,
        },
        Variant {
            version: V::V3_3,
            holds: G::Rates,
            products_per_task: P::One,
        },
        Variant {
            version: V::V4_3,
            holds: G::ZoneNumbers,
            products_per_task: P::All,
        },
        Variant {
            version: V::V4_3,
            holds: G::Polygons,
            products_per_task: P::All,
        },
        Variant {
            version: V::V3_3,
            holds: G::ZoneNumbers,
            products_per_task: P::All,
        },
        Variant {
            version: V::V3_3,
            holds: G::Polygons,
            products_per_task: P::All,
        },
    ]
};

impl Variant {
    /// What lies ready where the job says nothing.
    pub const USUAL_READY: Self = USUAL[0];

    /// The form that lies ready for the stick.
    pub fn ready(job: &Job) -> Self {
        Self {
            version: job.terminal.task_data_version,
            holds: match (job.terminal.map_as, job.terminal.grid_holds) {
                (MapAs::Polygons, _) => Holds::Polygons,
                (MapAs::Grid, GridHolds::Rates) => Holds::Rates,
                (MapAs::Grid, GridHolds::ZoneNumbers) => Holds::ZoneNumbers,
            },
            products_per_task: job.terminal.products_per_task,
        }
    }

    /// The other forms. With one product, a task for each is the same as one for all.
    pub fn others(job: &Job) -> Vec<Self> {
        let ready = Self::ready(job);
        let several = job.products.len() > 1;
        let differs = |form: &Self| *form != ready;
        let says_more = |form: &Self| several || form.products_per_task == ProductsPerTask::All;
        USUAL
            .into_iter()
            .filter(differs)
            .filter(says_more)
            .collect()
    }

    /// The form whose folder has this name.
    pub fn named(folder: &str) -> Option<Self> {
        use {Holds as G, ProductsPerTask as P, TaskDataVersion as V};
        let all = [V::V4_3, V::V3_3].into_iter().flat_map(|version| {
            [G::Rates, G::ZoneNumbers, G::Polygons]
                .into_iter()
                .flat_map(move |holds| {
                    [P::All, P::One].map(|products_per_task| Self {
                        version,
                        holds,
                        products_per_task,
                    })
                })
        });
        all.into_iter().find(|form| form.folder() == folder)
    }

    /// Name of its folder.
    pub fn folder(self) -> String {
        let version = match self.version {
            TaskDataVersion::V4_3 => "4.3",
            TaskDataVersion::V3_3 => "3.3",
        };
        let grid = match self.holds {
            Holds::Rates => "",
            Holds::ZoneNumbers => "-zone-numbers",
            Holds::Polygons => "-polygons",
        };
        let tasks = match self.products_per_task {
            ProductsPerTask::All => "",
            ProductsPerTask::One => "-task-per-product",
        };
        format!("task-data-{version}{grid}{tasks}")
    }

    /// When to use it, in one line; `several`: whether the map has more than one product.
    pub fn when(self, several: bool) -> &'static str {
        use {Holds as G, TaskDataVersion as V};
        if several && self.products_per_task == ProductsPerTask::One {
            return "For a terminal that runs one map at a time: load the task of one product and set the flat rate of the other by hand; README.txt names it.";
        }
        match (self.version, self.holds, several) {
            (V::V4_3, G::Rates, true) => {
                "For a terminal that takes version 4 and runs all maps of a task at once."
            }
            (V::V4_3, G::Rates, false) => "For a terminal that takes version 4.",
            (V::V3_3, G::Rates, true) => {
                "For an older terminal that takes version 3 and runs all maps of a task at once."
            }
            (V::V3_3, G::Rates, false) => "For an older terminal that takes version 3.",
            (V::V4_3, G::ZoneNumbers, _) => {
                "For a terminal that takes grids of zone numbers (type 1) only."
            }
            (V::V3_3, G::ZoneNumbers, _) => {
                "For an older terminal that takes version 3 and grids of zone numbers (type 1) only."
            }
            (V::V4_3, G::Polygons, true) => {
                "For a terminal that takes treatment-zone polygons (an option of the standard) and runs all maps of a task at once."
            }
            (V::V4_3, G::Polygons, false) => {
                "For a terminal that takes treatment-zone polygons (an option of the standard)."
            }
            (V::V3_3, G::Polygons, true) => {
                "For an older terminal that takes version 3, treatment-zone polygons, and runs all maps of a task at once."
            }
            (V::V3_3, G::Polygons, false) => {
                "For an older terminal that takes version 3 and treatment-zone polygons."
            }
        }
    }
}
