//! What the search makes least: hours, tonnes, or a sum of both.

use dipward_plugin::PaceTable;

/// The cost of an hour under way as a function of its burn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Weight {
    h_per_t: f64,
    /// Cost of an hour without burn.
    base: f32,
    /// Cost of a tonne.
    per_t: f32,
}

/// Next to the greatest burn, what an hour costs where only fuel counts: it breaks ties in favour of
/// the earlier route, and keeps edges without burn above zero.
const TIE_BREAK: f32 = 1e-5;

impl Weight {
    /// `h_per_t` of 0 counts hours alone, infinite counts tonnes alone.
    pub(crate) fn new(h_per_t: f64, table: &PaceTable) -> Result<Self, String> {
        if h_per_t.is_nan() || h_per_t < 0.0 {
            return Err(format!("the weight of fuel is {h_per_t} h/t and must not be negative"));
        }
        // Beyond this the hours no longer show in a sum of f32.
        if h_per_t > 1e6 {
            let most = table.burn_t_per_h.iter().fold(0.0_f32, |most, &burn| most.max(burn));
            let most = most.max(table.hold_t_per_h as f32);
            let base = if most > 0.0 { most * TIE_BREAK } else { 1.0 };
            return Ok(Self { h_per_t: f64::INFINITY, base, per_t: 1.0 });
        }
        Ok(Self { h_per_t, base: 1.0, per_t: h_per_t as f32 })
    }

    pub(crate) fn h_per_t(self) -> f64 {
        self.h_per_t
    }

    /// Whether the cost is the time.
    pub(crate) fn is_time(self) -> bool {
        self.per_t == 0.0
    }

    /// Cost of an hour with a burn.
    #[inline]
    pub(crate) fn rate(self, burn_t_per_h: f32) -> f32 {
        self.base + self.per_t * burn_t_per_h
    }

    /// Cost of hours and tonnes.
    #[inline]
    pub(crate) fn cost(self, hours: f64, fuel_t: f64) -> f64 {
        f64::from(self.base) * hours + f64::from(self.per_t) * fuel_t
    }
}

/// What became of a weight of fuel under a limit.
pub(crate) enum Verdict<T> {
    /// It keeps the limit, in time.
    Fits(T),
    /// It burns too much.
    Thirsty(T),
    /// It is too late, or there is none.
    Late,
}

/// Where the weights that keep a limit begin.
pub(crate) struct Narrowed<T> {
    /// The greatest weight known to burn too much, hours a tonne.
    pub(crate) low_h_per_t: f64,
    /// The least known not to.
    pub(crate) high_h_per_t: f64,
    /// What came nearest to the limit from above.
    pub(crate) thirsty: Option<T>,
    /// And what keeps it, if any does in time.
    pub(crate) fits: Option<T>,
}

/// The exponents of four between which a weight is sought, about one hour a tonne.
const EXPONENTS: (f64, f64) = (-6.0, 6.0);

/// Narrows down the least weight of fuel that keeps a limit: a greater weight is thriftier and later.
/// Nothing where the thriftiest of all burns too much.
///
/// `finest` is how near the exponents of four come to each other.
pub(crate) fn narrow<T, E>(
    finest: f64,
    mut try_at: impl FnMut(f64) -> Result<Verdict<T>, E>,
) -> Result<Option<Narrowed<T>>, E> {
    let (mut low, mut high) = EXPONENTS;
    let (mut fits, mut thirsty) = (None, None);
    match try_at(f64::INFINITY)? {
        Verdict::Fits(found) => fits = Some(found),
        // The thriftiest of all is too late; an earlier one may be thrifty enough.
        Verdict::Late => {}
        Verdict::Thirsty(_) => return Ok(None),
    }
    while high - low > finest {
        let middle = f64::midpoint(low, high);
        match try_at(4.0_f64.powf(middle))? {
            Verdict::Fits(found) => {
                fits = Some(found);
                high = middle;
            }
            Verdict::Late => high = middle,
            Verdict::Thirsty(found) => {
                thirsty = Some(found);
                low = middle;
            }
        }
    }
    let (low_h_per_t, high_h_per_t) = (4.0_f64.powf(low), 4.0_f64.powf(high));
    Ok(Some(Narrowed { low_h_per_t, high_h_per_t, thirsty, fits }))
}
