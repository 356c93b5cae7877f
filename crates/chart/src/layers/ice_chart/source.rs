//! The polygons of a chart's file with the attributes of SIGRID-3, whatever its service calls them.

use std::{collections::BTreeMap, path::Path};

use dipward_plugin::{BuildContext, Error};
use jiff::{Timestamp, civil::Date, tz::TimeZone};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::{Map, Value};

use super::ChartFile;
use crate::{
    codes::code_of,
    vector::{AreaFeature, AreaFile, read_area_file},
};

/// What a date in the name of a chart's file means.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum DateInName {
    /// The day for which the chart is valid; another day is a mistake.
    #[default]
    Check,
    /// Nothing.
    Ignore,
}

/// Words of a column that each stand for attributes of SIGRID-3.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ClassLegend {
    /// The column of the file that holds the words.
    column: String,
    /// What each word stands for: attributes of SIGRID-3 and their codes. The words of the WMO's
    /// nomenclature (`very close drift ice`, `open water`, ...) need not be stated.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    words: BTreeMap<String, BTreeMap<String, String>>,
}

/// The nomenclature's words for concentrations and their codes: CT, and FA for fast ice.
///
/// Source: WMO Sea-Ice Nomenclature, WMO-No. 259, section 4; codes of SIGRID-3 (JCOMM TR-23). From memory.
const WORDS: [(&str, &str, Option<&str>); 22] = [
    ("ice free", "00", None),
    ("ice-free", "00", None),
    ("open water", "01", None),
    ("bergy water", "02", None),
    ("very open ice", "13", None),
    ("very open drift ice", "13", None),
    ("very open pack ice", "13", None),
    ("open ice", "46", None),
    ("open drift ice", "46", None),
    ("open pack ice", "46", None),
    ("close ice", "78", None),
    ("close drift ice", "78", None),
    ("close pack ice", "78", None),
    ("very close ice", "91", None),
    ("very close drift ice", "91", None),
    ("very close pack ice", "91", None),
    ("compact ice", "92", None),
    ("compact drift ice", "92", None),
    ("compact pack ice", "92", None),
    ("consolidated ice", "92", None),
    ("consolidated pack ice", "92", None),
    ("fast ice", "92", Some("08")),
];

/// What a service calls its columns and classes.
#[derive(Debug, Clone, Copy)]
pub(super) struct Legend<'a> {
    pub(super) columns: &'a BTreeMap<String, String>,
    pub(super) classes: Option<&'a ClassLegend>,
}

/// Reads the polygons of a chart, and gives them the attributes of SIGRID-3.
///
/// # Errors
///
/// [`Error::File`] for what is wrong with the file, for a column or a word that the legend lacks, and for
/// a name that tells another day than `valid`.
pub(super) fn read_chart(
    chart: &ChartFile,
    legend: Legend<'_>,
    context: &BuildContext,
) -> Result<AreaFile, Error> {
    let wrong = |message: String| Error::File { path: chart.file.clone(), message };
    if chart.date_in_name == DateInName::Check && !context.dates_moved() {
        check_date(&chart.file, chart.valid).map_err(wrong)?;
    }
    let mut file = read_area_file(&chart.file, chart.table.as_deref(), context)?;
    for feature in &mut file.features {
        translate(feature, legend)
            .map_err(|message| wrong(format!("{}: {message}", feature.label)))?;
    }
    file.notes.extend(unknown(&chart.file, &file.features));
    Ok(file)
}

/// Puts attributes of SIGRID-3 beside those of the service.
fn translate(feature: &mut AreaFeature, legend: Legend<'_>) -> Result<(), String> {
    let mut own: Map<String, Value> = Map::new();
    for (name, column) in legend.columns {
        let Some((_, value)) =
            feature.properties.iter().find(|(key, _)| key.eq_ignore_ascii_case(column))
        else {
            return Err(format!("has no column `{column}`, which `columns` gives for {name}"));
        };
        own.insert(name.clone(), value.clone());
    }
    if let Some(classes) = legend.classes {
        let column = &classes.column;
        let word = match feature.attribute(column) {
            Some(Value::String(word)) => word.trim().to_owned(),
            Some(Value::Number(number)) => number.to_string(),
            _ => return Err(format!("has no word in the column `{column}` of `classes`")),
        };
        let stated = classes.words.iter().find(|(own, _)| own.eq_ignore_ascii_case(&word));
        let known = WORDS.iter().find(|(own, ..)| own.eq_ignore_ascii_case(&word));
        match (stated, known) {
            (Some((_, codes)), _) => {
                own.extend(codes.iter().map(|(name, code)| (name.clone(), code.as_str().into())));
            }
            (None, Some((_, total, form))) => {
                own.insert("CT".to_owned(), (*total).into());
                own.extend(form.map(|form| ("FA".to_owned(), form.into())));
            }
            (None, None) => {
                return Err(format!(
                    "has the class `{word}`, which is no word of the WMO's nomenclature: state it under \
                     `classes: {{column: {column}, words: {{{word}: {{CT: ..}}}}}}`"
                ));
            }
        }
    }
    for (name, value) in own {
        feature.properties.retain(|key, _| !key.eq_ignore_ascii_case(&name));
        feature.properties.insert(name, value);
    }
    Ok(())
}

/// Areas of which the chart does not say how much ice there is.
fn unknown(path: &Path, features: &[AreaFeature]) -> Vec<String> {
    let (mut without, mut no_data) = (0, 0);
    for feature in features {
        let kind = feature.attribute("POLY_TYPE").and_then(Value::as_str).map_or("", str::trim);
        let total = code_of(feature.attribute("CT")).ok().flatten();
        match kind {
            "N" => no_data += 1,
            "L" | "S" | "W" => {}
            _ if total.is_none() || total == Some(99) => without += 1,
            _ => {}
        }
    }
    let file = path.display();
    let of = features.len();
    [
        (without, "are ice without a total concentration (CT) and count as unknown ice"),
        (no_data, "are without data (POLY_TYPE N) and count as not covered"),
    ]
    .into_iter()
    .filter(|(count, _)| *count > 0)
    .map(|(count, what)| format!("{file}: {count} of {of} areas {what}"))
    .collect()
}

/// Holds the date in a file's name against the day for which the chart is valid.
///
/// SIGRID-3 names files like `cis_SGRDREA_20201102T1800Z_pl_a`.
fn check_date(path: &Path, valid: Timestamp) -> Result<(), String> {
    let stem = path.file_stem().map(|stem| stem.to_string_lossy().into_owned());
    let dates = dates_in(&stem.unwrap_or_default());
    let day = TimeZone::UTC.to_datetime(valid).date();
    if dates.is_empty() || dates.contains(&day) {
        return Ok(());
    }
    let named: Vec<String> = dates.iter().map(ToString::to_string).collect();
    Err(format!(
        "is a chart of {} by its name, but `valid` is {day}: correct one of them, or state `date_in_name: \
         ignore`",
        named.join(" and ")
    ))
}

/// The dates that a name holds, as `20201102` or `2020-11-02`.
fn dates_in(name: &str) -> Vec<Date> {
    let mut dates = Vec::new();
    let bytes = name.as_bytes();
    let is_digit = |at: usize| bytes.get(at).is_some_and(u8::is_ascii_digit);
    for start in 0..bytes.len() {
        if start > 0 && is_digit(start - 1) {
            continue;
        }
        let word =
            |length: usize| name.get(start..start + length).filter(|_| !is_digit(start + length));
        let plain = word(8).map(str::to_owned);
        let parted = word(10).map(|word| word.replace(['-', '_', '.'], ""));
        let digits = [plain, parted]
            .into_iter()
            .flatten()
            .find(|digits| digits.len() == 8 && digits.bytes().all(|digit| digit.is_ascii_digit()));
        let Some(digits) = digits else { continue };
        let number = |range: std::ops::Range<usize>| digits.get(range)?.parse::<i16>().ok();
        let date = number(0..4).zip(number(4..6)).zip(number(6..8)).and_then(|((y, m), d)| {
            Date::new(y, i8::try_from(m).ok()?, i8::try_from(d).ok()?).ok()
        });
        dates.extend(date.filter(|date| (1900..2200).contains(&date.year())));
    }
    dates
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn dates_in_names_are_found() {
        let found = |name: &str| -> Vec<String> {
            dates_in(name).iter().map(ToString::to_string).collect()
        };
        assert_eq!(found("cis_SGRDREA_20201102T1800Z_pl_a"), ["2020-11-02"]);
        assert_eq!(found("ice-2027-01-11"), ["2027-01-11"]);
        assert_eq!(found("antarc201102"), Vec::<String>::new());
        assert_eq!(found("x20201302"), Vec::<String>::new());
        assert_eq!(found("120201102"), Vec::<String>::new());
        let valid = "2027-01-11T12:00Z".parse().unwrap();
        assert_eq!(check_date(Path::new("ice-2027-01-11.shp"), valid), Ok(()));
        let message = check_date(Path::new("nic_20270110.shp"), valid).unwrap_err();
        assert!(message.contains("date_in_name: ignore"), "{message}");
    }
}
