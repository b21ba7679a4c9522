//! From decoded channels to mono.

use symphonia::core::audio::sample::Sample;
use symphonia::core::audio::{Audio, AudioBuffer, GenericAudioBufferRef};

/// Averages all channels into `mono`; returns how many samples were no numbers and became silence.
pub fn to_mono(buffer: GenericAudioBufferRef<'_>, mono: &mut Vec<f32>) -> u64 {
    use GenericAudioBufferRef as B;
    mono.clear();
    match buffer {
        B::F32(b) => average(b, mono, |s| s),
        B::F64(b) => average(b, mono, |s| s as f32),
        B::U8(b) => average(b, mono, |s| (f32::from(s) - 128.0) / 128.0),
        B::S8(b) => average(b, mono, |s| f32::from(s) / 128.0),
        B::U16(b) => average(b, mono, |s| (f32::from(s) - 32_768.0) / 32_768.0),
        B::S16(b) => average(b, mono, |s| f32::from(s) / 32_768.0),
        B::U24(b) => average(b, mono, |s| (s.inner() as f32 - 8_388_608.0) / 8_388_608.0),
        B::S24(b) => average(b, mono, |s| s.inner() as f32 / 8_388_608.0),
        B::U32(b) => average(b, mono, |s| (s as f32 - 2_147_483_648.0) / 2_147_483_648.0),
        B::S32(b) => average(b, mono, |s| s as f32 / 2_147_483_648.0),
    }
    // Full scale is 1; a value a million times that is damage, and its square would not stay finite.
    let mut bad = 0;
    for sample in mono.iter_mut() {
        if !sample.is_finite() || sample.abs() > 1e6 {
            *sample = 0.0;
            bad += 1;
        }
    }
    bad
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
