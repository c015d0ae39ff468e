//! Why no plan can be made, and what to do next.

/// Why no plan can be made.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum PlanError {
    /// No runs.
    #[error("there is no run to plan from")]
    NoRuns,
    /// Runs of several cars.
    #[error("the runs are of several cars: {cars}")]
    SeveralCars {
        /// The cars, with how many runs each has.
        cars: String,
    },
    /// A size without which no run can be followed.
    #[error("the run sheet of `{run}` has no `{key}`")]
    MissingSize {
        /// The run.
        run: String,
        /// The key.
        key: &'static str,
    },
    /// No run had the treatment that is planned for.
    #[error("no run had the treatment \"{asked}\"; there are: {known}")]
    NoSuchTreatment {
        /// What was asked for.
        asked: String,
        /// What there is.
        known: String,
    },
    /// The runs do not tell what was asked.
    #[error("it cannot be told {what}, because {because}")]
    CannotTell {
        /// What was asked.
        what: String,
        /// Why not.
        because: String,
        /// What would tell it.
        measure: String,
    },
    /// The runs and the model do not go together at all.
    #[error(
        "it cannot be told what this car will do, because no car that the spring model knows comes near these runs: {why}"
    )]
    NoCar {
        /// What is off.
        why: String,
    },
}

impl PlanError {
    /// What to do next.
    pub fn hint(&self) -> &str {
        match self {
            Self::NoRuns => "give result folders of `gripline measure`",
            Self::SeveralCars { .. } => {
                "give the results of one car; [car] name on the run sheet says which car a run is of"
            }
            Self::MissingSize { .. } => {
                "write it on the sheet and measure again, or give it for all runs with `--sheet`"
            }
            Self::NoSuchTreatment { .. } => "give `--treatment` one of these",
            Self::CannotTell { measure, .. } => measure,
            Self::NoCar { .. } => {
                "look at the sizes on the sheets (millimetres, diameters and not radii), and whether the string slipped"
            }
        }
    }
}
