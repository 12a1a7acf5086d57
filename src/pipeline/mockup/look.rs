//! What of a picture is shown where there is no room for all of it, a letter on a phone: written into the picture itself as a
//! line of text.
//!
//! Takes and yields plain data; knows nothing of the letter.

use crate::codec;
use crate::finding::Area;
use crate::pipeline::mockup::canvas::Box4;

/// The keyword under which a picture carries the line.
const LOOK: &str = "burler-look";

/// The most parts that are read back.
const MOST_PARTS: usize = 4;

/// Parts of a picture, one below the other or side by side, in pixels of the picture.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Look {
    /// Whether they are set side by side.
    pub beside: bool,
    /// The parts, in their order.
    pub parts: Vec<Area>,
}

impl Look {
    /// Parts of a canvas of these sides; what lies outside is cut off.
    pub(super) fn at(beside: bool, parts: &[Box4], [width, height]: [u32; 2]) -> Self {
        let canvas = Box4::new(0, 0, width.into(), height.into());
        let area = |part: Box4| Area {
            x: part.left as u32,
            y: part.top as u32,
            width: part.width() as u32,
            height: part.height() as u32,
        };
        Self { beside, parts: parts.iter().filter_map(|part| part.within(canvas)).map(area).collect() }
    }

    /// The picture with the line in it; as it was when it takes none.
    pub(super) fn written_into(&self, picture: Vec<u8>) -> Vec<u8> {
        let parts = self.parts.iter().map(|part| format!(" {},{},{},{}", part.x, part.y, part.width, part.height));
        let line = format!("{}{}", if self.beside { "beside" } else { "below" }, parts.collect::<String>());
        codec::noted(&picture, LOOK, &line).unwrap_or(picture)
    }

    /// The line of a picture; `None` when it has none, or one that is not understood.
    #[must_use]
    pub fn of(picture: &[u8]) -> Option<Self> {
        let mut words = codec::note(picture, LOOK)?.split(' ');
        let beside = match words.next()? {
            "beside" => true,
            "below" => false,
            _ => return None,
        };
        let area = |word: &str| {
            let mut numbers = word.split(',').map(|number| number.parse::<u32>().ok());
            let [x, y, width, height] = [numbers.next()??, numbers.next()??, numbers.next()??, numbers.next()??];
            (numbers.next().is_none() && width > 0 && height > 0).then_some(Area { x, y, width, height })
        };
        let parts = words.map(area).collect::<Option<Vec<_>>>()?;
        (1..=MOST_PARTS).contains(&parts.len()).then_some(Self { beside, parts })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::codec::picture::encode_png;
    use crate::tile::Raster;

    fn bare() -> Vec<u8> {
        encode_png(&Raster::new(2, 2, vec![9; 16]).unwrap(), None).unwrap()
    }

    #[test]
    fn what_is_written_is_read_back_inside_the_canvas() {
        let look = Look::at(false, &[Box4::new(-5, 2, 20, 9), Box4::new(50, 50, 9, 9)], [10, 10]);
        assert_eq!(look.parts, [Area { x: 0, y: 2, width: 10, height: 8 }]);
        assert_eq!(Look::of(&look.written_into(bare())), Some(look));
        let look = Look { beside: true, parts: vec![Area::from([1, 2, 3, 4]), Area::from([5, 6, 7, 8])] };
        assert_eq!(Look::of(&look.written_into(bare())), Some(look));
    }

    #[test]
    fn other_lines_are_no_look() {
        assert_eq!(Look::of(&bare()), None);
        for line in ["", "below", "above 1,2,3,4", "below 1,2,3", "below 1,2,3,4,5", "below 1,2,0,4", "below 1,2,3,-4"]
        {
            assert_eq!(Look::of(&codec::noted(&bare(), LOOK, line).unwrap()), None, "{line}");
        }
        let many = format!("below{}", " 1,1,1,1".repeat(9));
        assert_eq!(Look::of(&codec::noted(&bare(), LOOK, &many).unwrap()), None);
    }
}
