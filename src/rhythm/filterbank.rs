//! Triangular filters spaced as pitch is heard: from bins of a spectrum to a few dozen bands.

/// Where a filterbank's bands lie, in bins of the spectrum that they are summed from.
#[derive(Debug, Clone)]
pub(crate) struct Filterbank {
    /// Centre of each band, in bins (not whole), ascending.
    centres: Vec<f64>,
    filters: Vec<Filter>,
}

#[derive(Debug, Clone)]
struct Filter {
    first_bin: usize,
    weights: Vec<f32>,
}

impl Filterbank {
    /// Bands from `low_hz` to `high_hz`: a semitone apart up to `fine_up_to_hz` and a whole tone apart
    /// above, but never closer than one bin of `bin_hz`, because a spectrum cannot tell more apart.
    pub(crate) fn new(bin_hz: f64, low_hz: f64, fine_up_to_hz: f64, high_hz: f64) -> Filterbank {
        let semitone = 2f64.powf(1.0 / 12.0);
        let next = |bin: f64| {
            let step = if bin * bin_hz < fine_up_to_hz { semitone } else { semitone * semitone };
            (bin * step).max(bin + 1.0)
        };
        let mut edges = vec![(low_hz / bin_hz).round().max(2.0)];
        while let Some(&last) = edges.last() {
            edges.push(next(last));
            if last * bin_hz > high_hz {
                break;
            }
        }
        let centres: Vec<f64> = edges[..edges.len() - 2].to_vec();
        let filters = (0..centres.len())
            .map(|band| {
                let below = if band == 0 { edges[0] - 1.0 } else { edges[band - 1] };
                Filter::triangle(below, edges[band], edges[band + 1])
            })
            .collect();
        Filterbank { centres, filters }
    }

    /// Number of bands.
    pub(crate) fn len(&self) -> usize {
        self.filters.len()
    }

    /// Number of bins that bands are summed from, from bin 0 up.
    pub(crate) fn bins(&self) -> usize {
        self.filters.iter().map(|filter| filter.first_bin + filter.weights.len()).max().unwrap_or(0)
    }

    /// Centre of each band in hertz.
    pub(crate) fn centres_hz(&self, bin_hz: f64) -> Vec<f32> {
        self.centres.iter().map(|&bin| (bin * bin_hz) as f32).collect()
    }

    /// Sums a power spectrum into bands. `bands` has [`Filterbank::len`] entries.
    #[inline(always)]
    pub(crate) fn apply(&self, power: &[f32], bands: &mut [f32]) {
        for (band, filter) in bands.iter_mut().zip(&self.filters) {
            let bins = power.get(filter.first_bin..).unwrap_or_default();
            // Four sums side by side, so that the compiler may use vector instructions.
            let mut sums = [0f32; 4];
            let (mut bin, mut weight) = (bins.chunks_exact(4), filter.weights.chunks_exact(4));
            for (p, w) in (&mut bin).zip(&mut weight) {
                for lane in 0..4 {
                    sums[lane] += p[lane] * w[lane];
                }
            }
            *band = sums.iter().sum();
        }
    }
}

impl Filter {
    fn triangle(below: f64, centre: f64, above: f64) -> Filter {
        let first = below.floor().max(0.0) as usize + 1;
        let last = (above.ceil() as usize).max(first + 1);
        let mut weights: Vec<f32> = (first..last)
            .map(|bin| {
                let bin = bin as f64;
                let side = if bin <= centre { centre - below } else { above - centre };
                (1.0 - (bin - centre).abs() / side).max(0.0) as f32
            })
            .collect();
        // Whole groups of four let `apply` go without a remainder.
        weights.resize(weights.len().next_multiple_of(4), 0.0);
        Filter { first_bin: first, weights }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_bin_between_the_ends_counts_once() {
        let bin_hz = 22_050.0 / 2048.0;
        let bank = Filterbank::new(bin_hz, 30.0, 4000.0, 10_000.0);
        assert!(bank.len() <= 96, "{} bands", bank.len());
        let (first, last) = (bank.centres[0] as usize, bank.centres[bank.len() - 1] as usize);
        for bin in first..=last {
            let mut power = vec![0.0; 1025];
            power[bin] = 1.0;
            let mut bands = vec![0.0; bank.len()];
            bank.apply(&power, &mut bands);
            let sum: f32 = bands.iter().sum();
            assert!((sum - 1.0).abs() < 1e-5, "bin {bin} counts {sum}");
        }
    }
}
