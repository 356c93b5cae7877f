//! The pack about the mean pole: how the ice drifts there, and what it burns to keep a place against it.

use dipward_chart::Chart;
use dipward_field::PoleTracks;
use dipward_plugin::{Error, OffsetKm, PaceTable, Quantity};

use crate::{station::length, station_chart::StationChart, world::Moves};

/// Less ice than this does not carry a ship: the ice edge of the WMO's charts is drawn at it (from memory).
const LOOSE: f32 = 0.15;
const KM_PER_H: f64 = 3.6;

/// The drift of the ice at the mean pole, hour by hour.
#[derive(Debug, Clone, PartialEq)]
pub struct PackDrift {
    /// How far the ice carries what lies in it within each whole hour of the window.
    hourly_km: Vec<OffsetKm>,
    /// What is left of each hour when a craft has made good what the ice carries it.
    left_h: Vec<f64>,
    /// What keeping a place has burnt by the beginning of each hour, beyond what lying still burns.
    kept_t: Vec<f64>,
}

impl PackDrift {
    /// Reads the drift off the chart; nothing where no layer knows of any in the window.
    ///
    /// Cells of less than fifteen hundredths of ice, and hours without a drift, carry nobody. One drift, that at
    /// the mean pole, serves all about it.
    ///
    /// # Errors
    ///
    /// What the chart's layers say.
    pub(crate) fn of(
        tracks: &PoleTracks,
        chart: &Chart,
        table: &PaceTable,
    ) -> Result<Option<Self>, Error> {
        if !chart.quantities().contains(&Quantity::ICE_DRIFT_EAST) {
            return Ok(None);
        }
        let on_map = StationChart::new(tracks, table);
        let mut hourly_km = Vec::with_capacity(tracks.mean_track().len());
        for (hour, &pole) in tracks.mean_track().iter().enumerate() {
            let value = |quantity| chart.sample(hour as f64, quantity, pole);
            let [east, north] =
                [value(Quantity::ICE_DRIFT_EAST)?, value(Quantity::ICE_DRIFT_NORTH)?];
            let loose = value(Quantity::ICE_CONCENTRATION)? < LOOSE;
            let known = !loose && !east.is_nan() && !north.is_nan();
            let [east, north] = if known { [east, north] } else { [0.0; 2] };
            let km = [east, north].map(|m_s| KM_PER_H * f64::from(m_s));
            hourly_km.push(on_map.along_the_map(hour, km).unwrap_or_default());
        }
        let moves = Moves::at_mean_pole(tracks, table);
        Ok(Self::new(hourly_km, &moves.reach_km, &moves.extra_t_per_h))
    }

    /// Nothing where the ice lies still throughout.
    ///
    /// # Arguments
    ///
    /// How far a craft comes in each hour, and what it burns in an hour under way beyond lying still.
    pub(crate) fn new(
        hourly_km: Vec<OffsetKm>,
        reach_km: &[f64],
        extra_t_per_h: &[f64],
    ) -> Option<Self> {
        if hourly_km.iter().all(|drift_km| length(*drift_km) == 0.0) {
            return None;
        }
        let mut left_h = Vec::with_capacity(hourly_km.len());
        let mut kept_t = vec![0.0];
        for (drift_km, (reach_km, extra_t)) in
            hourly_km.iter().zip(reach_km.iter().zip(extra_t_per_h))
        {
            let drift_km = length(*drift_km);
            // Where the ice outruns it, it is under way for the whole hour.
            let hours = if drift_km > 0.0 { (drift_km / reach_km).min(1.0) } else { 0.0 };
            left_h.push(1.0 - hours);
            kept_t.push(kept_t.last().copied().unwrap_or(0.0) + hours * extra_t);
        }
        Some(Self { hourly_km, left_h, kept_t })
    }

    /// How far the ice carries what lies in it, within the hour that begins at a whole hour.
    pub(crate) fn within_hour(&self, hour: usize) -> OffsetKm {
        self.hourly_km.get(hour).copied().unwrap_or_default()
    }

    /// What is left of the hour that begins at a whole hour for a craft that makes good what the ice carries it:
    /// nothing where the ice outruns it.
    pub(crate) fn left_h(&self, hour: usize) -> f64 {
        self.left_h.get(hour).copied().unwrap_or(1.0)
    }

    /// What keeping a place burns between two hours, beyond what lying still burns.
    pub(crate) fn keeping_t(&self, from_hour: f64, until_hour: f64) -> f64 {
        let by = |hour: f64| {
            let whole = hour.max(0.0).floor();
            let at = |index: usize| self.kept_t.get(index.min(self.kept_t.len() - 1));
            let [before, after] =
                [whole as usize, whole as usize + 1].map(|index| at(index).copied());
            let (before, after) = (before.unwrap_or(0.0), after.unwrap_or(0.0));
            before + (hour.max(0.0) - whole) * (after - before)
        };
        (by(until_hour) - by(from_hour)).max(0.0)
    }

    /// The mean drift between two hours, km a day.
    pub(crate) fn mean_km_per_day(&self) -> f64 {
        let whole: f64 = self.hourly_km.iter().map(|drift_km| length(*drift_km)).sum();
        24.0 * whole / self.hourly_km.len().max(1) as f64
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 0.5 km an hour in ice that she makes 5 km/h in, for 0.3 t/h more than lying still: a tenth of each hour
    /// under way.
    #[test]
    fn keeping_up_burns_the_share_of_the_hour_that_it_takes() {
        let drift = |hour: usize| if hour < 10 { [0.3, 0.4] } else { [0.0, 0.0] };
        let pack = PackDrift::new((0..20).map(drift).collect(), &[5.0; 20], &[0.3; 20]).unwrap();
        assert!((pack.keeping_t(0.0, 10.0) - 0.3).abs() < 1e-12);
        assert!((pack.keeping_t(2.5, 4.0) - 0.045).abs() < 1e-12);
        assert!((pack.keeping_t(8.0, 400.0) - 0.06).abs() < 1e-12);
        assert_eq!(pack.keeping_t(12.0, 19.0), 0.0);
        assert_eq!(pack.within_hour(3), [0.3, 0.4]);
        assert!((pack.left_h(3) - 0.9).abs() < 1e-12 && pack.left_h(12) == 1.0);
        assert_eq!(PackDrift::new(vec![[0.0; 2]; 5], &[5.0; 5], &[0.3; 5]), None);
        // The ice outruns her, or she is beset: she is under way throughout.
        for reach_km in [0.1, 0.0] {
            let fast = PackDrift::new(vec![[0.3, 0.4]; 2], &[reach_km; 2], &[0.3; 2]).unwrap();
            assert!((fast.keeping_t(0.0, 2.0) - 0.6).abs() < 1e-12);
            assert_eq!(fast.left_h(1), 0.0);
        }
    }
}
