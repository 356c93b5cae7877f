//! A move of the stencil as a line that is sailed exactly.

use crate::{
    heading::Heading,
    openings::EVER,
    passage::Piece,
    stencil::{MOVES, offset_of},
    world::World,
};

/// A move from a padded cell as a line in cell widths, the corners that it touches included.
pub(crate) struct MoveLine {
    pieces: [Piece; 8],
    heading: [Heading; 8],
    count: usize,
}

impl MoveLine {
    /// Nothing where a crossed cell never opens.
    pub(crate) fn new(world: &World<'_>, index: usize, number: usize) -> Option<Self> {
        let line = Self::along(world, index, number);
        let flag = |piece: &Piece| world.openings.flags[piece.cell as usize];
        line.pieces().iter().all(|piece| flag(piece) & EVER != 0).then_some(line)
    }

    /// Whatever the cells are.
    #[inline(always)]
    pub(crate) fn along(world: &World<'_>, index: usize, number: usize) -> Self {
        let step = &MOVES[number];
        let mut line =
            Self { pieces: [Piece { cell: 0, km: 0.0 }; 8], heading: [Heading::ANY; 8], count: 0 };
        let middle = step.pieces().len() / 2;
        for (order, &(place, part)) in step.pieces().iter().enumerate() {
            if order == middle {
                for corner in step.corners {
                    // Touched in passing: no length, but it must be open.
                    if offset_of(corner) != (0, 0) {
                        line.push(world, index, corner, 0.0);
                    }
                }
            }
            line.push(world, index, place, part);
        }
        if world.table.sectors > 1 {
            line.heading = [world.heading(step.dcolumn.into(), step.drow.into()); 8];
        }
        line
    }

    fn push(&mut self, world: &World<'_>, index: usize, place: u8, part: f32) {
        let cell = world.padding.own(world.padding.shifted(index, place));
        self.pieces[self.count] = Piece { cell: cell as u32, km: f64::from(part) };
        self.count += 1;
    }

    pub(crate) fn pieces(&self) -> &[Piece] {
        &self.pieces[..self.count]
    }

    pub(crate) fn heading(&self) -> &[Heading] {
        &self.heading[..self.count]
    }

    pub(crate) fn end(&self) -> u32 {
        self.pieces[self.count - 1].cell
    }
}
