//! What a file's numbers measure, and what makes a quantity of them.

use dipward_plugin::Quantity;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::{
    Image,
    units::{Conversion, conversion},
};

/// Which way heights or depths count.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Direction {
    /// Heights: the sea floor is negative.
    Up,
    /// Depths: the sea floor is positive.
    Down,
}

/// What a file says of its numbers.
#[derive(Debug, Clone, Default)]
pub(crate) struct Measure {
    /// Scale and offset that a reader has not applied.
    pub(crate) packing: Option<Conversion>,
    pub(crate) unit: Option<String>,
    /// The attribute `positive`.
    pub(crate) positive: Option<String>,
    pub(crate) standard_name: Option<String>,
    /// The variable's name, its long name, a band's description.
    pub(crate) names: Vec<String>,
    /// Whether the format has a place for a unit, so that its absence says something.
    pub(crate) has_metadata: bool,
}

/// What a scenario says of them.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Stated<'a> {
    pub(crate) units: Option<&'a str>,
    pub(crate) positive: Option<Direction>,
    pub(crate) scale: Option<f32>,
    pub(crate) offset: Option<f32>,
}

impl Measure {
    /// What makes a quantity of the file's numbers, and what was taken for granted for it.
    ///
    /// # Errors
    ///
    /// When the unit measures something else or is missing, when the direction of depths is not told, and
    /// when the scenario contradicts the file; each with the key that would settle it.
    pub(crate) fn conversion(
        &self,
        stated: Stated<'_>,
        quantity: Quantity,
    ) -> Result<(Conversion, Vec<String>), String> {
        let mut notes = Vec::new();
        let scaled = stated.scale.is_some() || stated.offset.is_some();
        if scaled && stated.units.is_some() {
            return Err(
                "has both `units` and a `scale` or `offset` in the scenario: one is enough"
                    .to_owned(),
            );
        }
        let settle = |message: String| format!("{message}: write `units` if it is wrong");
        let of_unit = match (stated.units, &self.unit) {
            (Some(units), own) => {
                let settled = conversion(units, quantity.unit()).map_err(|message| {
                    message.replacen("has the unit", "is said to have the unit", 1)
                })?;
                if let Some(own) = own
                    && conversion(own, quantity.unit()) != Ok(settled)
                {
                    notes.push(format!(
                        "its unit is {units}, as the scenario says, and not `{own}`, as it says"
                    ));
                }
                settled
            }
            (None, Some(own)) => conversion(own, quantity.unit()).map_err(settle)?,
            (None, None) if scaled => Conversion::SAME,
            (None, None) if ["1", "ratio"].contains(&quantity.unit()) || !self.has_metadata => {
                notes.push(format!(
                    "it states no unit, and its {quantity} is taken in {}",
                    if quantity.unit() == "1" { "fractions" } else { quantity.unit() }
                ));
                Conversion::SAME
            }
            (None, None) => {
                return Err(format!(
                    "states no unit for its {quantity}: write `units`, such as `m` or `cm`"
                ));
            }
        };
        let (down, told) = self.counts_down(stated, quantity)?;
        let turned = |own: Conversion| Conversion { factor: -own.factor, offset: -own.offset };
        let own = of_unit.after(self.packing.unwrap_or(Conversion::SAME));
        let own = if down { turned(own) } else { own };
        if !scaled {
            return Ok((own, notes));
        }
        let wanted = Conversion {
            factor: f64::from(stated.scale.unwrap_or(1.0)),
            offset: f64::from(stated.offset.unwrap_or(0.0)),
        };
        let near = |a: f64, b: f64| (a - b).abs() <= 1e-5 * a.abs().max(b.abs());
        let same =
            |own: Conversion| near(own.factor, wanted.factor) && near(own.offset, wanted.offset);
        let silent = self.unit.is_none() && self.packing.is_none() && !told;
        if silent || same(own) || (!told && same(turned(own))) {
            return Ok((wanted, notes));
        }
        let says = [
            self.packing.map(|own| format!("scale {} and offset {}", own.factor, own.offset)),
            self.unit.as_ref().map(|unit| format!("unit `{unit}`")),
            told.then(|| format!("positive {}", if down { "down" } else { "up" })),
        ];
        let says: Vec<String> = says.into_iter().flatten().collect();
        Err(format!(
            "says itself how its numbers count ({}), and the scenario's `scale` and `offset` contradict it: \
             leave them out, or write `units` or `positive`",
            says.join(", ")
        ))
    }

    /// Refuses a unit of percent whose greatest number is one at most: many a file says % and counts in
    /// fractions, and nothing tells that from a sea almost without ice.
    ///
    /// # Errors
    ///
    /// With the key that settles it.
    pub(crate) fn check_percent<'a>(
        &self,
        stated: Stated<'_>,
        images: impl Iterator<Item = &'a Image>,
    ) -> Result<(), String> {
        let percent = self
            .unit
            .as_deref()
            .is_some_and(|unit| ["%", "percent", "pct", "per cent"].contains(&unit.trim()));
        if !percent || stated.units.is_some() || stated.scale.is_some() {
            return Ok(());
        }
        let numbers = images.flat_map(|image| &image.values).copied();
        let most = numbers.filter(|value| !value.is_nan()).fold(f32::NEG_INFINITY, f32::max);
        if most > 0.0 && most <= 1.0 {
            return Err(format!(
                "is in % by its unit, and its greatest number is {most}: write `units`, `\"%\"` or `\"1\"`"
            ));
        }
        Ok(())
    }

    /// Whether heights count downwards, and whether anything says so.
    fn counts_down(&self, stated: Stated<'_>, quantity: Quantity) -> Result<(bool, bool), String> {
        if quantity != Quantity::ELEVATION {
            return Ok((false, false));
        }
        if let Some(direction) = stated.positive {
            return Ok((direction == Direction::Down, true));
        }
        let positive = match self.positive.as_deref().map(str::to_ascii_lowercase).as_deref() {
            Some("down") => Some(true),
            Some("up") => Some(false),
            _ => None,
        };
        let standard = self.standard_name.as_deref().and_then(|name| {
            if name.contains("depth") {
                Some(true)
            } else if name.contains("height") || name.contains("altitude") {
                Some(false)
            } else {
                None
            }
        });
        match (positive, standard) {
            (Some(a), Some(b)) if a != b => Err(
                "contradicts itself: its `standard_name` and `positive` count in opposite directions: write \
                 `positive`"
                    .to_owned(),
            ),
            (Some(down), _) | (None, Some(down)) => Ok((down, true)),
            (None, None) => {
                let named = self.names.iter().find(|name| {
                    let plain = name.to_ascii_lowercase();
                    plain.contains("depth") || plain.contains("bathy")
                });
                match named {
                    Some(name) if stated.scale.is_none() => Err(format!(
                        "calls its numbers `{name}` and does not say whether they count up or down: write \
                         `positive`, `down` for depths"
                    )),
                    _ => Ok((false, false)),
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn file(unit: &str, positive: &str, name: &str) -> Measure {
        let some = |text: &str| (!text.is_empty()).then(|| text.to_owned());
        Measure {
            unit: some(unit),
            positive: some(positive),
            names: vec![name.to_owned()],
            has_metadata: true,
            ..Measure::default()
        }
    }

    #[test]
    fn what_the_file_says_is_applied_and_what_contradicts_it_refused() {
        let turn = Stated { scale: Some(-1.0), ..Stated::default() };
        let down = Stated { positive: Some(Direction::Down), ..Stated::default() };
        let cm = Stated { units: Some("cm"), ..Stated::default() };
        let none = Stated::default();
        for (own, stated, factor) in [
            (file("m", "down", "depth"), none, Some(-1.0)),
            (file("m", "up", "elevation"), none, Some(1.0)),
            (file("cm", "down", "z"), none, Some(-0.01)),
            (file("m", "down", "depth"), turn, Some(-1.0)),
            (file("m", "up", "z"), turn, None),
            (file("m", "", "depth"), none, None),
            (file("m", "", "depth"), down, Some(-1.0)),
            (file("m", "", "depth"), turn, Some(-1.0)),
            (file("km", "", "z"), turn, None),
            (file("", "", "z"), none, None),
            (file("", "", "z"), cm, Some(0.01)),
            (file("kg", "", "z"), none, None),
            (file("kg", "", "z"), cm, Some(0.01)),
        ] {
            let made = own.conversion(stated, Quantity::ELEVATION);
            assert_eq!(
                made.clone().ok().map(|made| made.0.factor),
                factor,
                "{own:?} {stated:?} {made:?}"
            );
        }
    }
}
