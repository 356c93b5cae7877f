//! Units as files write them, turned into those of a quantity.
//!
//! The grammar is that of UDUNITS as far as the trade writes it: products and quotients of symbols or
//! names with exponents and decimal prefixes (`m s-1`, `m/s`, `cm`, `kg m-2 s^-1`, `0.01 m`, `1e-3`), and
//! temperatures with their origin. Source: UDUNITS-2 unit database and grammar, Unidata (from memory).

/// A unit: a factor and an origin over the base units metre, kilogram, second, kelvin and radian.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Unit {
    factor: f64,
    /// What the number 0 is, in base units.
    origin: f64,
    /// Exponents of m, kg, s, K, rad.
    powers: [i32; 5],
}

const fn unit(factor: f64, powers: [i32; 5]) -> Unit {
    Unit { factor, origin: 0.0, powers }
}

const NONE: [i32; 5] = [0; 5];
const LENGTH: [i32; 5] = [1, 0, 0, 0, 0];
const TIME: [i32; 5] = [0, 0, 1, 0, 0];
const SPEED: [i32; 5] = [1, 0, -1, 0, 0];
const PRESSURE: [i32; 5] = [-1, 1, -2, 0, 0];
const ANGLE: [i32; 5] = [0, 0, 0, 0, 1];

/// Names and symbols, those that take a prefix first.
const PREFIXED: [(&[&str], Unit); 8] = [
    (&["m"], unit(1.0, LENGTH)),
    (&["metre", "meter"], unit(1.0, LENGTH)),
    (&["g", "gram"], unit(1e-3, [0, 1, 0, 0, 0])),
    (&["s", "second"], unit(1.0, TIME)),
    (&["K", "kelvin"], unit(1.0, [0, 0, 0, 1, 0])),
    (&["Pa", "pascal"], unit(1.0, PRESSURE)),
    (&["bar"], unit(1e5, PRESSURE)),
    (&["N", "newton"], unit(1.0, [1, 1, -2, 0, 0])),
];

const WHOLE: [(&[&str], Unit); 16] = [
    (&["%", "percent", "pct", "per cent"], unit(0.01, NONE)),
    (&["fraction", "ratio", "unitless", "dimensionless", "none", "1.0"], unit(1.0, NONE)),
    (&["tenth", "tenths"], unit(0.1, NONE)),
    (&["min", "minute"], unit(60.0, TIME)),
    (&["h", "hr", "hour"], unit(3600.0, TIME)),
    (&["d", "day"], unit(86_400.0, TIME)),
    // The international knot: 1852 m an hour.
    (&["kn", "kt", "knot", "kts"], unit(1852.0 / 3600.0, SPEED)),
    (&["mile_per_hour", "mph"], unit(0.447_04, SPEED)),
    (&["nmi", "nautical_mile", "NM"], unit(1852.0, LENGTH)),
    (&["ft", "foot", "feet"], unit(0.3048, LENGTH)),
    (&["fathom", "fathoms"], unit(1.8288, LENGTH)),
    (&["mi", "mile"], unit(1609.344, LENGTH)),
    (&["micron"], unit(1e-6, LENGTH)),
    (&["mb"], unit(100.0, PRESSURE)),
    (&["rad", "radian"], unit(1.0, ANGLE)),
    (&["deg", "degree", "arc_degree"], unit(std::f64::consts::PI / 180.0, ANGLE)),
];

const PREFIXES: [(&str, &str, f64); 9] = [
    ("da", "deca", 10.0),
    ("k", "kilo", 1e3),
    ("M", "mega", 1e6),
    ("h", "hecto", 1e2),
    ("d", "deci", 1e-1),
    ("c", "centi", 1e-2),
    ("m", "milli", 1e-3),
    ("u", "micro", 1e-6),
    ("µ", "micro", 1e-6),
];

/// How a number in one unit becomes one in another: `factor` times it plus `offset`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Conversion {
    pub(crate) factor: f64,
    pub(crate) offset: f64,
}

impl Conversion {
    pub(crate) const SAME: Self = Self { factor: 1.0, offset: 0.0 };

    pub(crate) fn apply(self, value: f64) -> f64 {
        self.factor * value + self.offset
    }

    /// This one after another.
    pub(crate) fn after(self, first: Self) -> Self {
        Self {
            factor: self.factor * first.factor,
            offset: self.factor * first.offset + self.offset,
        }
    }
}

/// The conversion from a file's unit to a quantity's.
///
/// # Errors
///
/// When the unit cannot be read, or measures something else.
pub(crate) fn conversion(from: &str, to: &str) -> Result<Conversion, String> {
    let read = |text: &str| {
        parse(text).ok_or_else(|| format!("has the unit `{text}`, which cannot be read"))
    };
    let (own, wanted) = (read(from)?, read(to)?);
    if own.powers != wanted.powers {
        let wanted = if to == "1" { "a fraction or %" } else { to };
        return Err(format!("has the unit `{from}`, but {wanted} is wanted"));
    }
    Ok(Conversion {
        factor: own.factor / wanted.factor,
        offset: (own.origin - wanted.origin) / wanted.factor,
    })
}

/// Whether a text is an angle along or across the meridians, as axes state it.
pub(crate) fn is_degrees_north(text: &str) -> bool {
    is_one_of(
        text,
        ["degrees_north", "degree_north", "degree_N", "degrees_N", "degreeN", "degreesN"],
    )
}

/// As [`is_degrees_north`], eastward.
pub(crate) fn is_degrees_east(text: &str) -> bool {
    is_one_of(text, ["degrees_east", "degree_east", "degree_E", "degrees_E", "degreeE", "degreesE"])
}

fn is_one_of(text: &str, names: [&str; 6]) -> bool {
    names.iter().any(|name| name.eq_ignore_ascii_case(text.trim()))
}

/// Metres of a unit of length, if it is one.
pub(crate) fn metres(text: &str) -> Option<f64> {
    parse(text).filter(|unit| unit.powers == LENGTH && unit.origin == 0.0).map(|unit| unit.factor)
}

/// Seconds of a unit of time, if it is one.
pub(crate) fn seconds(text: &str) -> Option<f64> {
    parse(text).filter(|unit| unit.powers == TIME && unit.origin == 0.0).map(|unit| unit.factor)
}

fn parse(text: &str) -> Option<Unit> {
    let text = text.trim();
    let named = match text {
        "" => return None,
        "°C" | "degC" | "deg_C" | "deg C" | "C" | "Celsius" | "celsius" | "degree_Celsius"
        | "degree_celsius" | "degrees_Celsius" | "degrees_celsius" | "degree_C" | "degrees_C"
        | "degrees C" | "degreeC" => Some((1.0, 273.15)),
        "°F" | "degF" | "deg_F" | "F" | "Fahrenheit" | "fahrenheit" | "degree_Fahrenheit"
        | "degrees_Fahrenheit" => Some((5.0 / 9.0, 273.15 - 32.0 * 5.0 / 9.0)),
        "degK" | "deg_K" | "degree_Kelvin" | "degrees_Kelvin" | "Kelvin" => Some((1.0, 0.0)),
        _ => None,
    };
    if let Some((factor, origin)) = named {
        return Some(Unit { factor, origin, powers: [0, 0, 0, 1, 0] });
    }
    if let Some(whole) = WHOLE.iter().find(|(names, _)| names.contains(&text)) {
        return Some(whole.1);
    }
    product(text)
}

/// Factors separated by blanks, `.`, `*` and `/`.
fn product(text: &str) -> Option<Unit> {
    let mut made = unit(1.0, NONE);
    let mut rest = text;
    let mut sign = 1;
    while !rest.is_empty() {
        let end = factor_end(rest);
        let (word, after) = rest.split_at(end);
        let (power, after) = exponent(after)?;
        let one = factor(word)?;
        let power = power * sign;
        made.factor *= one.factor.powi(power);
        for (sum, own) in made.powers.iter_mut().zip(one.powers) {
            *sum += own * power;
        }
        rest = after.trim_start();
        sign = 1;
        for (separator, turn) in [("/", -1), ("per ", -1), (".", 1), ("*", 1), ("·", 1)] {
            if let Some(after) = rest.strip_prefix(separator) {
                rest = after.trim_start();
                sign = turn;
                if rest.is_empty() {
                    return None;
                }
                break;
            }
        }
    }
    (made.factor.is_finite() && made.factor > 0.0).then_some(made)
}

/// Where the first factor of a text ends: a number, or a word of letters.
fn factor_end(text: &str) -> usize {
    if text.starts_with(|c: char| c.is_ascii_digit() || c == '.' || c == '-' || c == '+') {
        // The longest start that is a number.
        (1..=text.len())
            .rev()
            .find(|end| text.get(..*end).is_some_and(|start| start.parse::<f64>().is_ok()))
            .unwrap_or(1)
    } else {
        text.find(|c: char| !(c.is_alphabetic() || "_%°".contains(c))).unwrap_or(text.len())
    }
}

/// An exponent at the start of a text: `2`, `-1`, `^-1`, `**2`.
fn exponent(text: &str) -> Option<(i32, &str)> {
    let (marked, after) = match text.strip_prefix("**").or_else(|| text.strip_prefix('^')) {
        Some(after) => (true, after),
        None => (false, text),
    };
    let end = after
        .char_indices()
        .find(|(at, c)| !(c.is_ascii_digit() || (*at == 0 && "+-".contains(*c))))
        .map_or(after.len(), |(at, _)| at);
    let digits = after.get(..end)?;
    match digits.parse::<i32>() {
        Ok(power) if power.abs() <= 9 => Some((power, after.get(end..)?)),
        Ok(_) => None,
        Err(_) => (!marked && digits.is_empty()).then_some((1, text)),
    }
}

fn factor(word: &str) -> Option<Unit> {
    if let Ok(number) = word.parse::<f64>() {
        return (number > 0.0 && number.is_finite()).then(|| unit(number, NONE));
    }
    let bare = |word: &str| {
        let singular = word.strip_suffix('s').filter(|start| start.len() > 1);
        let is = |names: &[&str]| {
            names.contains(&word) || singular.is_some_and(|word| names.contains(&word))
        };
        let prefixed = PREFIXED.iter().find(|(names, _)| is(names)).map(|own| own.1);
        (prefixed, WHOLE.iter().find(|(names, _)| is(names)).map(|own| own.1))
    };
    let lower = word.to_ascii_lowercase();
    for word in [word, lower.as_str()] {
        if let (Some(unit), _) | (None, Some(unit)) = bare(word) {
            return Some(unit);
        }
        if word.len() < 4 && word != lower {
            // Symbols are told apart by their case: M is not m.
            continue;
        }
        for (symbol, name, scale) in PREFIXES {
            for prefix in [name, symbol] {
                let Some((Some(own), _)) = word.strip_prefix(prefix).map(bare) else { continue };
                return Some(Unit { factor: own.factor * scale, ..own });
            }
        }
    }
    for (symbol, _, scale) in PREFIXES {
        if let Some((Some(own), _)) = word.strip_prefix(symbol).map(bare) {
            return Some(Unit { factor: own.factor * scale, ..own });
        }
    }
    None
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn published_conversions() {
        // The definitions of SI, the international knot, foot and nautical mile, and of degrees Celsius.
        for (from, to, number, expected) in [
            ("%", "1", 23.8, 0.238),
            ("percent", "1", 50.0, 0.5),
            ("1", "1", 0.4, 0.4),
            ("fraction", "1", 0.4, 0.4),
            ("0.01", "1", 40.0, 0.4),
            ("1e-2", "1", 40.0, 0.4),
            ("tenths", "1", 9.0, 0.9),
            ("cm", "m", 95.0, 0.95),
            ("mm", "m", 950.0, 0.95),
            ("km", "m", 2.0, 2000.0),
            ("kilometers", "m", 2.0, 2000.0),
            ("meters", "m", 2.0, 2.0),
            ("Metres", "m", 2.0, 2.0),
            ("dm", "m", 9.5, 0.95),
            ("feet", "m", 10.0, 3.048),
            ("fathoms", "m", 1.0, 1.8288),
            ("m s-1", "kn", 10.0, 19.438_444_924_406),
            ("m/s", "kn", 10.0, 19.438_444_924_406),
            ("m.s-1", "m/s", 10.0, 10.0),
            ("m s^-1", "m/s", 10.0, 10.0),
            ("m s**-1", "m/s", 10.0, 10.0),
            ("cm/s", "m/s", 10.0, 0.1),
            ("km h-1", "m/s", 36.0, 10.0),
            ("km/hour", "m/s", 36.0, 10.0),
            ("knots", "kn", 7.0, 7.0),
            ("kt", "m/s", 1.0, 0.514_444_444_444_4),
            ("K", "degC", 273.15, 0.0),
            ("degF", "degC", 14.0, -10.0),
            ("Celsius", "K", -10.0, 263.15),
            ("hPa", "Pa", 1013.0, 101_300.0),
            ("mbar", "hPa", 1013.0, 1013.0),
            ("kg m-2 s-1", "g cm-2 s-1", 1.0, 0.1),
            ("0.01 m", "m", 95.0, 0.95),
            ("nmi", "km", 1.0, 1.852),
        ] {
            let own = conversion(from, to).unwrap().apply(number);
            assert!((own - expected).abs() < 1e-9 * expected.abs().max(1.0), "{from} {to}: {own}");
        }
    }

    #[test]
    fn what_is_no_such_unit_is_told() {
        for (from, to) in [
            ("%", "m"),
            ("m", "1"),
            ("m s-2", "m/s"),
            ("degrees_east", "1"),
            ("days since 1970-01-01", "s"),
            ("furlong", "m"),
            ("", "m"),
            ("m/", "m"),
            ("m^", "m"),
            ("Mm", "1"),
            ("class", "1"),
        ] {
            assert!(conversion(from, to).is_err(), "{from} {to}");
        }
        assert_eq!(metres("km"), Some(1000.0));
        assert_eq!(metres("degrees_east"), None);
        assert_eq!(seconds("hours"), Some(3600.0));
        assert_eq!(seconds("Days"), Some(86_400.0));
        assert_eq!(seconds("months"), None);
    }

    proptest! {
        #[test]
        fn any_text_is_a_unit_or_none(text in "[a-zA-Z0-9 %°/.*^µ+-]{0,12}") {
            let _ = parse(&text);
        }
    }
}
