//! The state: what the model leaves out of the field.

/// b toward u, v and down; G's uu, uv, vv.
pub(super) const COMMON: usize = 6;

/// b, G and d as one list: [`COMMON`] parts, then two for each reading.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct State(pub(super) Vec<f64>);

impl State {
    fn part(&self, at: usize) -> f64 {
        self.0.get(at).copied().unwrap_or(0.0)
    }

    /// b + G r in the plane's axes.
    pub(super) fn horizontal_nt(&self, [u, v]: [f64; 2]) -> [f64; 2] {
        let [[uu, uv], [_, vv]] = self.gradient_nt_per_km();
        [self.part(0) + uu * u + uv * v, self.part(1) + uv * u + vv * v]
    }

    pub(super) fn down_nt(&self) -> f64 {
        self.part(2)
    }

    pub(super) fn gradient_nt_per_km(&self) -> [[f64; 2]; 2] {
        [[self.part(3), self.part(4)], [self.part(4), self.part(5)]]
    }

    pub(super) fn disturbance_nt(&self, index: usize) -> [f64; 2] {
        [self.part(COMMON + 2 * index), self.part(COMMON + 2 * index + 1)]
    }

    pub(super) fn moved(&self, step: &[f64], share: f64) -> Self {
        Self(self.0.iter().zip(step).map(|(at, step)| at + share * step).collect())
    }
}
