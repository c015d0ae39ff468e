//! Gripline measures a spring-powered car from a phone clip and says where the pull went.
//!
//! One direction of flow: clip, sightings, track, motion, findings, verdict, outputs. Each arrow is
//! one function from one plain type to the next.

pub mod clip;
pub mod sheet;
