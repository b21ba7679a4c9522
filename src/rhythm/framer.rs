//! Cuts a stream of samples into overlapping windows.

/// Hands out windows of `size` samples, centred on sample 0, `hop`, 2 `hop` …; before the first and
/// after the last sample lies silence.
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

    /// Takes more samples and gives every window that they complete to `each`.
    pub(crate) fn push(&mut self, samples: &[f32], mut each: impl FnMut(&[f32])) {
        self.samples += samples.len() as u64;
        self.buffer.extend_from_slice(samples);
        while let Some(window) = self.buffer.get(self.next..self.next + self.size) {
            each(window);
            self.frames += 1;
            self.next += self.hop;
        }
        let used = self.next.min(self.buffer.len());
        self.buffer.drain(..used);
        self.next -= used;
    }

    /// Gives the windows centred within the samples that are still owed.
    pub(crate) fn finish(&mut self, mut each: impl FnMut(&[f32])) {
        let owed = if self.samples == 0 { 0 } else { (self.samples - 1) / self.hop as u64 + 1 };
        let missing = (owed - self.frames.min(owed)) as usize;
        if missing > 0 {
            self.buffer.resize(self.next + (missing - 1) * self.hop + self.size, 0.0);
            for start in (self.next..).step_by(self.hop).take(missing) {
                each(&self.buffer[start..start + self.size]);
            }
            self.frames = owed;
        }
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
            for part in samples.chunks(block) {
                framer.push(part, |w| windows.push(w.to_vec()));
            }
            framer.finish(|w| windows.push(w.to_vec()));
            windows
        };
        let whole = cut(1000);
        assert_eq!(whole.len(), 40);
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
        framer.push(&[], |_| panic!("a window out of nothing"));
        framer.finish(|_| panic!("a window out of nothing"));
    }
}
