//! The forms of task data: which a job wants ready, and which lie beside it for other terminals.

use crate::job::{GridHolds, Job, ProductsPerTask, TaskDataVersion};

/// One form of task data.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::write) struct Variant {
    pub version: TaskDataVersion,
    pub grid_holds: GridHolds,
    pub products_per_task: ProductsPerTask,
}

/// The forms that every plan comes in.
const USUAL: [Variant; 4] = {
    use {GridHolds as G, ProductsPerTask as P, TaskDataVersion as V};
    [
        Variant {
            version: V::V4_3,
            grid_holds: G::Rates,
            products_per_task: P::All,
        },
        Variant {
            version: V::V3_3,
            grid_holds: G::Rates,
            products_per_task: P::All,
        },
        Variant {
            version: V::V3_3,
            grid_holds: G::Rates,
            products_per_task: P::One,
        },
        Variant {
            version: V::V4_3,
            grid_holds: G::ZoneNumbers,
            products_per_task: P::All,
        },
    ]
};

impl Variant {
    /// The form that lies ready for the stick.
    pub fn ready(job: &Job) -> Self {
        Self {
            version: job.terminal.task_data_version,
            grid_holds: job.terminal.grid_holds,
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

    /// Name of its folder.
    pub fn folder(self) -> String {
        let version = match self.version {
            TaskDataVersion::V4_3 => "4.3",
            TaskDataVersion::V3_3 => "3.3",
        };
        let grid = match self.grid_holds {
            GridHolds::Rates => "",
            GridHolds::ZoneNumbers => "-zone-numbers",
        };
        let tasks = match self.products_per_task {
            ProductsPerTask::All => "",
            ProductsPerTask::One => "-task-per-product",
        };
        format!("task-data-{version}{grid}{tasks}")
    }

    /// When to use it, in one line.
    pub fn when(self) -> &'static str {
        match (self.products_per_task, self.grid_holds, self.version) {
            (ProductsPerTask::One, _, _) => {
                "For a terminal that runs one map at a time: load the task of one product, set the flat rate below for the other."
            }
            (_, GridHolds::ZoneNumbers, _) => {
                "For a terminal that takes grids of zone numbers (type 1) only."
            }
            (_, _, TaskDataVersion::V3_3) => {
                "For an older terminal that takes version 3 and runs all maps of a task at once."
            }
            (_, _, TaskDataVersion::V4_3) => {
                "For a terminal that takes version 4 and runs all maps of a task at once."
            }
        }
    }
}
