//! What a file is that is no MP4 or MOV video, as its first bytes tell.

/// Bytes that are looked at.
pub(super) const HEAD_BYTES: u64 = 400;
/// Distance of the sync bytes of an MPEG transport stream (ISO/IEC 13818-1, 2.4.3.2), and the same with the four
/// bytes that camcorders put in front of each packet.
const PACKETS: [(usize, usize); 2] = [(0, 188), (4, 192)];

/// What the file is, with an article; `None` for what is not known here, MP4 and MOV among them.
///
/// First bytes from the formats' own standards: RIFF (Microsoft and IBM, 1991), EBML (RFC 8794), `GIF89a`, PNG
/// (ISO/IEC 15948), JPEG (ISO/IEC 10918-1), byte streams of H.264 and HEVC (ITU-T H.264 and H.265, annex B), MPEG
/// program streams (ISO/IEC 13818-1), Ogg (RFC 3533), ASF (Microsoft), Flash video (Adobe); PDF (ISO 32000); ZIP.
pub(super) fn foreign_kind(head: &[u8]) -> Option<&'static str> {
    let riff = |kind: &[u8]| head.starts_with(b"RIFF") && head.get(8..12) == Some(kind);
    let packets = PACKETS.iter().any(|&(first, apart)| {
        let syncs = (first..head.len()).step_by(apart).map(|at| head[at]);
        syncs.clone().count() > 2 && syncs.clone().all(|byte| byte == 0x47)
    });
    let starts: [(&[u8], &str); 13] = [
        (b"\x1a\x45\xdf\xa3", "a Matroska or WebM file"),
        (b"GIF8", "a GIF picture"),
        (b"\x89PNG", "a PNG picture"),
        (b"\xff\xd8\xff", "a JPEG picture"),
        (b"\x00\x00\x01\xba", "an MPEG program stream"),
        (b"\x00\x00\x01\xb3", "an MPEG video stream"),
        (
            b"\x00\x00\x00\x01",
            "a bare video stream, which has no frame times",
        ),
        (
            b"\x00\x00\x01",
            "a bare video stream, which has no frame times",
        ),
        (b"OggS", "an Ogg file"),
        (b"\x30\x26\xb2\x75\x8e\x66\xcf\x11", "a Windows Media file"),
        (b"FLV", "a Flash video"),
        (b"%PDF-", "a PDF document"),
        (b"PK\x03\x04", "a ZIP archive"),
    ];
    let known = starts.iter().find(|(start, _)| head.starts_with(start));
    match known {
        _ if riff(b"AVI ") => Some("an AVI file"),
        _ if riff(b"WAVE") => Some("a sound recording"),
        _ if packets => Some("an MPEG transport stream"),
        // A box of 64-bit size begins like a byte stream and goes on with its four letters.
        Some((start, _)) if start.starts_with(&[0, 0]) && is_box(head) => None,
        known => known.map(|(_, kind)| *kind),
    }
}

/// Whether the first box of an MP4 or MOV file is there: its size, then four letters (ISO/IEC 14496-12, 4.2).
fn is_box(head: &[u8]) -> bool {
    head.get(4..8)
        .is_some_and(|name| name.iter().all(u8::is_ascii_alphanumeric))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn files_are_known_by_their_first_bytes() {
        let told = |head: &[u8]| foreign_kind(head).unwrap_or_default();
        assert_eq!(told(b"RIFF\x10\0\0\0AVI LIST"), "an AVI file");
        assert_eq!(told(b"\x1a\x45\xdf\xa3\x01"), "a Matroska or WebM file");
        assert!(told(b"\0\0\0\x01\x67\x64\0\x1e").contains("no frame times"));
        assert!(told(b"\0\0\x01\x67\x64\0\x1e\xac").contains("no frame times"));
        assert_eq!(told(b"\0\0\x01\xba\x44"), "an MPEG program stream");
        let mut packets = vec![0_u8; HEAD_BYTES as usize];
        (packets[0], packets[188], packets[376]) = (0x47, 0x47, 0x47);
        assert_eq!(told(&packets), "an MPEG transport stream");
        for ours in [
            &b"\0\0\0\x18ftypmp42"[..],
            b"\0\0\0\x01mdat\0\0\0\0",
            b"\0\0\x01\x20moov",
            b"",
            b"hello",
        ] {
            assert_eq!(foreign_kind(ours), None);
        }
    }
}
