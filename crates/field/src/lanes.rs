//! Arithmetic on a few numbers at a time, in a form that compilers turn into vector instructions.

use std::ops::{Add, AddAssign, Mul, MulAssign, Neg, Sub};

/// Sites that go through the sums together: as fast as any other count on a plain 64-bit processor,
/// by measurement.
pub(crate) const LANES: usize = 4;

/// One number for each of the sites that go through the sums together.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Lanes(pub(crate) [f64; LANES]);

impl Lanes {
    #[inline(always)]
    pub(crate) fn of(value: impl FnMut(usize) -> f64) -> Self {
        Self(std::array::from_fn(value))
    }

    #[inline(always)]
    pub(crate) const fn all(value: f64) -> Self {
        Self([value; LANES])
    }

    #[inline(always)]
    fn zip(self, other: Self, f: impl Fn(f64, f64) -> f64) -> Self {
        let mut out = self;
        for (a, b) in out.0.iter_mut().zip(other.0) {
            *a = f(*a, b);
        }
        out
    }
}

impl Add for Lanes {
    type Output = Self;
    #[inline(always)]
    fn add(self, other: Self) -> Self {
        self.zip(other, |a, b| a + b)
    }
}

impl Sub for Lanes {
    type Output = Self;
    #[inline(always)]
    fn sub(self, other: Self) -> Self {
        self.zip(other, |a, b| a - b)
    }
}

impl Mul for Lanes {
    type Output = Self;
    #[inline(always)]
    fn mul(self, other: Self) -> Self {
        self.zip(other, |a, b| a * b)
    }
}

impl Mul<Lanes> for f64 {
    type Output = Lanes;
    #[inline(always)]
    fn mul(self, other: Lanes) -> Lanes {
        Lanes::all(self) * other
    }
}

impl Neg for Lanes {
    type Output = Self;
    #[inline(always)]
    fn neg(self) -> Self {
        Self(self.0.map(|a| -a))
    }
}

impl AddAssign for Lanes {
    #[inline(always)]
    fn add_assign(&mut self, other: Self) {
        *self = *self + other;
    }
}

impl MulAssign for Lanes {
    #[inline(always)]
    fn mul_assign(&mut self, other: Self) {
        *self = *self * other;
    }
}
