//! How thick ice of a stage is: the one table that chart and craft share.

use crate::Quantity;

/// Ice of one column of the POLARIS table.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct IceStage {
    /// The quantity that tells how much of it there is.
    pub partial: Quantity,
    /// Least thickness in metres. Old ice has none by definition: here that of thick first-year ice,
    /// which it outgrew.
    pub from_m: f32,
    /// Greatest thickness in metres; of the stages without an upper bound a stated figure.
    pub to_m: f32,
    /// The thickness to plan with in metres where the stage alone is known: the middle of the range,
    /// and for old ice a stated figure.
    pub thickness_m: f32,
}

/// Every stage, in the order of [`Quantity::ICE_PARTIALS`].
///
/// Source: WMO-No. 259 for the ranges up to thick first-year ice, MSC.1/Circ.1519 for the edge of 2.5 m
/// between light and heavy multi-year ice, both from memory. Nobody measured the upper bounds of thick
/// first-year (2 m) and heavy multi-year ice (4 m), nor the figures for old ice.
///
/// # Example
///
/// ```
/// use dipward_plugin::ICE_STAGES;
///
/// assert_eq!(ICE_STAGES[7].thickness_m, 1.6);
/// assert!(ICE_STAGES.is_sorted_by_key(|stage| stage.thickness_m));
/// ```
pub const ICE_STAGES: [IceStage; 11] = [
    of(0, 0.0, 0.10, 0.05),
    of(1, 0.10, 0.15, 0.125),
    of(2, 0.15, 0.30, 0.225),
    of(3, 0.30, 0.50, 0.4),
    of(4, 0.50, 0.70, 0.6),
    of(5, 0.70, 1.00, 0.85),
    of(6, 1.00, 1.20, 1.1),
    of(7, 1.20, 2.00, 1.6),
    of(8, 1.20, 2.50, 2.0),
    of(9, 1.20, 2.50, 2.5),
    of(10, 2.50, 4.00, 3.0),
];

const fn of(place: usize, from_m: f32, to_m: f32, thickness_m: f32) -> IceStage {
    IceStage { partial: Quantity::ICE_PARTIALS[place], from_m, to_m, thickness_m }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_table_follows_the_order_of_the_partial_concentrations() {
        for (stage, partial) in ICE_STAGES.iter().zip(Quantity::ICE_PARTIALS) {
            assert_eq!(stage.partial, partial);
            assert!((stage.from_m..=stage.to_m).contains(&stage.thickness_m), "{partial}");
        }
        // First-year ice has no gaps.
        for pair in ICE_STAGES[..8].windows(2) {
            assert_eq!(pair[0].to_m, pair[1].from_m);
        }
    }
}
