//! Classes of a quantity and their tints.

use dipward_plugin::Quantity;

use super::ground::{CLASSES, WATER};
use crate::figures::{Ticks, fixed};

/// Classes of increasing values. Each begins at its `least`; the first has none.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct ColourScale {
    pub(crate) classes: Vec<Class>,
}

/// One class.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Class {
    /// The least value that belongs to it.
    pub(crate) least: f32,
    pub(crate) tint: String,
    pub(crate) words: String,
}

/// Light to dark, for amounts; told apart in print, too.
const LIGHT: [f64; 3] = [238.0, 243.0, 248.0];
const DARK: [f64; 3] = [38.0, 72.0, 108.0];
/// For what lies above zero where a quantity goes below it, too.
const LIGHT_ABOVE: [f64; 3] = [245.0, 236.0, 220.0];
const DARK_ABOVE: [f64; 3] = [122.0, 72.0, 16.0];

/// How many values the range is told from at most.
const SAMPLE: usize = 100_000;
/// The share of values beyond either end of the middle classes.
const TAIL: f64 = 0.02;

impl ColourScale {
    /// Classes for the values that a quantity has; nothing where no value is known.
    ///
    /// Flags have two classes and concentrations the tenths of ice charts; all else has round steps
    /// over the middle 96 % of its values, with open ends.
    pub(crate) fn of(quantity: Quantity, values: &[f32]) -> Option<Self> {
        let stride = values.len().div_ceil(SAMPLE).max(1);
        let known = |step: usize| values.iter().step_by(step).copied().filter(|v| !v.is_nan());
        let mut sample: Vec<f32> = known(stride).collect();
        if sample.is_empty() {
            sample = known(1).take(SAMPLE).collect();
        }
        sample.sort_by(f32::total_cmp);
        let (first, last) = (*sample.first()?, *sample.last()?);
        if quantity.unit() == "1" && known(1).all(|value| value == 0.0 || value == 1.0) {
            return Some(Self::flag());
        }
        if quantity == Quantity::ICE_CONCENTRATION || Quantity::ICE_PARTIALS.contains(&quantity) {
            return Some(Self::tenths());
        }
        let at = |share: f64| {
            let index = (share * (sample.len() - 1) as f64).round() as usize;
            f64::from(sample.get(index).copied().unwrap_or(last))
        };
        let (low, high) = (at(TAIL), at(1.0 - TAIL));
        let (low, high) =
            if low < high { (low, high) } else { (f64::from(first), f64::from(last)) };
        let lowest = known(1).fold(first, f32::min);
        Some(Self::steps(quantity.unit(), low, high, f64::from(lowest)))
    }

    fn flag() -> Self {
        let class = |least: f32, tint: &str, words: &str| Class {
            least,
            tint: tint.to_owned(),
            words: words.to_owned(),
        };
        Self { classes: vec![class(f32::NEG_INFINITY, WATER, "no"), class(0.5, "#8fa5bc", "yes")] }
    }

    fn tenths() -> Self {
        let first = Class {
            least: f32::NEG_INFINITY,
            tint: WATER.to_owned(),
            words: "below 1 tenth".to_owned(),
        };
        let others = CLASSES.into_iter().map(|(words, least, tint)| Class {
            least,
            tint: tint.to_owned(),
            words: words.to_owned(),
        });
        Self { classes: std::iter::once(first).chain(others).collect() }
    }

    fn steps(unit: &str, low: f64, high: f64, lowest: f64) -> Self {
        let unit = if unit == "1" || unit == "ratio" { "" } else { unit };
        let ticks = Ticks::new(low, high, 6);
        let bounds: Vec<f64> = ticks.values().collect();
        let named = |bound: f64| ticks.label(bound);
        let whole = |text: String| format!("{text} {unit}").trim_end().to_owned();
        let (Some(&least), Some(&most)) = (bounds.first(), bounds.last()) else {
            return Self { classes: Vec::new() };
        };
        let mut classes = Vec::new();
        if lowest < least {
            let words = whole(format!("below {}", named(least)));
            classes.push(Class { least: f32::NEG_INFINITY, tint: String::new(), words });
        }
        for pair in bounds.windows(2) {
            if let [from, to] = pair {
                let words = whole(format!("{} to {}", named(*from), named(*to)));
                classes.push(Class { least: *from as f32, tint: String::new(), words });
            }
        }
        let words = format!("{} and more", whole(named(most)));
        classes.push(Class { least: most as f32, tint: String::new(), words });
        // Negative and positive have hues of their own, each darkening away from zero.
        let total = classes.len();
        let zero = classes.iter().position(|class| class.least >= 0.0).unwrap_or(total);
        let (signed, above) = (lowest < 0.0, total - zero);
        for (index, class) in classes.iter_mut().enumerate() {
            class.tint = match (signed, index < zero) {
                (false, _) => between(LIGHT, DARK, share(index, total)),
                (true, true) => between(LIGHT, DARK, share(zero - 1 - index, zero)),
                (true, false) => between(LIGHT_ABOVE, DARK_ABOVE, share(index - zero, above)),
            };
        }
        Self { classes }
    }

    /// Tints for things told apart by order alone, light to dark; none so light as to look like nothing.
    pub(crate) fn ramp(count: usize) -> Vec<String> {
        (0..count).map(|index| between(LIGHT, DARK, 0.2 + 0.8 * share(index, count))).collect()
    }
}

fn share(index: usize, count: usize) -> f64 {
    if count < 2 { 0.35 } else { index as f64 / (count - 1) as f64 }
}

fn between(light: [f64; 3], dark: [f64; 3], share: f64) -> String {
    let mut tint = String::from("#");
    for (light, dark) in light.into_iter().zip(dark) {
        // Between 0 and 255 as both ends are.
        tint.push_str(&format!("{:02x}", (light + (dark - light) * share).round() as u8));
    }
    tint
}

/// A value with its unit, for text.
pub(crate) fn value_with_unit(quantity: Quantity, value: f32) -> String {
    let unit = if quantity.unit() == "1" { "" } else { quantity.unit() };
    let decimals = match f64::from(value).abs() {
        small if small < 10.0 => 2,
        middle if middle < 100.0 => 1,
        _ => 0,
    };
    format!("{} {unit}", fixed(f64::from(value), decimals)).trim_end().to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn words(scale: &ColourScale) -> Vec<&str> {
        scale.classes.iter().map(|class| class.words.as_str()).collect()
    }

    #[test]
    fn flags_and_concentrations_have_classes_of_their_own() {
        let flags = ColourScale::of(Quantity::LAND, &[0.0, 1.0, f32::NAN]).unwrap();
        assert_eq!(words(&flags), ["no", "yes"]);
        let ice = ColourScale::of(Quantity::ICE_CONCENTRATION, &[0.0, 0.4, 1.0]).unwrap();
        assert_eq!(ice.classes.len(), 5);
        assert!(ColourScale::of(Quantity::LAND, &[f32::NAN]).is_none());
        assert!(ColourScale::of(Quantity::LAND, &[]).is_none());
    }

    #[test]
    fn signed_quantities_part_at_zero() {
        let values: Vec<f32> = (-4000..2000).map(|metres| metres as f32).collect();
        let scale = ColourScale::of(Quantity::ELEVATION, &values).unwrap();
        assert!(scale.classes.iter().any(|class| class.least == 0.0));
        assert_eq!(words(&scale)[0], "below -3000 m");
        assert_eq!(words(&scale).last(), Some(&"1000 m and more"));
        assert!(scale.classes.windows(2).all(|pair| pair[0].least < pair[1].least));
    }

    #[test]
    fn a_few_wild_values_do_not_take_the_scale() {
        let mut values: Vec<f32> = (0..1000).map(|step| 1.0 + step as f32 / 1000.0).collect();
        values.push(1e6);
        let scale = ColourScale::of(Quantity::DEPTH_DOUBT, &values).unwrap();
        assert!(scale.classes.iter().all(|class| class.least < 3.0), "{scale:?}");
        let one = ColourScale::of(Quantity::ICE_THICKNESS, &[1.5]).unwrap();
        assert!(!one.classes.is_empty());
    }

    #[test]
    fn values_have_units() {
        assert_eq!(value_with_unit(Quantity::ELEVATION, -1234.4), "-1234 m");
        assert_eq!(value_with_unit(Quantity::ICE_CONCENTRATION, 0.5), "0.50");
    }
}
