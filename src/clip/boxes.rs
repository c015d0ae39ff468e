//! A look at an MP4 or MOV file's own boxes, for what libav does not tell: whether the file is cut
//! short, whether its header was ever written, and what its edit list does to time.
//!
//! # Source
//! ISO/IEC 14496-12 and the `QuickTime` File Format: a box is a 32-bit size, a four-letter kind and
//! its payload; size 1 puts a 64-bit size after the kind, size 0 runs to the end of the file.

use std::io::{self, Read, Seek, SeekFrom};

use super::Damage;

/// More top-level boxes than any clip has: a fragmented one has two for each second or so.
const MOST_BOXES: usize = 1 << 20;
/// Largest number of edits looked at.
const MOST_EDITS: u32 = 10_000;
/// Difference between the end of one edit and the start of the next that is rounding: the segment
/// duration is often in whole milliseconds.
const EDIT_ROUNDING_S: f64 = 0.002;

/// Version and count of a `stsd`, before its entries, bytes.
const BEFORE_ENTRIES: u64 = 8;
/// What a sample description of encrypted pictures is called (ISO/IEC 14496-12, 8.12).
const ENCRYPTED_PICTURES: [u8; 4] = *b"encv";

/// Where a box's payload lies in the file.
#[derive(Debug, Clone, Copy)]
struct BoxAt {
    kind: [u8; 4],
    start: u64,
    end: u64,
}

/// What the boxes say.
#[derive(Debug, Default)]
pub(super) struct Boxes {
    /// The file begins like an MP4 or MOV.
    pub(super) looks_like_movie: bool,
    /// The header with the index is there.
    pub(super) has_header: bool,
    /// Bytes that the last box promises beyond the end of the file.
    pub(super) missing_bytes: u64,
    header: Option<BoxAt>,
}

/// Reads the top-level boxes.
pub(super) fn scan<F: Read + Seek>(file: &mut F) -> io::Result<Boxes> {
    let length = file.seek(SeekFrom::End(0))?;
    let mut boxes = Boxes::default();
    let mut at = 0;
    for index in 0..MOST_BOXES {
        let Some((found, missing_bytes)) = box_at(file, at, length)? else {
            break;
        };
        // Bytes that some program put behind the clip are no box, and nothing of the clip is missing in them.
        if !found
            .kind
            .iter()
            .all(|letter| (0x20..0x7f).contains(letter))
        {
            break;
        }
        if index == 0 {
            boxes.looks_like_movie = matches!(
                &found.kind,
                b"ftyp" | b"moov" | b"mdat" | b"wide" | b"free" | b"skip" | b"pnot"
            );
        }
        if !boxes.looks_like_movie {
            break;
        }
        if &found.kind == b"moov" {
            boxes.has_header = missing_bytes == 0;
            boxes.header = Some(found);
        }
        boxes.missing_bytes = missing_bytes;
        at = found.end;
    }
    Ok(boxes)
}

impl Boxes {
    /// What the edit list of the track with this id does to time, beyond delaying its start and
    /// trimming its ends.
    pub(super) fn edit_damage<F: Read + Seek>(
        &self,
        file: &mut F,
        track_id: i32,
    ) -> io::Result<Vec<Damage>> {
        let Some(header) = self.header else {
            return Ok(Vec::new());
        };
        let top = children(file, header)?;
        let movie_scale = match find(&top, *b"mvhd") {
            Some(mvhd) => time_scale(file, mvhd)?,
            None => 0,
        };
        let track = self.track(file, track_id)?;
        let Some(edits) = find(&track, *b"edts") else {
            return Ok(Vec::new());
        };
        let Some(list) = find(&children(file, edits)?, *b"elst") else {
            return Ok(Vec::new());
        };
        let media_scale = match find(&track, *b"mdia") {
            Some(mdia) => match find(&children(file, mdia)?, *b"mdhd") {
                Some(mdhd) => time_scale(file, mdhd)?,
                None => 0,
            },
            None => 0,
        };
        let edits = read_edits(file, list, movie_scale, media_scale)?;
        Ok(judge(&edits))
    }

    /// Whether the pictures of the track with this id are encrypted.
    pub(super) fn is_encrypted<F: Read + Seek>(
        &self,
        file: &mut F,
        track_id: i32,
    ) -> io::Result<bool> {
        let mut inside = self.track(file, track_id)?;
        for kind in [*b"mdia", *b"minf", *b"stbl"] {
            inside = match find(&inside, kind) {
                Some(found) => children(file, found)?,
                None => Vec::new(),
            };
        }
        let Some(descriptions) = find(&inside, *b"stsd") else {
            return Ok(false);
        };
        let first = box_at(file, descriptions.start + BEFORE_ENTRIES, descriptions.end)?;
        Ok(first.is_some_and(|(found, _)| found.kind == ENCRYPTED_PICTURES))
    }

    /// What is in the track with this id; nothing where it is not there.
    fn track<F: Read + Seek>(&self, file: &mut F, id: i32) -> io::Result<Vec<BoxAt>> {
        let top = match self.header {
            Some(header) => children(file, header)?,
            None => Vec::new(),
        };
        for track in top.iter().filter(|found| &found.kind == b"trak") {
            let parts = children(file, *track)?;
            let Some(tkhd) = find(&parts, *b"tkhd") else {
                continue;
            };
            if number_after_times(file, tkhd)? == id.unsigned_abs() {
                return Ok(parts);
            }
        }
        Ok(Vec::new())
    }
}

/// One edit that shows a part of the media.
#[derive(Debug, Clone, Copy)]
struct Edit {
    start_s: f64,
    end_s: f64,
    rate: f64,
}

/// What edits after one another do to time.
fn judge(edits: &[Edit]) -> Vec<Damage> {
    let mut damage = Vec::new();
    if let Some(odd) = edits.iter().find(|edit| edit.rate != 1.0) {
        damage.push(Damage::ChangedSpeed { rate: odd.rate });
    }
    let mut latest_s = f64::NEG_INFINITY;
    let (mut repeats, mut cuts) = (false, false);
    for edit in edits {
        if latest_s.is_finite() {
            repeats |= edit.start_s < latest_s - EDIT_ROUNDING_S;
            cuts |= edit.start_s > latest_s + EDIT_ROUNDING_S;
        }
        if edit.end_s > latest_s {
            latest_s = edit.end_s;
        }
    }
    if repeats {
        damage.push(Damage::RepeatedSegments);
    }
    if cuts {
        damage.push(Damage::CutSegments);
    }
    damage
}

fn read_edits<F: Read + Seek>(
    file: &mut F,
    list: BoxAt,
    movie_scale: u32,
    media_scale: u32,
) -> io::Result<Vec<Edit>> {
    let mut edits = Vec::new();
    if movie_scale == 0 || media_scale == 0 || list.end - list.start < 8 {
        return Ok(edits);
    }
    file.seek(SeekFrom::Start(list.start))?;
    let long = u32_of(file)? >> 24 == 1;
    let entry_bytes = if long { 20 } else { 12 };
    let room = (list.end - list.start - 8) / entry_bytes;
    let count = u64::from(u32_of(file)?.min(MOST_EDITS)).min(room);
    for _ in 0..count {
        let (duration, media_time) = if long {
            (u64_of(file)? as f64, u64_of(file)?.cast_signed() as f64)
        } else {
            let duration = f64::from(u32_of(file)?);
            (duration, f64::from(u32_of(file)?.cast_signed()))
        };
        let rate = f64::from(u32_of(file)?.cast_signed()) / 65536.0;
        // A media time of -1 is an empty edit: a delay, which moves no frame against another.
        if media_time >= 0.0 {
            let start_s = media_time / f64::from(media_scale);
            // A duration of 0 means "to the end".
            let shown_s = if duration == 0.0 {
                f64::INFINITY
            } else {
                duration / f64::from(movie_scale)
            };
            edits.push(Edit {
                start_s,
                end_s: start_s + shown_s,
                rate,
            });
        }
    }
    Ok(edits)
}

/// The time scale of an `mvhd` or `mdhd`.
fn time_scale<F: Read + Seek>(file: &mut F, header: BoxAt) -> io::Result<u32> {
    number_after_times(file, header)
}

/// The 32-bit number behind the creation and modification times of `mvhd`, `mdhd` or `tkhd`: a time
/// scale in the first two, the track's id in the last; 0 where the box is too short.
fn number_after_times<F: Read + Seek>(file: &mut F, header: BoxAt) -> io::Result<u32> {
    if header.end - header.start < 24 {
        return Ok(0);
    }
    file.seek(SeekFrom::Start(header.start))?;
    let long = u32_of(file)? >> 24 == 1;
    file.seek(SeekFrom::Current(if long { 16 } else { 8 }))?;
    u32_of(file)
}

fn children<F: Read + Seek>(file: &mut F, parent: BoxAt) -> io::Result<Vec<BoxAt>> {
    let mut found = Vec::new();
    let mut at = parent.start;
    while let Some((child, 0)) = box_at(file, at, parent.end)? {
        found.push(child);
        at = child.end;
        if found.len() == MOST_BOXES {
            break;
        }
    }
    Ok(found)
}

fn find(boxes: &[BoxAt], kind: [u8; 4]) -> Option<BoxAt> {
    boxes.iter().find(|found| found.kind == kind).copied()
}

/// The box at a place, clipped to `limit`, and the bytes it promises beyond; `None` where no box
/// can be.
fn box_at<F: Read + Seek>(file: &mut F, at: u64, limit: u64) -> io::Result<Option<(BoxAt, u64)>> {
    if limit.saturating_sub(at) < 8 {
        return Ok(None);
    }
    file.seek(SeekFrom::Start(at))?;
    let short_size = u32_of(file)?;
    let mut kind = [0; 4];
    file.read_exact(&mut kind)?;
    let (header_bytes, size) = match short_size {
        0 => (8, limit - at),
        1 if limit - at >= 16 => (16, u64_of(file)?),
        size => (8, u64::from(size)),
    };
    if size < header_bytes {
        return Ok(None);
    }
    let promised_end = at.saturating_add(size);
    let found = BoxAt {
        kind,
        start: at + header_bytes,
        end: promised_end.min(limit),
    };
    Ok(Some((found, promised_end.saturating_sub(limit))))
}

fn u32_of<F: Read>(file: &mut F) -> io::Result<u32> {
    let mut bytes = [0; 4];
    file.read_exact(&mut bytes)?;
    Ok(u32::from_be_bytes(bytes))
}

fn u64_of<F: Read>(file: &mut F) -> io::Result<u64> {
    let mut bytes = [0; 8];
    file.read_exact(&mut bytes)?;
    Ok(u64::from_be_bytes(bytes))
}

#[cfg(test)]
mod tests {
    use std::io::Cursor;

    use super::*;

    fn boxed(kind: [u8; 4], payload: &[u8]) -> Vec<u8> {
        let mut bytes = (payload.len() as u32 + 8).to_be_bytes().to_vec();
        bytes.extend(kind);
        bytes.extend(payload);
        bytes
    }

    /// `mvhd`, `mdhd` or `tkhd`, version 0: flags, two times, the number, something after it.
    fn header(kind: [u8; 4], number: u32) -> Vec<u8> {
        let mut payload = vec![0; 12];
        payload.extend(number.to_be_bytes());
        payload.extend([0; 8]);
        boxed(kind, &payload)
    }

    /// A file with one track, id 7; edits are (segment duration, media time, rate in 16.16).
    fn movie(movie_scale: u32, media_scale: u32, edits: &[(u32, i32, i32)]) -> Vec<u8> {
        let mut list = vec![0; 4];
        list.extend((edits.len() as u32).to_be_bytes());
        for (duration, media_time, rate) in edits {
            list.extend(duration.to_be_bytes());
            list.extend(media_time.to_be_bytes());
            list.extend(rate.to_be_bytes());
        }
        let track = [
            header(*b"tkhd", 7),
            boxed(*b"edts", &boxed(*b"elst", &list)),
            boxed(*b"mdia", &header(*b"mdhd", media_scale)),
        ]
        .concat();
        let moov = [header(*b"mvhd", movie_scale), boxed(*b"trak", &track)].concat();
        [boxed(*b"ftyp", b"isom"), boxed(*b"moov", &moov)].concat()
    }

    fn damage_of(edits: &[(u32, i32, i32)]) -> Vec<Damage> {
        let mut file = Cursor::new(movie(600, 100, edits));
        let boxes = scan(&mut file).unwrap();
        assert!(boxes.has_header && boxes.looks_like_movie);
        boxes.edit_damage(&mut file, 7).unwrap()
    }

    const ONE: i32 = 0x1_0000;

    /// The worked example of the `QuickTime` File Format's "playing with edit lists": movie scale
    /// 600, media scale 100, ten seconds of media; all of it, then its first two seconds twice.
    #[test]
    fn the_documented_repeat_is_reported() {
        assert_eq!(damage_of(&[(6000, 0, ONE)]), []);
        let repeated = damage_of(&[(1200, 0, ONE), (6000, 0, ONE)]);
        assert_eq!(repeated, [Damage::RepeatedSegments]);
    }

    #[test]
    fn a_delay_and_trimmed_ends_are_no_damage() {
        assert_eq!(damage_of(&[(300, -1, ONE), (1200, 250, ONE)]), []);
        assert_eq!(damage_of(&[(1200, 0, ONE), (1200, 200, ONE)]), []);
    }

    #[test]
    fn cuts_and_other_speeds_are_reported() {
        let cut = damage_of(&[(1200, 0, ONE), (1200, 500, ONE)]);
        assert_eq!(cut, [Damage::CutSegments]);
        let slow = damage_of(&[(6000, 0, ONE / 2)]);
        assert_eq!(slow, [Damage::ChangedSpeed { rate: 0.5 }]);
    }

    #[test]
    fn a_cut_file_and_a_missing_header_show() {
        let whole = [movie(600, 100, &[]), boxed(*b"mdat", &[5; 100])].concat();
        let boxes = scan(&mut Cursor::new(&whole[..whole.len() - 30])).unwrap();
        assert!(boxes.has_header);
        assert_eq!(boxes.missing_bytes, 30);

        let unfinished = [boxed(*b"ftyp", b"isom"), boxed(*b"mdat", &[5; 100])].concat();
        let boxes = scan(&mut Cursor::new(&unfinished)).unwrap();
        assert!(boxes.looks_like_movie && !boxes.has_header);
        assert_eq!(boxes.missing_bytes, 0);

        let padded = [&whole[..], &[0xff; 100]].concat();
        let boxes = scan(&mut Cursor::new(&padded)).unwrap();
        assert!(boxes.has_header && boxes.missing_bytes == 0);

        let text = scan(&mut Cursor::new(b"run 3, bare wheels, 14:05")).unwrap();
        assert!(!text.looks_like_movie);
    }
}
