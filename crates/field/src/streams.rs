//! Random numbers that belong to a seed, a member and a purpose, whatever the order of drawing.

use rand_chacha::{ChaCha8Rng, rand_core::SeedableRng};

/// What the numbers are for. The order is part of what a seed means: new purposes go last.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Draw {
    ModelError,
    Activity,
    ForecastError,
    Residual,
    SolarWind,
    Stretches,
    Site,
}

/// The stream of one member for one purpose.
pub(crate) fn stream(seed: u64, member: u32, draw: Draw) -> ChaCha8Rng {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    rng.set_stream(u64::from(member) << 8 | draw as u64);
    rng
}
