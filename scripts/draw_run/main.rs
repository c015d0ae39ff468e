//! Draws clips of spring-powered cars from known motion, so that tests can compare with exact truth.
//!
//! ```text
//! cargo run --release --example draw_run -- OUT_DIR SCENE.toml...
//! ```
//!
//! Each scene becomes a folder `OUT_DIR/NAME/` with the clip, the run sheet, and the truth. Nothing
//! here is shared with the measuring library: a common mistake would cancel out.
#![allow(
    clippy::print_stdout,
    reason = "a command for developers, whose output is a line per scene"
)]

mod body;
mod drive;
mod encode;
mod filming;
mod paint;
mod picture;
mod pose;
mod room;
mod run;
mod scene;
mod sensor;
mod sheet;
mod solids;
mod sound;
#[cfg(test)]
mod tests;
mod texture;
mod things;
mod timetable;
mod truth;
mod view;

use std::fs;
use std::path::{Path, PathBuf};
use std::time::Instant;

use anyhow::Context;

use crate::encode::{Encoder, mark_rotation};
use crate::picture::Painter;
use crate::room::World;
use crate::run::Run;
use crate::scene::Scene;
use crate::sensor::{Coding, Sensor, stored};
use crate::timetable::{Slot, slots};
use crate::truth::Truth;
use crate::view::Phone;

fn main() -> anyhow::Result<()> {
    let mut arguments = std::env::args_os().skip(1).map(PathBuf::from);
    let out = arguments
        .next()
        .context("usage: draw_run OUT_DIR SCENE.toml...")?;
    for path in arguments {
        let started = Instant::now();
        let name = path
            .file_stem()
            .context("a scene file has a name")?
            .to_string_lossy();
        let text =
            fs::read_to_string(&path).with_context(|| format!("cannot read {}", path.display()))?;
        let scene: Scene =
            toml::from_str(&text).with_context(|| format!("in {}", path.display()))?;
        let bytes = draw(&scene, &name, &out.join(&*name))
            .with_context(|| format!("cannot draw {}", path.display()))?;
        println!(
            "{name}: {} kB, {:.1} s",
            bytes / 1000,
            started.elapsed().as_secs_f64()
        );
    }
    Ok(())
}

/// Draws one scene into a folder; returns the size of the clip.
fn draw(scene: &Scene, name: &str, folder: &Path) -> anyhow::Result<u64> {
    fs::create_dir_all(folder)?;
    let clip = folder.join("clip.mp4");
    let slots = slots(scene);
    let world = World::new(scene, Run::new(scene)?)?;
    let phone = Phone::new(scene);
    if !clip.exists() {
        film(scene, &world, &phone, &slots, &clip)?;
        mark_rotation(&clip, scene.clip.rotation_deg)?;
    }
    let bytes = fs::metadata(&clip)?.len();
    let truth = Truth {
        scene,
        world: &world,
        phone: &phone,
    };
    let rows = slots
        .iter()
        .map(|s| truth.row(*s))
        .collect::<anyhow::Result<Vec<_>>>()?;
    let pretty = |value: &serde_json::Value| serde_json::to_string_pretty(value);
    fs::write(folder.join("run.toml"), sheet::run_sheet(scene)?)?;
    fs::write(
        folder.join("scene.json"),
        pretty(&sheet::scene_json(scene)?)? + "\n",
    )?;
    fs::write(
        folder.join("truth.json"),
        pretty(&truth.json(name, &rows, bytes)?)? + "\n",
    )?;
    fs::write(folder.join("truth_frames.csv"), truth.csv(&rows))?;
    if phone.moves() {
        fs::write(folder.join("truth_camera.csv"), truth.camera_csv(&slots))?;
    }
    Ok(bytes)
}

/// Draws, develops and stores every frame.
fn film(
    scene: &Scene,
    world: &World,
    phone: &Phone,
    slots: &[Slot],
    clip: &Path,
) -> anyhow::Result<()> {
    let c = &scene.clip;
    let coding = Coding {
        matrix: c.matrix,
        full_range: c.full_range,
        bits: c.bits,
        siting: c.siting,
    };
    let painter = Painter::new(scene, world, phone);
    let mut sensor = Sensor::new(scene, phone.clock);
    let sound = clip.with_extension("wav");
    if c.sound {
        sound::write(scene, &sound)?;
    }
    let size = if c.rotation_deg.is_multiple_of(180) {
        (c.width, c.height)
    } else {
        (c.height, c.width)
    };
    let mut encoder = Encoder::start(scene, slots, size, c.sound.then_some(sound.as_path()), clip)?;
    for (index, slot) in slots.iter().enumerate() {
        let light = painter.frame(slot.capture_s);
        let developed = sensor.develop(&light, index, slot.capture_s);
        let (turned, width, height) = stored(&developed, c.width, c.height, c.rotation_deg);
        encoder.push(&coding.planes(&turned, width, height))?;
    }
    encoder.finish()?;
    if c.sound {
        fs::remove_file(&sound)?;
    }
    Ok(())
}
