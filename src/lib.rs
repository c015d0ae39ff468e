//! Gripline measures a spring-powered car from a phone clip and says where the pull went.
//!
//! One direction of flow: clip, sightings, track, motion, findings, verdict, outputs. Each arrow is
//! one function from one plain type to the next.

pub mod analysis;
pub mod camera;
pub mod cli;
pub mod clip;
pub mod clip_quality;
pub mod colour;
pub mod comparison;
pub mod findings;
pub mod kit;
pub mod motion;
pub mod noise;
pub mod outputs;
pub mod pipeline;
pub mod plan;
pub mod plan_page;
pub mod priors;
pub mod setup_page;
pub mod sheet;
pub mod sighting;
pub mod smoothing;
pub mod station;
pub mod texts;
pub mod track;
pub mod treatments;
pub mod two_views;
pub mod uncertainty;
pub mod verdict;
