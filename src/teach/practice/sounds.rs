//! Short sounds made here: clicks, steps, a chime.

/// A sound at some rate, mono, full scale ±1. What is heard as its time is `onset` frames in.
#[derive(Debug, Clone, PartialEq)]
pub struct Sound {
    /// Samples.
    pub samples: Vec<f32>,
    /// Frame that is placed on the count.
    pub onset: usize,
}

/// A click: a damped tone that starts at full height, so that it is heard to the sample.
pub fn click(rate_hz: u32, tone_hz: f64, long_s: f64) -> Sound {
    let rate = f64::from(rate_hz);
    let samples = (0..(long_s * rate) as usize).map(|n| {
        let t = n as f64 / rate;
        let tone = (std::f64::consts::TAU * tone_hz * t).cos();
        (0.8 * tone * (-t / (long_s / 6.0)).exp()) as f32
    });
    Sound { samples: faded(samples.collect()), onset: 0 }
}

/// A step: a knock of noise, duller and longer when the whole foot takes weight.
pub fn step(rate_hz: u32, heavy: bool) -> Sound {
    let rate = f64::from(rate_hz);
    let (tone_hz, long_s) = if heavy { (190.0, 0.07) } else { (900.0, 0.035) };
    // Noise that is the same each time.
    let mut state: u32 = 0x2545_f491;
    let mut noise = || {
        state ^= state << 13;
        state ^= state >> 17;
        state ^= state << 5;
        f64::from(state) / f64::from(u32::MAX) * 2.0 - 1.0
    };
    let samples = (0..(long_s * rate) as usize).map(|n| {
        let t = n as f64 / rate;
        let tone = (std::f64::consts::TAU * tone_hz * t).cos();
        (0.7 * (0.6 * tone + 0.4 * noise()) * (-t / (long_s / 7.0)).exp()) as f32
    });
    Sound { samples: faded(samples.collect()), onset: 0 }
}

/// Two rising tones that say "something comes".
pub fn chime(rate_hz: u32) -> Sound {
    let rate = f64::from(rate_hz);
    let long_s = 0.26;
    let samples = (0..(long_s * rate) as usize).map(|n| {
        let t = n as f64 / rate;
        let (tone_hz, since) = if t < 0.11 { (660.0, t) } else { (880.0, t - 0.11) };
        let attack = (since / 0.004).min(1.0);
        let tone = (std::f64::consts::TAU * tone_hz * t).sin();
        (0.45 * attack * tone * (-since / 0.06).exp()) as f32
    });
    Sound { samples: faded(samples.collect()), onset: 0 }
}

/// Without a jump at its end.
fn faded(mut samples: Vec<f32>) -> Vec<f32> {
    let long = samples.len().min(64);
    let start = samples.len() - long;
    for (k, x) in samples[start..].iter_mut().enumerate() {
        *x *= 1.0 - (k + 1) as f32 / long as f32;
    }
    samples
}

/// The same sound at another rate, by windowed sinc (16 zero crossings to a side).
pub fn at_rate(samples: &[f32], from_hz: u32, to_hz: u32) -> Vec<f32> {
    if from_hz == to_hz || samples.is_empty() {
        return samples.to_vec();
    }
    const SIDE: f64 = 16.0;
    let ratio = f64::from(from_hz) / f64::from(to_hz);
    let cut = (1.0 / ratio).min(1.0);
    let reach = SIDE / cut;
    let frames = (samples.len() as f64 / ratio) as usize;
    (0..frames)
        .map(|n| {
            let centre = n as f64 * ratio;
            let from = (centre - reach).ceil().max(0.0) as usize;
            let to = ((centre + reach) as usize + 1).min(samples.len());
            let value: f64 = (from..to)
                .map(|k| {
                    let x = (k as f64 - centre) * cut;
                    let sinc = match x.abs() < 1e-9 {
                        true => 1.0,
                        false => (std::f64::consts::PI * x).sin() / (std::f64::consts::PI * x),
                    };
                    let window = 0.5 + 0.5 * (std::f64::consts::PI * x / SIDE).cos();
                    f64::from(samples[k]) * sinc * window * cut
                })
                .sum();
            value as f32
        })
        .collect()
}
