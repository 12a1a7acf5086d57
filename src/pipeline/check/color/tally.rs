//! A tally of colors: for each one how many pixels it has, how many of them lie in its own area, and where it is widest.
//!
//! Takes the spans of a row and of the row above. Holds a bounded number of colors, so that noise costs no memory; what
//! finds no room is counted as lost.

use super::spans::Span;

/// The most colors told apart. Antialiased art of a dozen flat colors stays below; a photograph fills it in a few rows.
pub const MOST: usize = 1 << 14;

/// Squares of 2 x 2 from which a color has an area of its own.
const SQUARES: u64 = 4;

const SLOTS: usize = 2 * MOST;

/// What is known of one color.
#[derive(Clone, Copy, Debug)]
pub struct Entry {
    /// See [`super::spans::key`].
    pub color: u32,
    /// Its pixels.
    pub pixels: u64,
    /// Squares of 2 x 2 pixels that it fills: what smooths an edge is one pixel thick and fills none.
    pub squares: u64,
    /// Its longest span, and the row of that.
    pub longest: (Span, u32),
}

impl Entry {
    /// Whether the color fills an area of its own: squares enough, and not a few by chance among many pixels.
    pub fn fills(&self) -> bool {
        self.squares >= SQUARES && self.squares * 4 >= self.pixels
    }
}

/// The tally.
pub struct Tally {
    slots: Vec<u16>,
    /// In the order of first sight.
    pub entries: Vec<Entry>,
    /// Pixels of colors that found no room.
    pub lost: u64,
    /// All pixels.
    pub pixels: u64,
    /// All spans.
    pub spans: u64,
}

impl Tally {
    /// An empty tally.
    pub fn new() -> Self {
        Self { slots: vec![0; SLOTS], entries: Vec::new(), lost: 0, pixels: 0, spans: 0 }
    }

    /// The slot of a color: its own, or the empty one where it would go.
    fn slot(&self, color: u32) -> usize {
        // Fibonacci hashing (Knuth, The Art of Computer Programming 3, 6.4), then the next free one.
        let mut slot = (color.wrapping_mul(0x9E37_79B1) >> 17) as usize % SLOTS;
        loop {
            match self.slots[slot].checked_sub(1) {
                Some(entry) if self.entries[usize::from(entry)].color != color => slot = (slot + 1) % SLOTS,
                _ => return slot,
            }
        }
    }

    /// The number of a color, if it was seen.
    pub fn find(&self, color: u32) -> Option<usize> {
        self.slots[self.slot(color)].checked_sub(1).map(usize::from)
    }

    fn entry(&mut self, span: Span, y: u32) -> Option<&mut Entry> {
        let slot = self.slot(span.color);
        if self.slots[slot] == 0 {
            if self.entries.len() == MOST {
                return None;
            }
            self.entries.push(Entry { color: span.color, pixels: 0, squares: 0, longest: (span, y) });
            self.slots[slot] = self.entries.len() as u16;
        }
        self.entries.get_mut(usize::from(self.slots[slot]) - 1)
    }

    /// Takes in row `y`, given the spans of the row above or none; `odd` is told each span whose color fills no area so far.
    pub fn row(&mut self, y: u32, row: &[Span], above: &[Span], mut odd: impl FnMut(Span)) {
        let mut above = above.iter().peekable();
        for &span in row {
            let mut squares = 0;
            while let Some(upper) = above.peek() {
                if upper.color == span.color {
                    let shared = upper.end.min(span.end).saturating_sub(upper.start.max(span.start));
                    squares += u64::from(shared.saturating_sub(1));
                }
                if upper.end > span.end {
                    break;
                }
                above.next();
            }
            self.pixels += span.count();
            let Some(entry) = self.entry(span, y) else {
                self.lost += span.count();
                odd(span);
                continue;
            };
            entry.pixels += span.count();
            entry.squares += squares;
            if !entry.fills() {
                odd(span);
            }
            if span.count() > entry.longest.0.count() {
                entry.longest = (span, y);
            }
        }
        self.spans += row.len() as u64;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn squares_are_counted_where_rows_share_a_color() {
        let span = |start, end, color| Span { start, end, color };
        let mut tally = Tally::new();
        let first = [span(0, 4, 7), span(4, 5, 8), span(5, 9, 7)];
        tally.row(0, &first, &[], |_| ());
        tally.row(1, &[span(0, 9, 7)], &first, |_| ());
        let seven = tally.entries[tally.find(7).unwrap()];
        assert_eq!((seven.pixels, seven.squares, seven.longest.1), (17, 6, 1));
        let eight = tally.entries[tally.find(8).unwrap()];
        assert_eq!((eight.pixels, eight.squares), (1, 0));
        assert_eq!(tally.find(9), None);
    }

    #[test]
    fn colors_beyond_the_room_are_lost_not_mixed_up() {
        let mut tally = Tally::new();
        let row: Vec<Span> =
            (0..MOST as u32 + 10).map(|i| Span { start: i, end: i + 1, color: i.wrapping_mul(977) }).collect();
        tally.row(0, &row, &[], |_| ());
        assert_eq!((tally.entries.len(), tally.lost), (MOST, 10));
        assert!(tally.entries.iter().all(|entry| entry.pixels == 1));
    }
}
