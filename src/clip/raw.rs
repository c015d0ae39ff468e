//! The few reads of libav structures that the safe wrapper does not offer.
#![allow(
    unsafe_code,
    reason = "libav's structures are C; every block below reads fields of a live one"
)]

use ffmpeg_next::ffi;
use ffmpeg_next::format::context::Output;
use ffmpeg_next::format::stream::{Stream, StreamMut};
use ffmpeg_next::frame::Video;
use ffmpeg_next::{FieldOrder, Rational, codec};

use super::pixels;

/// Field order that the container or the codec's headers name.
pub(super) fn field_order(parameters: &codec::Parameters) -> FieldOrder {
    // SAFETY: `parameters` owns or keeps alive its AVCodecParameters, which is never null.
    FieldOrder::from(unsafe { (*parameters.as_ptr()).field_order })
}

/// Entries of the stream's index that are to be shown, so without those that an edit list hides.
pub(super) fn shown_index_entries(stream: &Stream<'_>) -> u64 {
    // SAFETY: the stream borrows its format context, so the pointer is valid.
    let count = unsafe { ffi::avformat_index_get_entries_count(stream.as_ptr()) };
    let mut shown = 0;
    for index in 0..count {
        // SAFETY: as above; the function only reads the stream, although C declares it mutable,
        // and the entry is read before any other call on the stream.
        let entry = unsafe {
            ffi::avformat_index_get_entry(stream.as_ptr().cast_mut(), index)
                .as_ref()
                .map(ffi::AVIndexEntry::flags)
        };
        if entry.is_some_and(|flags| flags & ffi::AVINDEX_DISCARD_FRAME == 0) {
            shown += 1;
        }
    }
    shown
}

/// Bytes from one row of a plane to the next; `None` for a missing or an upside-down plane.
pub(super) fn stride(frame: &Video, plane: usize) -> Option<usize> {
    // SAFETY: the frame is alive; both arrays have AV_NUM_DATA_POINTERS entries and `get` checks.
    let (data, linesize) = unsafe { (&(*frame.as_ptr()).data, &(*frame.as_ptr()).linesize) };
    if data.get(plane)?.is_null() {
        return None;
    }
    usize::try_from(*linesize.get(plane)?)
        .ok()
        .filter(|s| *s > 0)
}

/// The bytes of a plane, rows [`stride`] apart, the last row without its padding.
///
/// Empty where the plane is missing, upside down, or of a pixel format that is not read.
pub(super) fn plane(frame: &Video, plane: usize) -> &[u8] {
    let Some(stride) = stride(frame, plane) else {
        return &[];
    };
    let Some(kind) = pixels::stored_as(frame.format()) else {
        return &[];
    };
    let (row_bytes, rows) = kind.plane_bytes(plane, frame.width(), frame.height());
    if rows == 0 || row_bytes == 0 || stride < row_bytes {
        return &[];
    }
    // SAFETY: for a frame of this size and pixel format libav promises `rows` rows of at least
    // `row_bytes` readable bytes, `stride` apart; the buffer lives as long as the frame, which the
    // result borrows, and nobody writes to a frame that the decoder has handed over.
    unsafe {
        std::slice::from_raw_parts(
            (*frame.as_ptr()).data[plane],
            stride * (rows - 1) + row_bytes,
        )
    }
}

/// A timestamp in another time base, rounded to the nearest tick.
pub(super) fn rescaled(ticks: i64, from: Rational, to: Rational) -> i64 {
    // SAFETY: a pure function of its arguments.
    unsafe { ffi::av_rescale_q(ticks, from.into(), to.into()) }
}

/// Whether a file of this format may hold a stream of this codec.
pub(super) fn holds(output: &Output, codec: codec::Id) -> bool {
    // SAFETY: the output is alive, and its format is a static table of libav's.
    unsafe {
        let format = (*output.as_ptr()).oformat;
        ffi::avformat_query_codec(format, codec.into(), ffi::FF_COMPLIANCE_NORMAL) == 1
    }
}

/// Lets the muxer choose its own tag for a copied stream's codec.
pub(super) fn clear_codec_tag(stream: &mut StreamMut<'_>) {
    // SAFETY: the stream borrows its format context, and its parameters are never null.
    unsafe {
        (*(*stream.as_mut_ptr()).codecpar).codec_tag = 0;
    }
}
