//! The moves that map a tile's endless block repeat onto itself, found by comparing every pixel: the truth about lattices.

use burler::tile::Raster;

/// All moves (right, down), each less than the tile's sides, the move by nothing among them.
pub struct Moves {
    pub width: i64,
    pub height: i64,
    pub moves: Vec<(i64, i64)>,
}

impl Moves {
    pub fn of(tile: &Raster) -> Self {
        let (width, height) = (tile.width() as usize, tile.height() as usize);
        let rows: Vec<Vec<u32>> = (0..height as u32)
            .map(|y| tile.row(y).chunks_exact(4).map(|p| u32::from_le_bytes([p[0], p[1], p[2], p[3]])).collect())
            .collect();
        // The row that changes most often has the fewest places where it can come again.
        let changes = |row: &Vec<u32>| row.windows(2).filter(|pair| pair[0] != pair[1]).count();
        let probe = (0..height).max_by_key(|y| changes(&rows[*y])).unwrap_or(0);
        let mut moves = Vec::new();
        // Plain color and straight stripes come again after every pixel along an axis.
        let one_right = rows.iter().all(|row| row.iter().all(|pixel| *pixel == row[0]));
        let one_down = rows.iter().all(|row| row == &rows[0]);
        if one_right || one_down {
            let one = if one_right { (1, 0) } else { (0, 1) };
            return Self { width: width as i64, height: height as i64, moves: vec![(0, 0), one] };
        }
        for down in 0..height {
            for right in places(&rows[probe], &rows[(probe + down) % height]) {
                let comes_again = (0..height).all(|y| {
                    let other = &rows[(y + down) % height];
                    rows[y][..width - right] == other[right..] && rows[y][width - right..] == other[..right]
                });
                if comes_again {
                    moves.push((right as i64, down as i64));
                }
            }
        }
        Self { width: width as i64, height: height as i64, moves }
    }

    /// How often the smallest repeat fits into the tile; 1 when the tile is its own smallest repeat.
    pub fn per_tile(&self) -> usize {
        self.moves.len()
    }

    /// Whether there is a smallest repeat of some size both ways: stripes have none along themselves.
    pub fn discrete(&self) -> bool {
        let nearest = |at: i64, side: i64| at.min(side - at);
        self.moves.iter().skip(1).all(|(right, down)| {
            let (right, down) = (nearest(*right, self.width), nearest(*down, self.height));
            right * right + down * down >= 36
        })
    }

    /// Whether two moves span exactly this lattice, neither more nor less.
    pub fn spanned_by(&self, a: [i64; 2], b: [i64; 2]) -> bool {
        let is_move = |v: [i64; 2]| self.moves.contains(&(v[0].rem_euclid(self.width), v[1].rem_euclid(self.height)));
        let area = (a[0] * b[1] - a[1] * b[0]).abs();
        is_move(a) && is_move(b) && area * self.moves.len() as i64 == self.width * self.height
    }
}

/// Whether a move maps a tile onto itself but for rounding: fewer than one pixel of a hundred differs by more than two
/// levels.
pub fn nearly(tile: &Raster, by: [i64; 2]) -> bool {
    let (mut differ, mut of) = (0, 0);
    for y in 0..i64::from(tile.height()) {
        for x in 0..i64::from(tile.width()) {
            let (own, other) = (tile.wrapped(x, y), tile.wrapped(x + by[0], y + by[1]));
            of += 1;
            differ += u64::from(own.iter().zip(other).any(|(a, b)| a.abs_diff(b) > 2));
        }
    }
    differ * 100 < of
}

/// Where a row begins in another, around its end (Knuth, Morris and Pratt, SIAM J. Comput. 6(2), 1977).
fn places(row: &[u32], other: &[u32]) -> Vec<usize> {
    let length = row.len();
    let mut border = vec![0; length];
    for at in 1..length {
        let mut matched = border[at - 1];
        while matched > 0 && row[at] != row[matched] {
            matched = border[matched - 1];
        }
        border[at] = matched + usize::from(row[at] == row[matched]);
    }
    let (mut places, mut matched) = (Vec::new(), 0);
    for at in 0..2 * length - 1 {
        let pixel = other[at % length];
        while matched > 0 && (matched == length || row[matched] != pixel) {
            matched = border[matched - 1];
        }
        matched += usize::from(row[matched] == pixel);
        if matched == length {
            places.push(at + 1 - length);
        }
    }
    places
}
