//! Colours, and how far they stand apart.
//!
//! The colours are those of Okabe & Ito (2008), *Color Universal Design*, which stay apart for
//! colour-blind readers. Nothing is said by colour alone.

/// A colour: red, green and blue, 0 to 255 (sRGB).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Ink(pub u8, pub u8, pub u8);

pub(crate) const BLACK: Ink = Ink(0, 0, 0);
pub(crate) const ORANGE: Ink = Ink(230, 159, 0);
pub(crate) const SKY: Ink = Ink(86, 180, 233);
pub(crate) const GREEN: Ink = Ink(0, 158, 115);
pub(crate) const YELLOW: Ink = Ink(240, 228, 66);
pub(crate) const BLUE: Ink = Ink(0, 114, 178);
/// Kept for what does not meet.
pub(crate) const VERMILLION: Ink = Ink(213, 94, 0);
pub(crate) const PURPLE: Ink = Ink(204, 121, 167);

pub(crate) const WHITE: Ink = Ink(255, 255, 255);
/// Behind every second eight, and behind what is not danced.
pub(crate) const PALE: Ink = Ink(232, 232, 232);
/// Text that stands back: 7:1 on white.
pub(crate) const GREY: Ink = Ink(84, 84, 84);

/// The colours of parts, in the order in which they are given out.
pub(crate) const PART_INKS: [Ink; 6] = [SKY, ORANGE, GREEN, YELLOW, PURPLE, BLUE];

impl Ink {
    /// The colour thinned with white: `share` of it is left, 0 to 1.
    pub(crate) fn thinned(self, share: f64) -> Ink {
        let mix = |c: u8| (255.0 - (255.0 - f64::from(c)) * share).round() as u8;
        Ink(mix(self.0), mix(self.1), mix(self.2))
    }

    /// Relative luminance, 0 to 1 (WCAG 2.2, definition of the term).
    #[cfg(test)]
    fn luminance(self) -> f64 {
        let linear = |c: u8| {
            let c = f64::from(c) / 255.0;
            if c <= 0.04045 { c / 12.92 } else { ((c + 0.055) / 1.055).powf(2.4) }
        };
        0.2126 * linear(self.0) + 0.7152 * linear(self.1) + 0.0722 * linear(self.2)
    }

    /// Contrast ratio, 1 to 21 (WCAG 2.2, definition of the term).
    #[cfg(test)]
    pub(crate) fn contrast(self, other: Ink) -> f64 {
        let (a, b) = (self.luminance(), other.luminance());
        (a.max(b) + 0.05) / (a.min(b) + 0.05)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn contrast_is_that_of_wcag() {
        // WCAG 2.2: black on white is 21:1, a colour on itself 1:1. #767676 on white is the lightest
        // grey that reaches 4.5:1 (4.54), a value known from the guideline's techniques (G18).
        assert!((BLACK.contrast(WHITE) - 21.0).abs() < 1e-9);
        assert!((ORANGE.contrast(ORANGE) - 1.0).abs() < 1e-9);
        assert!((Ink(0x76, 0x76, 0x76).contrast(WHITE) - 4.54).abs() < 0.01);
        assert!(Ink(0x77, 0x77, 0x77).contrast(WHITE) < 4.5);
    }

    #[test]
    fn thinning_goes_from_white_to_the_full_colour() {
        assert_eq!(BLUE.thinned(1.0), BLUE);
        assert_eq!(BLUE.thinned(0.0), WHITE);
    }
}
