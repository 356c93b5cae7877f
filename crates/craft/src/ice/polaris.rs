use std::fmt;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::{Error, StageOfDevelopment};

/// A ship's ice class: the Polar Classes of IACS and the Finnish-Swedish classes.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, JsonSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum IceClass {
    /// Year-round in all polar waters.
    Pc1,
    /// Year-round in moderate multi-year ice.
    Pc2,
    /// Year-round in second-year ice with multi-year inclusions.
    Pc3,
    /// Year-round in thick first-year ice with old inclusions.
    Pc4,
    /// Year-round in medium first-year ice with old inclusions.
    Pc5,
    /// Summer and autumn in medium first-year ice with old inclusions.
    Pc6,
    /// Summer and autumn in thin first-year ice with old inclusions.
    Pc7,
    /// Finnish-Swedish 1A Super.
    IaSuper,
    /// Finnish-Swedish 1A.
    Ia,
    /// Finnish-Swedish 1B.
    Ib,
    /// Finnish-Swedish 1C.
    Ic,
    /// Not ice strengthened.
    None,
}

/// What is added to the index of a ship under escort, from memory of MSC.1/Circ.1519.
pub const ESCORT_ALLOWANCE: f64 = 10.0;

/// One row a class, strongest class first; columns: ice-free, then
/// [`StageOfDevelopment::ALL`].
///
/// Final values of MSC.1/Circ.1519 (6 June 2016) as seen in MPAS-Analysis
/// (`climatology_map_risk_index_outcome.py`), which quotes the circular. An earlier draft of the
/// table is about, with milder values for the weak classes; its last cell is -6 where this is -8.
const NORMAL: [[i8; 12]; 12] = [
    [3, 3, 3, 3, 2, 2, 2, 2, 2, 2, 1, 1],
    [3, 3, 3, 3, 2, 2, 2, 2, 2, 1, 1, 0],
    [3, 3, 3, 3, 2, 2, 2, 2, 2, 1, 0, -1],
    [3, 3, 3, 3, 2, 2, 2, 2, 1, 0, -1, -2],
    [3, 3, 3, 3, 2, 2, 1, 1, 0, -1, -2, -2],
    [3, 2, 2, 2, 2, 1, 1, 0, -1, -2, -3, -3],
    [3, 2, 2, 2, 1, 1, 0, -1, -2, -3, -3, -3],
    [3, 2, 2, 2, 2, 1, 0, -1, -2, -3, -4, -4],
    [3, 2, 2, 2, 1, 0, -1, -2, -3, -4, -5, -5],
    [3, 2, 2, 1, 0, -1, -2, -3, -4, -5, -6, -6],
    [3, 2, 1, 0, -1, -2, -3, -4, -5, -6, -7, -8],
    [3, 1, 0, -1, -2, -3, -4, -5, -6, -7, -8, -8],
];

impl IceClass {
    /// Every class, in the order of the table.
    pub const ALL: [Self; 12] = [
        Self::Pc1,
        Self::Pc2,
        Self::Pc3,
        Self::Pc4,
        Self::Pc5,
        Self::Pc6,
        Self::Pc7,
        Self::IaSuper,
        Self::Ia,
        Self::Ib,
        Self::Ic,
        Self::None,
    ];

    /// Whether it is a Polar Class.
    #[must_use]
    pub const fn is_polar(self) -> bool {
        (self as usize) < 7
    }

    /// The recommended greatest speed under elevated risk, in knots; `None` for the classes below
    /// PC7, which the circular gives no such operation. From memory of MSC.1/Circ.1519.
    #[must_use]
    pub const fn elevated_speed_kn(self) -> Option<f64> {
        match self {
            Self::Pc1 => Some(11.0),
            Self::Pc2 => Some(8.0),
            Self::Pc3 | Self::Pc4 | Self::Pc5 => Some(5.0),
            Self::Pc6 | Self::Pc7 => Some(3.0),
            _ => None,
        }
    }

    /// What the circular says of an index outcome for this class. From memory of MSC.1/Circ.1519.
    ///
    /// What is not a number is special consideration: no index is no permission.
    #[must_use]
    pub fn operation(self, risk_index_outcome: f64) -> Operation {
        if risk_index_outcome >= 0.0 {
            Operation::Normal
        } else if risk_index_outcome >= -10.0 && self.is_polar() {
            Operation::Elevated
        } else {
            Operation::SpecialConsideration
        }
    }
}

impl fmt::Display for IceClass {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Pc1 => "PC1",
            Self::Pc2 => "PC2",
            Self::Pc3 => "PC3",
            Self::Pc4 => "PC4",
            Self::Pc5 => "PC5",
            Self::Pc6 => "PC6",
            Self::Pc7 => "PC7",
            Self::IaSuper => "IA Super",
            Self::Ia => "IA",
            Self::Ib => "IB",
            Self::Ic => "IC",
            Self::None => "no ice class",
        })
    }
}

/// Operation of a ship by its risk index outcome.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Operation {
    /// Normal operation.
    Normal,
    /// Elevated operational risk: at the class's recommended speed at most.
    Elevated,
    /// Operation subject to special consideration.
    SpecialConsideration,
}

/// The risk index values of one ship: ice-free, then [`StageOfDevelopment::ALL`].
///
/// # Example
///
/// Four tenths of medium and three of thick first-year ice, for a PC7 ship:
///
/// ```
/// use dipward_craft::{IceClass, Operation, RiskValues, StageOfDevelopment};
///
/// let mut fractions = [0.0; 11];
/// fractions[StageOfDevelopment::MediumFirstYear.index()] = 0.4;
/// fractions[StageOfDevelopment::ThickFirstYear.index()] = 0.3;
/// let outcome = RiskValues::normal(IceClass::Pc7).outcome(&fractions);
/// assert_eq!(outcome, -1.0);
/// assert_eq!(IceClass::Pc7.operation(outcome), Operation::Elevated);
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct RiskValues([i8; 12]);

impl RiskValues {
    /// The values of MSC.1/Circ.1519 for ice that has not decayed.
    #[must_use]
    pub const fn normal(class: IceClass) -> Self {
        Self(NORMAL[class as usize])
    }

    /// The values for decayed ice from a table of the user's own.
    ///
    /// The circular has such a table; its values could not be confirmed and are therefore not built
    /// in. What could be confirmed are its rules, and a table that breaks them is refused: no value
    /// below the normal one or more than 1 above it, none changed for old ice.
    ///
    /// # Arguments
    ///
    /// `csv` has one line a class: the class's name as in a scenario (`pc5`, `ia_super`) and its 12
    /// values. Lines that start with `#` are passed over.
    ///
    /// # Errors
    ///
    /// [`Error::Table`] naming the line.
    pub fn decayed(csv: &str, class: IceClass) -> Result<Self, Error> {
        let fault = |line: usize, text: String| Error::Table(format!("line {line}: {text}"));
        let mut found = None;
        for (line, row) in csv.lines().enumerate().map(|(index, row)| (index + 1, row.trim())) {
            if row.is_empty() || row.starts_with('#') {
                continue;
            }
            let mut fields = row.split(',').map(str::trim);
            let name = fields.next().unwrap_or_default();
            let row_class = IceClass::deserialize(serde::de::value::StrDeserializer::<
                serde::de::value::Error,
            >::new(name))
            .map_err(|_| fault(line, format!("`{name}` is no ice class")))?;
            let values = fields
                .map(|field| {
                    field
                        .parse::<i8>()
                        .map_err(|_| fault(line, format!("`{field}` is no whole number")))
                })
                .collect::<Result<Vec<i8>, Error>>()?;
            let values: [i8; 12] = values.try_into().map_err(|values: Vec<i8>| {
                fault(line, format!("12 values are needed, not {}", values.len()))
            })?;
            let normal = NORMAL[row_class as usize];
            for (column, (&value, &usual)) in values.iter().zip(&normal).enumerate() {
                // Columns 9 to 11 are old ice.
                let most = usual + i8::from(column < 9);
                if value < usual || value > most {
                    return Err(fault(
                        line,
                        format!("value {} is {value}, not {usual} to {most}", column + 1),
                    ));
                }
            }
            if row_class == class {
                found = Some(Self(values));
            }
        }
        found.ok_or_else(|| Error::Table(format!("the table has no line for {class}")))
    }

    /// The value for a stage of development, or for ice-free water where there is none.
    #[must_use]
    pub const fn value(&self, stage: Option<StageOfDevelopment>) -> i8 {
        match stage {
            None => self.0[0],
            Some(stage) => self.0[stage.index() + 1],
        }
    }

    /// All 12 values.
    #[must_use]
    pub const fn values(&self) -> &[i8; 12] {
        &self.0
    }

    /// The risk index outcome of an ice regime: the values weighted by tenths of the area.
    ///
    /// # Arguments
    ///
    /// `fractions` are the parts of the area (0 to 1) covered by each stage of
    /// [`StageOfDevelopment::ALL`]; the rest is ice-free. Where they add to more than 1 they are
    /// scaled down to it.
    ///
    /// # Returns
    ///
    /// -80 to 30, rounded to a thousandth so that the limits at 0 and -10 are not missed by the
    /// representation of tenths; not a number where a fraction is not.
    #[must_use]
    pub fn outcome(&self, fractions: &[f64; 11]) -> f64 {
        let mut total = 0.0;
        let mut weighted = 0.0;
        for (&fraction, &value) in fractions.iter().zip(&self.0[1..]) {
            let fraction = fraction.clamp(0.0, 1.0);
            total += fraction;
            weighted += fraction * f64::from(value);
        }
        self.outcome_of_sums(total, weighted)
    }

    /// [`RiskValues::outcome`] from the sums of the fractions and of the weighted values.
    pub(crate) fn outcome_of_sums(&self, total: f64, weighted: f64) -> f64 {
        let (total, weighted) =
            if total > 1.0 { (1.0, weighted / total) } else { (total, weighted) };
        let outcome = 10.0 * (f64::from(self.0[0]) * (1.0 - total) + weighted);
        (outcome * 1000.0).round() / 1000.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_decayed_table_must_keep_the_rules() {
        let row = "pc5,3,3,3,3,2,2,2,2,1,-1,-2,-2";
        let values = RiskValues::decayed(&format!("# mine\n\n{row}\n"), IceClass::Pc5).unwrap();
        assert_eq!(values.value(Some(StageOfDevelopment::ThickFirstYear)), 1);
        for (table, complaint) in [
            ("pc5,3,3,3,3,2,2,2,2,1,-1,-2,-1", "line 1: value 12 is -1, not -2 to -2"),
            ("pc5,3,3,3,3,2,2,2,2,2,-1,-2,-2", "line 1: value 9 is 2, not 0 to 1"),
            ("pc5,3,3,3,3,2,2,2,2,1,-1,-2", "line 1: 12 values are needed, not 11"),
            ("pc9,3,3,3,3,2,2,2,2,1,-1,-2,-2", "line 1: `pc9` is no ice class"),
            ("pc5,3,3,x,3,2,2,2,2,1,-1,-2,-2", "line 1: `x` is no whole number"),
            ("pc1,3,3,3,3,2,2,2,2,2,2,1,1", "the table has no line for PC5"),
        ] {
            let error = RiskValues::decayed(table, IceClass::Pc5).unwrap_err();
            assert_eq!(error.to_string(), complaint);
        }
    }

    #[test]
    fn the_outcome_hits_the_limits_exactly() {
        let values = RiskValues::normal(IceClass::Ia);
        let mut fractions = [0.0; 11];
        fractions[StageOfDevelopment::MediumFirstYearUnder1m.index()] = f64::from(0.75_f32);
        assert_eq!(values.outcome(&fractions), 0.0);
        fractions[StageOfDevelopment::MediumFirstYearUnder1m.index()] = f64::from(0.1_f32);
        assert_eq!(values.outcome(&fractions), 26.0);
        fractions[0] = f64::NAN;
        assert!(values.outcome(&fractions).is_nan());
    }
}
