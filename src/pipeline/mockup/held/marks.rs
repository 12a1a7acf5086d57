//! Where a finding shows on the endless plane: its boxes on every copy in view, gathered into places.
//!
//! Takes findings and the part of the plane in view, yields rectangles on the plane. Knows no scale and no drawing.

use crate::finding::{Area, Finding};
use crate::pipeline::mockup::canvas::Box4;
use crate::pipeline::mockup::plane::Plane;

/// One place of a finding: boxes that lie close together.
#[derive(Clone, Debug, PartialEq)]
pub struct Place {
    /// The box as the finding has it: the largest of the place.
    pub area: Area,
    /// All boxes of the place, on the plane and inside the view.
    pub boxes: Vec<Box4>,
    /// What to look at: the largest box and those that touch it.
    pub spot: Box4,
}

/// The part of the plane to show: the tile, moved on its repeat when `joints` are in question so that its edges meet inside.
///
/// Straight joints come to lie in the middle. A drop cuts its level joint in two, a brick its upright one: they come to lie
/// as far from the rims as they can.
#[must_use]
pub fn view(plane: Plane<'_>, joints: bool) -> Box4 {
    let [width, height] = plane.period();
    let [beside, stacked] = plane.repeats();
    let moved = [plane.moved(0, 1)[0], plane.moved(1, 0)[1]];
    let left = if joints && beside { (width + moved[0]) / 2 } else { 0 };
    let top = if joints && stacked { (height + moved[1]) / 2 } else { 0 };
    Box4::new(left, top, width, height)
}

/// The places of a finding in view, largest first; boxes less than a fortieth of the longer side apart are one place.
#[must_use]
pub fn places(finding: &Finding, plane: Plane<'_>, view: Box4) -> Vec<Place> {
    let near = (view.width().max(view.height()) / 40).max(2);
    let mut found: Vec<Vec<(Area, Box4)>> = Vec::new();
    for &area in &finding.boxes {
        for seen in copies(area, plane, view) {
            let close = |other: &(Area, Box4)| other.1.grown(near).within(seen).is_some();
            let (mut joined, apart): (Vec<_>, Vec<_>) = found.into_iter().partition(|place| place.iter().any(close));
            found = apart;
            let mut place: Vec<_> = joined.drain(..).flatten().collect();
            place.push((area, seen));
            found.push(place);
        }
    }
    let size = |seen: Box4| seen.width() * seen.height();
    let mut places: Vec<Place> = found
        .into_iter()
        .filter_map(|mut place| {
            place.sort_by_key(|&(_, seen)| (-size(seen), seen.top, seen.left));
            // Of boxes of one size, such as the pieces of a slanted line, the middle one shows most of its neighbors.
            let alike = place.partition_point(|&(_, seen)| size(seen) == size(place[0].1));
            let &(area, largest) = place.get(alike / 2)?;
            let boxes: Vec<Box4> = place.into_iter().map(|(_, seen)| seen).collect();
            let touching = boxes.iter().filter(|seen| seen.grown(2).within(largest).is_some());
            let spot = touching.fold(largest, |all, seen| Box4 {
                left: all.left.min(seen.left),
                top: all.top.min(seen.top),
                right: all.right.max(seen.right),
                bottom: all.bottom.max(seen.bottom),
            });
            Some(Place { area, boxes, spot })
        })
        .collect();
    places.sort_by_key(|place| (-size(place.spot), place.spot.top, place.spot.left));
    places
}

/// A box of the tile on every copy in view, cut to the view.
fn copies(area: Area, plane: Plane<'_>, view: Box4) -> Vec<Box4> {
    let [width, height] = plane.period();
    let repeats = plane.repeats();
    let tile = Box4::new(0, 0, width, height);
    let inside = Box4::new(area.x.into(), area.y.into(), area.width.into(), area.height.into()).within(tile);
    let Some(inside) = inside else { return Vec::new() };
    let range = |from: i64, until: i64, period: i64, repeats: bool| match repeats {
        true => from.div_euclid(period) - 1..=until.div_euclid(period) + 1,
        false => 0..=0,
    };
    let mut seen = Vec::new();
    for row in range(view.top, view.bottom, height, repeats[1]) {
        for column in range(view.left, view.right, width, repeats[0]) {
            let [right, down] = plane.moved(column, row);
            let (left, top) = (inside.left + column * width + right, inside.top + row * height + down);
            seen.extend(Box4::new(left, top, inside.width(), inside.height()).within(view));
        }
    }
    seen
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::finding::Grade;
    use crate::finding::Kind;
    use crate::spec::Repeat;
    use crate::tile::Raster;

    fn finding(boxes: &[[u32; 4]]) -> Finding {
        Finding {
            kind: Kind::JointBreak,
            grade: Grade::Fault,
            silenced: false,
            boxes: boxes.iter().copied().map(Area::from).collect(),
            measure: None,
            says: String::new(),
            remedy: String::new(),
        }
    }

    #[test]
    fn both_sides_of_a_half_drop_joint_meet_in_the_middle() {
        let raster = Raster::new(400, 200, vec![0; 400 * 200 * 4]).unwrap();
        let plane = Plane::new(&raster, Repeat::HalfDrop);
        let view = view(plane, true);
        assert_eq!(view, Box4::new(200, 150, 400, 200));
        // The right edge from 20 to 60 meets the left edge of the lowered copy from 120 to 160.
        let places = places(&finding(&[[398, 20, 2, 40], [0, 120, 2, 40]]), plane, view);
        assert_eq!(places.len(), 1);
        assert_eq!(places[0].spot, Box4::new(398, 220, 4, 40));
    }

    #[test]
    fn boxes_far_apart_are_places_of_their_own_and_a_chain_is_one() {
        let raster = Raster::new(400, 400, vec![0; 400 * 400 * 4]).unwrap();
        let plane = Plane::new(&raster, Repeat::Block);
        let chain: Vec<[u32; 4]> = (0..20).map(|i| [i * 8, i * 8, 8, 8]).collect();
        let mut boxes = vec![[300, 20, 3, 3]];
        boxes.extend(chain.iter().rev().step_by(2).chain(chain.iter().step_by(2)));
        let places = places(&finding(&boxes), plane, view(plane, false));
        assert_eq!(places.iter().map(|place| place.boxes.len()).collect::<Vec<_>>(), [20, 1]);
        assert_eq!(places[1].area, Area::from([300, 20, 3, 3]));
    }

    #[test]
    fn a_box_beyond_the_canvas_is_cut_or_dropped() {
        let raster = Raster::new(10, 10, vec![0; 400]).unwrap();
        let plane = Plane::new(&raster, Repeat::None);
        let places = places(&finding(&[[8, 8, u32::MAX, u32::MAX], [11, 0, 1, 1]]), plane, view(plane, true));
        assert_eq!(places.len(), 1);
        assert_eq!(places[0].spot, Box4::new(8, 8, 2, 2));
    }
}
