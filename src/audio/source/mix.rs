//! From decoded channels to one, or to those of the file, interleaved.

use symphonia::core::audio::sample::Sample;
use symphonia::core::audio::{Audio, AudioBuffer, GenericAudioBufferRef};

/// How channels are handed out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Mix {
    /// All averaged into one.
    Mono,
    /// One or two as they are, side by side in each frame; more than two averaged into one.
    AsRecorded,
}

/// Lays a buffer's samples into `out`, `width` to a frame; a buffer with another number of channels is
/// averaged, the same in each. Returns how many samples were no numbers and became silence.
pub fn lay(buffer: GenericAudioBufferRef<'_>, width: usize, out: &mut Vec<f32>) -> u64 {
    use GenericAudioBufferRef as B;
    out.clear();
    match buffer {
        B::F32(b) => of(b, width, out, |s| s),
        B::F64(b) => of(b, width, out, |s| s as f32),
        B::U8(b) => of(b, width, out, |s| (f32::from(s) - 128.0) / 128.0),
        B::S8(b) => of(b, width, out, |s| f32::from(s) / 128.0),
        B::U16(b) => of(b, width, out, |s| (f32::from(s) - 32_768.0) / 32_768.0),
        B::S16(b) => of(b, width, out, |s| f32::from(s) / 32_768.0),
        B::U24(b) => of(b, width, out, |s| (s.inner() as f32 - 8_388_608.0) / 8_388_608.0),
        B::S24(b) => of(b, width, out, |s| s.inner() as f32 / 8_388_608.0),
        B::U32(b) => of(b, width, out, |s| (s as f32 - 2_147_483_648.0) / 2_147_483_648.0),
        B::S32(b) => of(b, width, out, |s| s as f32 / 2_147_483_648.0),
    }
    // Full scale is 1; a value a million times that is damage, and its square would not stay finite.
    let mut bad = 0;
    for sample in out.iter_mut() {
        if !sample.is_finite() || sample.abs() > 1e6 {
            *sample = 0.0;
            bad += 1;
        }
    }
    bad
}

fn of<S: Sample>(
    buffer: &AudioBuffer<S>,
    width: usize,
    out: &mut Vec<f32>,
    to_f32: impl Fn(S) -> f32,
) {
    if width == 1 || buffer.num_planes() != width {
        average(buffer, out, to_f32);
        if width > 1 {
            *out = out.iter().flat_map(|x| std::iter::repeat_n(*x, width)).collect();
        }
        return;
    }
    out.resize(buffer.frames() * width, 0.0);
    for channel in 0..width {
        let Some(plane) = buffer.plane(channel) else { continue };
        for (out, sample) in out.iter_mut().skip(channel).step_by(width).zip(plane) {
            *out = to_f32(*sample);
        }
    }
}

fn average<S: Sample>(buffer: &AudioBuffer<S>, mono: &mut Vec<f32>, to_f32: impl Fn(S) -> f32) {
    let planes = buffer.num_planes();
    let share = 1.0 / planes.max(1) as f32;
    mono.resize(if planes == 0 { 0 } else { buffer.frames() }, 0.0);
    for index in 0..planes {
        let Some(plane) = buffer.plane(index) else { continue };
        for (sum, sample) in mono.iter_mut().zip(plane) {
            *sum += to_f32(*sample) * share;
        }
    }
}
