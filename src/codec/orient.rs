//! Turning and mirroring stored pixels into the view their orientation tag asks for (TIFF 6.0, tag 274; CIPA DC-008).
//!
//! Takes rows of four samples a pixel and a number from 1 to 8. Knows nothing of files.

/// The sides of the view of a stored picture.
pub(crate) fn shown(width: u32, height: u32, orientation: u8) -> (u32, u32) {
    if orientation >= 5 { (height, width) } else { (width, height) }
}

/// Brings pixels into the view; `width` is the stored one, in pixels, and `samples` holds whole rows.
///
/// The number names where the stored first row and first column are shown: 1 top left, 2 top right, 3 bottom right,
/// 4 bottom left, 5 left top, 6 right top, 7 right bottom, 8 left bottom.
pub(crate) fn apply<T: Copy>(mut samples: Vec<T>, width: u32, orientation: u8) -> Vec<T> {
    let stride = width as usize * 4;
    match orientation {
        2 => samples.chunks_exact_mut(stride).for_each(reverse_pixels),
        3 => reverse_pixels(&mut samples),
        4 => {
            let rows = samples.len() / stride;
            for y in 0..rows / 2 {
                let (head, tail) = samples.split_at_mut((rows - 1 - y) * stride);
                head[y * stride..][..stride].swap_with_slice(&mut tail[..stride]);
            }
        }
        5..=8 => return turned(&samples, width as usize, orientation),
        _ => {}
    }
    samples
}

fn reverse_pixels<T: Copy>(samples: &mut [T]) {
    samples.reverse();
    samples.chunks_exact_mut(4).for_each(<[T]>::reverse);
}

/// The views in which stored columns become rows.
fn turned<T: Copy>(samples: &[T], width: usize, orientation: u8) -> Vec<T> {
    let height = samples.len() / 4 / width.max(1);
    let mut view = Vec::with_capacity(samples.len());
    for row in 0..width {
        for column in 0..height {
            let (x, y) = match orientation {
                5 => (row, column),
                6 => (row, height - 1 - column),
                7 => (width - 1 - row, height - 1 - column),
                _ => (width - 1 - row, column),
            };
            view.extend_from_slice(&samples[(y * width + x) * 4..][..4]);
        }
    }
    view
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The eight views of the two rows `a b c / d e f`.
    #[test]
    fn shows_all_eight_views() {
        let stored: Vec<u8> = b"abcdef".iter().flat_map(|letter| [*letter, 0, 0, 1]).collect();
        let views = ["abcdef", "cbafed", "fedcba", "defabc", "adbecf", "daebfc", "fcebda", "cfbead"];
        for (orientation, view) in (1..).zip(views) {
            let shown: String =
                apply(stored.clone(), 3, orientation).chunks(4).map(|pixel| char::from(pixel[0])).collect();
            assert_eq!(shown, view, "orientation {orientation}");
        }
    }
}
