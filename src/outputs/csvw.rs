//! `frames.csv-metadata.json`: what the columns of `frames.csv` are, for notebooks and tools.
//!
//! # Source
//! W3C Recommendation, Metadata Vocabulary for Tabular Data (CSV on the Web), 17 December 2015: the
//! file's name is section 5.3 of the Model, units are common properties (section 5.8).

use super::frames::FLAGS;
use serde_json::{Value, json};

/// The file's name: readers look for it beside the table.
pub const METADATA_NAME: &str = "frames.csv-metadata.json";

/// A column as it is described.
struct Column {
    name: &'static str,
    title: &'static str,
    unit: &'static str,
    meaning: &'static str,
}

const fn column(
    name: &'static str,
    title: &'static str,
    unit: &'static str,
    meaning: &'static str,
) -> Column {
    Column {
        name,
        title,
        unit,
        meaning,
    }
}

/// Units are UCUM codes (Unified Code for Units of Measure), 1 for none.
const DESCRIBED: [Column; 24] = [
    column("frame", "Frame", "1", "Number of the frame, from 0"),
    column(
        "time_s",
        "Time",
        "s",
        "Real time since the first frame; empty where the clip's clock cannot be believed",
    ),
    column(
        "sticker_u_px",
        "Sticker, across",
        "{px}",
        "Sticker's centre in the upright picture, to the right of the centre of the top-left pixel",
    ),
    column(
        "sticker_v_px",
        "Sticker, down",
        "{px}",
        "Sticker's centre in the upright picture, below the centre of the top-left pixel",
    ),
    column(
        "wheel_mark_u_px",
        "Wheel mark, across",
        "{px}",
        "Wheel mark's centre, to the right of the centre of the top-left pixel",
    ),
    column(
        "wheel_mark_v_px",
        "Wheel mark, down",
        "{px}",
        "Wheel mark's centre, below the centre of the top-left pixel",
    ),
    column(
        "x_m",
        "Place, ahead",
        "m",
        "Floor point under the middle of the driven axle, along x of the floor frame (ISO 8855)",
    ),
    column("y_m", "Place, left", "m", "The same point, to the left"),
    column(
        "heading_rad",
        "Heading",
        "rad",
        "Direction in which the car points, positive to the left",
    ),
    column("speed_m_per_s", "Speed", "m/s", "Speed of the car"),
    column(
        "speed_low_m_per_s",
        "Speed, low",
        "m/s",
        "Low end of the speed's 95 % interval",
    ),
    column(
        "speed_high_m_per_s",
        "Speed, high",
        "m/s",
        "High end of the speed's 95 % interval",
    ),
    column(
        "acceleration_m_per_s2",
        "Acceleration",
        "m/s2",
        "Acceleration along the path",
    ),
    column(
        "wheel_angle_rad",
        "Wheel angle",
        "rad",
        "Turn of the driven wheel, growing as the car goes forward",
    ),
    column(
        "wheel_rate_rad_per_s",
        "Wheel rate",
        "rad/s",
        "Rate of turn of the driven wheel",
    ),
    column(
        "rim_speed_m_per_s",
        "Rim speed",
        "m/s",
        "Wheel rate times rolling radius",
    ),
    column(
        "slip_ratio",
        "Slip ratio",
        "1",
        "1 - speed / rim speed: 0 rolls, 1 spins on the spot; empty where the rim is too slow to tell",
    ),
    column(
        "slip_low",
        "Slip ratio, low",
        "1",
        "Low end of the slip ratio's 95 % interval",
    ),
    column(
        "slip_high",
        "Slip ratio, high",
        "1",
        "High end of the slip ratio's 95 % interval",
    ),
    column(
        "deviation_m",
        "Deviation",
        "m",
        "Distance from the aim line, left positive",
    ),
    column(
        "deviation_low_m",
        "Deviation, low",
        "m",
        "Low end of the deviation's 95 % interval",
    ),
    column(
        "deviation_high_m",
        "Deviation, high",
        "m",
        "High end of the deviation's 95 % interval",
    ),
    column(
        "phase",
        "Phase",
        "",
        "Part of the run; empty where the car was out of view",
    ),
    column(
        "flags",
        "Flags",
        "",
        "What to know about the row: sticker_hidden, wheel_hidden, turn_ambiguous, clock_doubted",
    ),
];

/// The file's bytes.
///
/// # Errors
/// What the JSON writer says; writing to memory does not fail in practice.
pub fn frames_metadata_json() -> Result<Vec<u8>, serde_json::Error> {
    let columns: Vec<Value> = DESCRIBED.iter().map(described).collect();
    let table = json!({
        "@context": ["http://www.w3.org/ns/csvw", {"@language": "en"}],
        "url": "frames.csv",
        "dc:title": "A run of a spring-powered car, frame by frame",
        "dc:description": "Measured from a clip; an empty cell means not seen or not measurable",
        "dc:source": concat!("gripline ", env!("CARGO_PKG_VERSION")),
        "dialect": {"header": true, "delimiter": ",", "encoding": "utf-8", "lineTerminators": ["\r\n", "\n"]},
        "tableSchema": {"columns": columns, "primaryKey": "frame"},
    });
    let mut bytes = serde_json::to_vec_pretty(&table)?;
    bytes.push(b'\n');
    Ok(bytes)
}

fn described(column: &Column) -> Value {
    let datatype = match column.name {
        "frame" => json!({"base": "nonNegativeInteger"}),
        "phase" => json!({"base": "string", "format": "rest|powered|coast|stopped"}),
        "flags" => json!({"base": "string"}),
        _ => json!({"base": "number"}),
    };
    let required = column.name == "frame";
    let mut out = json!({
        "name": column.name,
        "titles": column.name,
        "rdfs:label": column.title,
        "dc:description": column.meaning,
        "datatype": datatype,
        "required": required,
    });
    if let Some(map) = out.as_object_mut() {
        if !column.unit.is_empty() {
            map.insert("schema:unitCode".into(), json!(column.unit));
        }
        if column.name == FLAGS {
            map.insert("separator".into(), json!(" "));
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outputs::COLUMNS;

    #[test]
    fn every_column_is_described_in_order_with_the_unit_of_its_name() {
        let names = DESCRIBED.iter().map(|c| c.name);
        assert!(names.eq(COLUMNS.iter().copied().chain([FLAGS])));
        // Endings of names (DEVELOPERS.md, conventions) and UCUM codes, section 4.
        let endings = [
            ("_m_per_s2", "m/s2"),
            ("_rad_per_s", "rad/s"),
            ("_m_per_s", "m/s"),
            ("_rad", "rad"),
            ("_px", "{px}"),
            ("_m", "m"),
            ("_s", "s"),
        ];
        for column in &DESCRIBED {
            let ending = endings.iter().find(|(e, _)| column.name.ends_with(e));
            let unit = ending.map_or("1", |(_, unit)| unit);
            assert!(
                column.unit == unit || column.unit.is_empty(),
                "{}",
                column.name
            );
        }
    }
}
