//! What one who flies can land on about the pole, frame by frame of the chart.

use std::ops::Range;

use dipward_chart::Chart;
use dipward_plugin::{Aircraft, Control, Error, LandingGround, Quantity};

use super::sky::Skies;

/// What is read beside [`Quantity::ICE_PARTIALS`].
pub(super) const READ: [Quantity; 5] = [
    Quantity::LAND,
    Quantity::SHELF,
    Quantity::CLOSED,
    Quantity::ICE_CONCENTRATION,
    Quantity::ICE_THICKNESS,
];

/// Where the aircraft lands, in the rectangle of cells of its [`Skies`]. Between two frames of the chart it
/// lands where it does at both.
#[derive(Debug)]
pub(crate) struct Grounds {
    /// Hours that do not decrease, each with what every cell of the rectangle says.
    frames: Vec<(f64, Vec<Result<(), &'static str>>)>,
}

impl Grounds {
    /// Reads the ground of a rectangle of cells.
    ///
    /// # Errors
    ///
    /// What the chart's layers say.
    pub(crate) fn read(
        chart: &Chart,
        aircraft: &dyn Aircraft,
        skies: &Skies,
        rows: Range<u32>,
        control: &Control,
    ) -> Result<Self, Error> {
        let mut frames = Vec::with_capacity(chart.frames().len());
        for (frame, &hour) in chart.frames().iter().enumerate() {
            control.check()?;
            let mut each = Vec::new();
            for row in rows.clone() {
                let cells = skies.run(row);
                let column = |quantity: Quantity| {
                    let mut values = vec![f32::NAN; cells.len()];
                    if chart.quantities().contains(&quantity) {
                        chart.fill(frame, quantity, cells.clone(), &mut values)?;
                    }
                    Ok::<_, Error>(values)
                };
                let read: Vec<Vec<f32>> = READ.into_iter().map(column).collect::<Result<_, _>>()?;
                let partials: Vec<Vec<f32>> =
                    Quantity::ICE_PARTIALS.into_iter().map(column).collect::<Result<_, _>>()?;
                each.extend((0..cells.len()).map(|index| {
                    let at = |column: &Vec<f32>| f64::from(column[index]);
                    let ground = LandingGround {
                        land: at(&read[0]),
                        shelf: at(&read[1]),
                        closed: at(&read[2]),
                        ice_concentration: at(&read[3]),
                        ice_thickness_m: at(&read[4]),
                        ice_partials: std::array::from_fn(|stage| at(&partials[stage])),
                    };
                    aircraft.may_land(&ground)
                }));
            }
            frames.push((hour, each));
        }
        Ok(Self { frames })
    }

    /// Whether the aircraft may stand in a cell at a whole hour, by its place among the [`Skies`].
    ///
    /// # Errors
    ///
    /// Why not, in words.
    pub(crate) fn may_land(&self, hour: usize, index: Option<usize>) -> Result<(), &'static str> {
        const OFF: &str = "the place to land lies beyond what is looked at";
        let index = index.ok_or(OFF)?;
        let after = self.frames.partition_point(|(at, _)| *at <= hour as f64);
        let at =
            |frame: usize| self.frames.get(frame).and_then(|(_, each)| each.get(index)).copied();
        at(after.saturating_sub(1)).unwrap_or(Err(OFF)).and(at(after).unwrap_or(Ok(())))
    }
}
