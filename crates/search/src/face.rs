//! The grid at one instant as a graph, through petgraph's visitor traits.
//!
//! petgraph's own algorithms run on it: they are what the search is held against.

use dipward_geodesy::Cell;
use petgraph::{
    Directed,
    visit::{
        Data, EdgeRef, GraphBase, GraphProp, IntoEdgeReferences, IntoEdges, IntoNeighbors,
        IntoNodeIdentifiers, IntoNodeReferences, NodeCompactIndexable, NodeCount, NodeIndexable,
        VisitMap, Visitable,
    },
};

use crate::{
    kernel::{Edges, Instant, Kernel, Sectored, ThirtyTwo},
    stencil::{Headings, MOVES},
    world::World,
};

/// The moves of a world and their costs, all at one hour.
///
/// Nodes are the cells of the grid, closed ones included, which have no edges; an edge is named by
/// the cell that it leaves and the number of its move. The weight of an edge is its cost in the
/// world, with pace and burn as they are at the hour.
#[derive(Debug, Clone, Copy)]
pub struct Face<'w, 't> {
    world: &'w World<'t>,
    headings: Headings,
    instant_hour: f64,
}

impl<'w, 't> Face<'w, 't> {
    /// The face of a world at an hour.
    #[must_use]
    pub fn new(world: &'w World<'t>, headings: Headings, hour: f64) -> Self {
        Self { world, headings, instant_hour: hour }
    }

    /// Edges from a cell.
    fn edges_from(&self, cell: Cell) -> Vec<FaceEdge> {
        let world = self.world;
        if cell as usize >= world.table.grid.len() {
            return Vec::new();
        }
        let interval = world.interval_at(self.instant_hour);
        let frames = &world.intervals[interval];
        let at = Instant {
            fraction: frames.fraction(self.instant_hour) as f32,
            // Frozen: nothing changes while an edge is sailed.
            per_length: 0.0,
            steep: false,
            ..Instant::new(world, interval)
        };
        let index = world.padding.padded(cell);
        let mut edges = Edges::new();
        let weighted = !world.weight.is_time();
        if world.table.sectors > 1 {
            Sectored::<32, true>::edges(world, &at, index, &mut edges);
        } else if at.fraction > 0.0 {
            ThirtyTwo::<true, true>::edges(world, &at, index, &mut edges);
        } else {
            ThirtyTwo::<false, true>::edges(world, &at, index, &mut edges);
        }
        let mut out = Vec::with_capacity(self.headings.count());
        for (number, step) in MOVES[..self.headings.count()].iter().enumerate() {
            // False for a move through what is closed, infinite or not a number.
            let open = edges.hours[number] < f32::INFINITY;
            let cost = if weighted { edges.costs[number] } else { edges.hours[number] };
            let target = world.table.grid.neighbour(cell, step.dcolumn, step.drow);
            if let (true, Some(target)) = (open, target) {
                out.push(FaceEdge { source: cell, target, number: number as u8, cost });
            }
        }
        out
    }
}

/// A move at an instant.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FaceEdge {
    source: Cell,
    target: Cell,
    number: u8,
    cost: f32,
}

impl EdgeRef for FaceEdge {
    type NodeId = Cell;
    type EdgeId = (Cell, u8);
    type Weight = f32;

    fn source(&self) -> Cell {
        self.source
    }

    fn target(&self) -> Cell {
        self.target
    }

    fn weight(&self) -> &f32 {
        &self.cost
    }

    fn id(&self) -> (Cell, u8) {
        (self.source, self.number)
    }
}

/// Cells that an algorithm has been to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Visited(Vec<bool>);

impl VisitMap<Cell> for Visited {
    fn visit(&mut self, cell: Cell) -> bool {
        self.0.get_mut(cell as usize).is_some_and(|seen| !std::mem::replace(seen, true))
    }

    fn is_visited(&self, cell: &Cell) -> bool {
        self.0.get(*cell as usize).copied().unwrap_or(false)
    }

    fn unvisit(&mut self, cell: Cell) -> bool {
        self.0.get_mut(cell as usize).is_some_and(std::mem::take)
    }
}

impl GraphBase for Face<'_, '_> {
    type NodeId = Cell;
    type EdgeId = (Cell, u8);
}

impl GraphProp for Face<'_, '_> {
    type EdgeType = Directed;
}

impl Data for Face<'_, '_> {
    type NodeWeight = ();
    type EdgeWeight = f32;
}

impl NodeCount for Face<'_, '_> {
    fn node_count(&self) -> usize {
        self.world.table.grid.len()
    }
}

impl NodeIndexable for Face<'_, '_> {
    fn node_bound(&self) -> usize {
        self.world.table.grid.len()
    }

    fn to_index(&self, cell: Cell) -> usize {
        cell as usize
    }

    fn from_index(&self, index: usize) -> Cell {
        index as Cell
    }
}

impl NodeCompactIndexable for Face<'_, '_> {}

impl Visitable for Face<'_, '_> {
    type Map = Visited;

    fn visit_map(&self) -> Visited {
        Visited(vec![false; self.node_count()])
    }

    fn reset_map(&self, map: &mut Visited) {
        *map = self.visit_map();
    }
}

impl IntoNodeIdentifiers for &Face<'_, '_> {
    type NodeIdentifiers = std::ops::Range<Cell>;

    fn node_identifiers(self) -> Self::NodeIdentifiers {
        0..self.node_count() as Cell
    }
}

impl IntoNodeReferences for &Face<'_, '_> {
    type NodeRef = (Cell, &'static ());
    type NodeReferences = std::iter::Map<std::ops::Range<Cell>, fn(Cell) -> Self::NodeRef>;

    fn node_references(self) -> Self::NodeReferences {
        (0..self.node_count() as Cell).map(|cell| (cell, &()))
    }
}

impl IntoNeighbors for &Face<'_, '_> {
    type Neighbors = std::vec::IntoIter<Cell>;

    fn neighbors(self, cell: Cell) -> Self::Neighbors {
        let targets: Vec<Cell> = self.edges_from(cell).iter().map(|edge| edge.target).collect();
        targets.into_iter()
    }
}

impl IntoEdgeReferences for &Face<'_, '_> {
    type EdgeRef = FaceEdge;
    type EdgeReferences = std::vec::IntoIter<FaceEdge>;

    fn edge_references(self) -> Self::EdgeReferences {
        let all: Vec<FaceEdge> =
            self.node_identifiers().flat_map(|cell| self.edges_from(cell)).collect();
        all.into_iter()
    }
}

impl IntoEdges for &Face<'_, '_> {
    type Edges = std::vec::IntoIter<FaceEdge>;

    fn edges(self, cell: Cell) -> Self::Edges {
        self.edges_from(cell).into_iter()
    }
}
