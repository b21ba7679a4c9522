//! Where counting starts.
//!
//! Before the first full bar there may be a pickup, sticks, talk or hiss, and beats are found in those too. Each
//! beat left out has its odds. After the last chord beats may be found for as long as it rings; counting goes on
//! to the last beat: to lose a count that is danced is worse than to have a few too many.

use super::network::SORTS;

/// Log odds that counting starts on each beat, out of the odds that a phrase starts there and the log probabilities
/// of the sorts; negative infinity in the song's second half.
pub fn first_odds(starts: &[f64], sorts: &[[f32; SORTS]]) -> Vec<f64> {
    /// Short recordings may start anywhere.
    const ANYWHERE: usize = 64;
    /// Neighbouring beats are heard from the same sounds: each says half of what it would say alone.
    const EACH: f64 = 0.5;
    /// No single beat says more.
    const MOST: f64 = 3.0;
    let n = starts.len().min(sorts.len());
    let mut firsts = vec![f64::NEG_INFINITY; n];
    let mut left_out = 0.0;
    for beat in 0..n.min((n / 2).max(ANYWHERE)) {
        firsts[beat] = starts[beat] + left_out;
        let not_counted = f64::from(sorts[beat][0]).min(-1e-6);
        left_out += EACH * (not_counted - (-not_counted.exp()).ln_1p()).clamp(-MOST, MOST);
    }
    firsts
}

#[cfg(test)]
mod tests {
    use super::*;

    /// First odds where nothing but the sorts speaks.
    fn firsts(not_counted: &[f32]) -> Vec<f64> {
        let sorts = not_counted.iter().map(|p| {
            let mut sorts = [((1.0 - p) / (SORTS - 1) as f32).ln(); SORTS];
            sorts[0] = p.ln();
            sorts
        });
        first_odds(&vec![0.0; not_counted.len()], &sorts.collect::<Vec<_>>())
    }

    #[test]
    fn counting_starts_after_what_is_not_counted() {
        let mut shares = vec![0.98; 8];
        shares.extend([0.01; 100]);
        let firsts = firsts(&shares);
        let best = (0..firsts.len()).max_by(|&a, &b| firsts[a].total_cmp(&firsts[b]));
        assert_eq!(best, Some(8));
    }

    #[test]
    fn counting_does_not_start_late() {
        assert_eq!(firsts(&[0.5; 200])[100], f64::NEG_INFINITY);
    }
}
