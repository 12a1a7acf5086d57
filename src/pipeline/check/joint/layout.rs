//! Layouts: which joints each one needs, and in which of them a tile joins.

use super::line::Axis;
use super::seam::{Seam, Side};
use crate::spec::Repeat;
use crate::tile::Raster;

/// The layouts that cover the plane, in the order of preference.
const PLANE: [Repeat; 5] = [Repeat::Block, Repeat::HalfDrop, Repeat::Brick, Repeat::ThirdDrop, Repeat::QuarterDrop];

/// A layout is more plausible than block only if its violation is below this share of block's.
const CLEARLY_LESS: f64 = 0.5;

/// The divisor by which the copies move along the joint of left and right, and along that of top and bottom; `None` for
/// a joint that the layout does not have.
fn joints_of(repeat: Repeat) -> [Option<u32>; 2] {
    match repeat {
        Repeat::Block => [Some(1), Some(1)],
        Repeat::HalfDrop | Repeat::ThirdDrop | Repeat::QuarterDrop => [repeat.drop_divisor(), Some(1)],
        Repeat::Brick => [Some(1), Some(2)],
        Repeat::Across => [Some(1), None],
        Repeat::Down => [None, Some(1)],
        Repeat::None => [None, None],
    }
}

/// Whether a raster's sides allow a layout: what moves by 1/n needs a length that n divides.
fn allowed(repeat: Repeat, raster: &Raster) -> bool {
    let [right, down] = joints_of(repeat);
    right.is_none_or(|divisor| raster.height().is_multiple_of(divisor))
        && down.is_none_or(|divisor| raster.width().is_multiple_of(divisor))
}

/// All joints of a tile that any layout could need.
pub(super) struct Seams {
    seams: Vec<Seam>,
}

impl Seams {
    /// Judges the joints of every layout that the sides allow.
    pub(super) fn judge(raster: &Raster, left_right: &Side<'_>, top_bottom: &Side<'_>) -> Self {
        let mut seams = Vec::new();
        for repeat in PLANE.into_iter().filter(|repeat| allowed(*repeat, raster)) {
            let [right, down] = joints_of(repeat);
            // Where the straight joints meet nothing hangs on the moved ones.
            let thorough =
                repeat == Repeat::Block || seams.iter().any(|seam: &Seam| seam.divisor == 1 && !seam.standing.passes());
            for (divisor, axis, side) in [(right, Axis::Columns, left_right), (down, Axis::Rows, top_bottom)] {
                if let Some(divisor) = divisor
                    && !seams.iter().any(|seam: &Seam| seam.axis == axis && seam.divisor == divisor)
                {
                    seams.push(side.judge(divisor, thorough));
                }
            }
        }
        let fails =
            |seams: &[Seam], axis| seams.iter().any(|s| s.axis == axis && s.divisor == 1 && !s.standing.passes());
        for at in 0..seams.len() {
            let axis = seams[at].axis;
            if seams[at].divisor > 1 && seams[at].standing.passes() && fails(&seams, axis) {
                seams[at].by_luck = if axis == Axis::Columns { left_right } else { top_bottom }.meets_anyhow();
            }
        }
        Self { seams }
    }

    /// The joints of a layout that were judged.
    pub(super) fn of(&self, repeat: Repeat) -> impl Iterator<Item = &Seam> {
        let [right, down] = joints_of(repeat);
        self.seams.iter().filter(move |seam| {
            let divisor = if seam.axis == Axis::Columns { right } else { down };
            divisor == Some(seam.divisor)
        })
    }

    /// The same, to be told more of.
    pub(super) fn of_mut(&mut self, repeat: Repeat) -> impl Iterator<Item = &mut Seam> {
        let [right, down] = joints_of(repeat);
        self.seams.iter_mut().filter(move |seam| {
            let divisor = if seam.axis == Axis::Columns { right } else { down };
            divisor == Some(seam.divisor)
        })
    }

    /// Every joint, in the order of the layouts that need it.
    pub(super) fn into_all(self) -> Vec<Seam> {
        self.seams
    }

    /// Whether the sides allow a layout and nothing speaks against any of its joints.
    pub(super) fn passes(&self, repeat: Repeat, raster: &Raster) -> bool {
        allowed(repeat, raster) && self.of(repeat).all(|seam| seam.standing.passes())
    }

    /// Whether a tile joins as `repeat` though nobody demanded it: where the straight joint fails, the moved one must
    /// convince.
    fn joins(&self, repeat: Repeat, raster: &Raster) -> bool {
        let straight_fails =
            |axis| self.of(Repeat::Block).any(|straight| straight.axis == axis && !straight.standing.passes());
        self.passes(repeat, raster)
            && self
                .of(repeat)
                .all(|seam| seam.divisor == 1 || !straight_fails(seam.axis) || seam.convinces(seam.axis.lines(raster)))
    }

    /// The layouts a tile joins in: those that cover the plane, the preferred first; where none does, the borders that
    /// repeat one way only.
    pub(super) fn joins_as(&self, raster: &Raster) -> Vec<Repeat> {
        let joins = |repeat: &Repeat| self.joins(*repeat, raster);
        let plane: Vec<Repeat> = PLANE.into_iter().filter(joins).collect();
        if plane.is_empty() { [Repeat::Across, Repeat::Down].into_iter().filter(joins).collect() } else { plane }
    }

    /// The layout that a tile which joins in none was most likely meant for, among those that it fails.
    pub(super) fn most_plausible(&self, raster: &Raster) -> Repeat {
        let violation = |repeat: Repeat| self.of(repeat).map(Seam::violation).fold(0.0, f64::max);
        let best = PLANE
            .into_iter()
            .filter(|repeat| allowed(*repeat, raster) && !self.passes(*repeat, raster))
            .min_by(|a, b| violation(*a).total_cmp(&violation(*b)))
            .unwrap_or(Repeat::Block);
        if violation(best) < CLEARLY_LESS * violation(Repeat::Block) { best } else { Repeat::Block }
    }
}
