//! Source-over, with straight and premultiplied pixels as two types that cannot be mixed.
//!
//! Takes pixels of 8 or 16 bits, yields pixels of the same depth, in integers only. Knows no images.
//! Sources: T. Porter and T. Duff, "Compositing digital images", SIGGRAPH 1984; W3C Compositing and Blending Level 1, 5.1.

/// A stored sample: 8 or 16 bits, of which the largest value means 1.
pub trait Sample: Copy + Eq + Ord + std::fmt::Debug + Into<u32> + Into<u64> + Into<f64> {
    /// The largest value, as a number.
    const MOST: u32;
    /// The largest value, as a sample: full color, full alpha.
    const FULL: Self;

    /// The sample of this value; what lies above the largest becomes the largest.
    fn clamped(value: u64) -> Self;
}

impl Sample for u8 {
    const MOST: u32 = 255;
    const FULL: Self = Self::MAX;

    fn clamped(value: u64) -> Self {
        Self::try_from(value).unwrap_or(Self::MAX)
    }
}

impl Sample for u16 {
    const MOST: u32 = 65535;
    const FULL: Self = Self::MAX;

    fn clamped(value: u64) -> Self {
        Self::try_from(value).unwrap_or(Self::MAX)
    }
}

/// `a * b / MOST`, rounded to the nearest; exact, and without ties because the divisor is odd.
#[must_use]
pub fn times<T: Sample>(a: T, b: T) -> T {
    let most = u64::from(T::MOST);
    T::clamped((Into::<u64>::into(a) * Into::<u64>::into(b) + most / 2) / most)
}

/// Color as the designer picked it, and beside it how much of the pixel it covers: how PNG stores pixels.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Straight<T> {
    /// Red, green, blue.
    pub color: [T; 3],
    /// Coverage.
    pub alpha: T,
}

/// Color already multiplied by alpha: the form in which pixels may be added and averaged.
///
/// Guarantees that no color sample is above alpha, because only [`Straight::premultiply`] and [`over`] make one.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Premultiplied<T> {
    color: [T; 3],
    alpha: T,
}

impl<T: Sample> Straight<T> {
    /// Multiplies the color by alpha, rounded to the nearest. Low alpha keeps few levels of color.
    #[must_use]
    pub fn premultiply(self) -> Premultiplied<T> {
        Premultiplied { color: self.color.map(|sample| times(sample, self.alpha)), alpha: self.alpha }
    }
}

impl<T: Sample> Premultiplied<T> {
    /// Divides the color by alpha, halves rounded up; under no alpha there is no color, and black stands for it.
    #[must_use]
    pub fn unpremultiply(self) -> Straight<T> {
        let alpha: u64 = self.alpha.into();
        let color = self.color.map(|sample| {
            let whole = 2 * u64::from(T::MOST) * Into::<u64>::into(sample);
            T::clamped((whole + alpha).checked_div(2 * alpha).unwrap_or(0))
        });
        Straight { color, alpha: self.alpha }
    }

    /// The coverage.
    #[must_use]
    pub fn alpha(self) -> T {
        self.alpha
    }
}

/// `top` laid over `under`: c = ct + cu (1 - at), for color and alpha alike (Porter and Duff 1984, table 1, "A over B").
#[must_use]
pub fn over<T: Sample>(top: Premultiplied<T>, under: Premultiplied<T>) -> Premultiplied<T> {
    let rest = T::clamped(u64::from(T::MOST) - Into::<u64>::into(top.alpha));
    let join = |top: T, under: T| T::clamped(Into::<u64>::into(top) + Into::<u64>::into(times(under, rest)));
    let [[r, g, b], [s, t, u]] = [top.color, under.color];
    Premultiplied { color: [join(r, s), join(g, t), join(b, u)], alpha: join(top.alpha, under.alpha) }
}

/// The coverage of `layers` copies of one layer of coverage `alpha` (0 to 1) laid over itself: 1 - (1 - a)^n.
///
/// The straight color does not move, and the limit is 1: that is why mending may set alpha to full and keep the color.
#[must_use]
pub fn stacked(alpha: f64, layers: u32) -> f64 {
    1.0 - (1.0 - alpha).powi(i32::try_from(layers).unwrap_or(i32::MAX))
}
