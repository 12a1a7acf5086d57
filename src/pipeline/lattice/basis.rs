//! Arithmetic of plane lattices: two moves, what they span, and the shortest two that span the same.
//!
//! Takes and yields moves in pixels, right and down. Knows no pixels.

/// A move, pixels right and down.
pub type Move = [i64; 2];

/// The signed area of the parallelogram of two moves, in pixels.
#[must_use]
pub fn area(a: Move, b: Move) -> i64 {
    a[0] * b[1] - a[1] * b[0]
}

/// The square of a move's length.
#[must_use]
pub fn square(t: Move) -> i64 {
    t[0] * t[0] + t[1] * t[1]
}

/// The one of a move and its reverse that goes right, or straight down.
#[must_use]
pub fn forward(t: Move) -> Move {
    if t[0] > 0 || (t[0] == 0 && t[1] > 0) { t } else { [-t[0], -t[1]] }
}

/// The order in which moves are preferred: short ones first; of equal length the most level one, and the falling before
/// the rising.
#[must_use]
pub fn rank(t: Move) -> (i64, i64, bool) {
    (square(t), t[1].abs(), t[1] < 0)
}

/// Whether `t` is a whole combination of two independent moves.
#[must_use]
pub fn holds([a, b]: [Move; 2], t: Move) -> bool {
    let whole = area(a, b);
    whole != 0 && area(t, b) % whole == 0 && area(a, t) % whole == 0
}

/// The two shortest independent moves that span the same lattice as two independent ones, both forward, in order of
/// preference (Lagrange's reduction; Cohen, A Course in Computational Algebraic Number Theory, algorithm 1.3.14).
#[must_use]
pub fn shortest([mut a, mut b]: [Move; 2]) -> [Move; 2] {
    loop {
        if square(b) < square(a) {
            (a, b) = (b, a);
        }
        let dot = a[0] * b[0] + a[1] * b[1];
        let length = square(a).max(1);
        // The nearest whole multiple of `a` that comes off `b`.
        let times = (2 * dot + length).div_euclid(2 * length);
        if times == 0 {
            break;
        }
        let shorter = [b[0] - times * a[0], b[1] - times * a[1]];
        if square(shorter) >= square(b) {
            break;
        }
        b = shorter;
    }
    // Ties: of the moves that are as short as these two, the preferred ones.
    let mut short: Vec<Move> = [a, b, [a[0] + b[0], a[1] + b[1]], [a[0] - b[0], a[1] - b[1]]].map(forward).into();
    short.sort_by_key(|t| rank(*t));
    let first = short[0];
    let second = short.into_iter().find(|t| area(first, *t) != 0).unwrap_or(b);
    [first, second]
}

/// The greatest common divisor, at least 1.
#[must_use]
pub fn gcd(a: i64, b: i64) -> i64 {
    if b == 0 { a.abs().max(1) } else { gcd(b, a % b) }
}

/// The lattice spanned by `moves`, as two independent moves; `None` when they do not span the plane.
#[must_use]
pub fn spanned(moves: &[Move]) -> Option<[Move; 2]> {
    // The rows [p, q] and [0, r] of the Hermite normal form, grown move by move.
    let (mut row, mut r) = ([0i64, 0i64], 0i64);
    for t in moves {
        let mut t = *t;
        while t[0] != 0 {
            let times = row[0].div_euclid(t[0]);
            row = [row[0] - times * t[0], row[1] - times * t[1]];
            (row, t) = (t, row);
        }
        let mut rest = t[1];
        while rest != 0 {
            (r, rest) = (rest, r % rest);
        }
    }
    (row[0] != 0 && r != 0).then(|| shortest([row, [0, r]]))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_shortest_moves_are_found_from_any_pair_that_spans_the_same() {
        let half_drop = [[800, 800], [800, -800]];
        assert_eq!(shortest([[1600, 0], [800, 800]]), half_drop);
        assert_eq!(
            shortest([[800 * 7 + 800 * 3, 800 * 7 - 800 * 3], [800 * 9 + 800 * 4, 800 * 9 - 800 * 4]]),
            half_drop
        );
        assert_eq!(shortest([[0, 12], [12, 0]]), [[12, 0], [0, 12]], "the level one first");
        assert_eq!(shortest([[-12, 0], [24, -12]]), [[12, 0], [0, 12]], "both go forward");
    }

    #[test]
    fn what_is_spanned_holds_each_move_and_nothing_between() {
        let spanned = spanned(&[[6, 3], [12, 0], [0, 12]]).unwrap();
        assert_eq!(area(spanned[0], spanned[1]).abs(), 36, "12 x 12 by the 4 multiples of (6, 3)");
        assert!(holds(spanned, [6, 3]) && holds(spanned, [0, 6]) && !holds(spanned, [3, 0]) && !holds(spanned, [6, 0]));
        assert_eq!(super::spanned(&[[3, 3], [6, 6]]), None, "one direction spans no plane");
    }
}
