//! Cuts a stream of samples into overlapping windows.

/// Hands out windows of `size` samples, centred on sample 0, `hop`, 2 `hop` …; before the first and
/// after the last sample lies silence. They come in pairs, however the samples arrive, because two can be
/// transformed at the cost of one; the last may be alone.
#[derive(Debug)]
pub(crate) struct Framer {
    size: usize,
    hop: usize,
    buffer: Vec<f32>,
    /// Where in `buffer` the next window starts.
    next: usize,
    samples: u64,
    frames: u64,
}

impl Framer {
    pub(crate) fn new(size: usize, hop: usize) -> Framer {
        Framer { size, hop, buffer: vec![0.0; size / 2], next: 0, samples: 0, frames: 0 }
    }

    /// Takes more samples and gives every pair of windows that they complete to `each`.
    pub(crate) fn push(&mut self, samples: &[f32], mut each: impl FnMut(&[f32], Option<&[f32]>)) {
        self.samples += samples.len() as u64;
        self.buffer.extend_from_slice(samples);
        while let Some(both) = self.buffer.get(self.next..self.next + self.hop + self.size) {
            each(&both[..self.size], Some(&both[self.hop..]));
            self.frames += 2;
            self.next += 2 * self.hop;
        }
        let used = self.next.min(self.buffer.len());
        self.buffer.drain(..used);
        self.next -= used;
    }

    /// Gives the windows centred within the samples that are still owed.
    pub(crate) fn finish(&mut self, mut each: impl FnMut(&[f32], Option<&[f32]>)) {
        let owed = if self.samples == 0 { 0 } else { (self.samples - 1) / self.hop as u64 + 1 };
        let missing = (owed - self.frames.min(owed)) as usize;
        self.buffer.resize(self.next + missing * self.hop + self.size, 0.0);
        for pair in 0..missing.div_ceil(2) {
            let start = self.next + 2 * pair * self.hop;
            let both = &self.buffer[start..start + self.hop + self.size];
            let second = (2 * pair + 1 < missing).then_some(&both[self.hop..]);
            each(&both[..self.size], second);
        }
        self.frames = owed;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn windows_are_the_same_however_the_samples_arrive() {
        let samples: Vec<f32> = (1..=1000).map(|n| n as f32).collect();
        let cut = |block: usize| {
            let mut framer = Framer::new(64, 25);
            let mut windows = Vec::new();
            let mut add = |a: &[f32], b: Option<&[f32]>| {
                windows.push(a.to_vec());
                windows.extend(b.map(<[f32]>::to_vec));
            };
            for part in samples.chunks(block) {
                framer.push(part, &mut add);
            }
            framer.finish(&mut add);
            windows
        };
        let whole = cut(1000);
        assert_eq!(whole.len(), 40);
        assert_eq!(cut(999).len(), 40);
        for (k, window) in whole.iter().enumerate() {
            assert_eq!(window[32], (k * 25 + 1) as f32, "centre of window {k}");
        }
        for block in [1, 7, 64, 333] {
            assert_eq!(cut(block), whole);
        }
    }

    #[test]
    fn nothing_in_nothing_out() {
        let mut framer = Framer::new(64, 25);
        framer.push(&[], |_, _| panic!("a window out of nothing"));
        framer.finish(|_, _| panic!("a window out of nothing"));
    }
}
