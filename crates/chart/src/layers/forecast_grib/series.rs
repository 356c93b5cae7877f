//! The fields of each quantity in order of time, chosen and decoded.

use dipward_plugin::{Fault, Faults, Quantity};
use jiff::Timestamp;

use super::{
    ForecastGribSpec,
    choice::{Offer, Wish, choose},
};
use crate::image::{GribField, GribFile, Level, Levels, Parameter, PhysicalRange, Wanted};

pub(super) const U_WIND: Parameter = (0, 2, 2);
pub(super) const V_WIND: Parameter = (0, 2, 3);
const TEMPERATURE: Parameter = (0, 0, 0);

/// The quantities of single parameters: parameter, quantity, factor and offset to its unit.
pub(super) const SCALARS: [(Parameter, Quantity, f32, f32); 7] = [
    ((10, 2, 0), Quantity::ICE_CONCENTRATION, 1.0, 0.0),
    ((10, 2, 1), Quantity::ICE_THICKNESS, 1.0, 0.0),
    ((10, 0, 3), Quantity::WAVE_HEIGHT, 1.0, 0.0),
    // Of wind waves and swell together; both numbers from memory of code table 4.2.
    ((10, 0, 15), Quantity::WAVE_PERIOD, 1.0, 0.0),
    ((10, 3, 0), Quantity::SEA_TEMPERATURE, 1.0, -273.15),
    (TEMPERATURE, Quantity::AIR_TEMPERATURE, 1.0, -273.15),
    ((0, 19, 0), Quantity::VISIBILITY, 0.001, 0.0),
];

/// Both components of the wind, with their quantity and what faults call them.
pub(super) const WINDS: [(Parameter, Quantity, &str); 2] = [
    (U_WIND, Quantity::WIND_GRID_EAST, "wind to the east"),
    (V_WIND, Quantity::WIND_GRID_NORTH, "wind to the north"),
];

/// The levels at which a parameter counts.
pub(super) fn levels(parameter: Parameter) -> Levels {
    match parameter {
        U_WIND | V_WIND => Levels::AboveGroundOrSurface(10.0),
        // At the surface it is that of the ground or the water.
        TEMPERATURE => Levels::AboveGround(2.0),
        _ => Levels::Any,
    }
}

/// One fault for each parameter that the files have only as what is not taken; a note for each that they
/// have otherwise too.
pub(super) fn faults_of_passed_over(
    wanted: &[Wanted],
    files: &[(String, GribFile)],
    notes: &mut Vec<String>,
) -> Vec<Fault> {
    let mut faults = Vec::new();
    for (parameter, levels) in wanted {
        let passed = files
            .iter()
            .flat_map(|(_, file)| &file.passed_over)
            .filter(|passed| passed.parameter == *parameter);
        let reasons = |elsewhere: bool| {
            let mut reasons: Vec<&str> = passed
                .clone()
                .filter(|passed| passed.elsewhere == elsewhere)
                .map(|passed| passed.reason.as_str())
                .collect();
            reasons.sort_unstable();
            reasons.dedup();
            reasons
        };
        let (aloft, others) = (reasons(true), reasons(false));
        let (discipline, category, number) = parameter;
        let name = format!("{discipline}/{category}/{number}");
        let taken = files
            .iter()
            .any(|(_, file)| file.entries.iter().any(|entry| entry.parameter == *parameter));
        if taken {
            if !others.is_empty() {
                notes.push(format!(
                    "fields of {name} that are {} are passed over",
                    others.join(", ")
                ));
            }
            continue;
        }
        let (Levels::AboveGround(height_m) | Levels::AboveGroundOrSurface(height_m)) = levels
        else {
            if !others.is_empty() {
                faults.push(unfit(&name, &others));
            }
            continue;
        };
        if !aloft.is_empty() {
            faults.push(
                Fault::at(
                    "/files",
                    format!(
                        "the parameter {name} is there at {} alone, and {height_m} m above ground is \
                         wanted",
                        aloft.join(", ")
                    ),
                )
                .help("take the files with the fields near the surface, or leave these out"),
            );
        } else if !others.is_empty() {
            faults.push(unfit(&name, &others));
        }
    }
    faults
}

fn unfit(name: &str, reasons: &[&str]) -> Fault {
    Fault::at(
        "/files",
        format!("the parameter {name} is there as {} alone, not as itself", reasons.join(", ")),
    )
    .help("take the files with the forecast itself, or leave these fields out")
}

/// The fields of a quantity in order of time.
#[derive(Debug, Default)]
pub(super) struct Series {
    pub(super) fields: Vec<(Timestamp, GribField)>,
    /// Whether all of them are told for the surface.
    at_surface: bool,
}

impl Series {
    pub(super) fn at(&self, at: Timestamp) -> Option<&GribField> {
        self.fields.iter().find(|(own, _)| *own == at).map(|(_, field)| field)
    }
}

/// The most points that the fields of a layer may have together: 1 GB.
const MAX_POINTS: usize = 1 << 28;

pub(super) struct Decoder<'a> {
    pub(super) spec: &'a ForecastGribSpec,
    pub(super) files: &'a [(String, GribFile)],
    /// How many have been decoded so far.
    pub(super) points: usize,
    pub(super) notes: Vec<String>,
}

impl Decoder<'_> {
    /// Chooses and decodes the fields of a parameter.
    pub(super) fn series(
        &mut self,
        parameter: Parameter,
        quantity: Quantity,
        name: &str,
        (factor, offset): (f32, f32),
    ) -> Result<Series, Fault> {
        let offers: Vec<Offer<'_>> = self
            .files
            .iter()
            .flat_map(|(_, file)| file.entries.iter().map(move |entry| Offer { file, entry }))
            .filter(|offer| offer.entry.parameter == parameter)
            .collect();
        let wish = Wish { member: self.spec.member, run: self.spec.run };
        let chosen = choose(name, parameter, offers, wish)?;
        self.notes.extend(chosen.notes);
        let is_surface =
            |offer: &Offer<'_>| offer.entry.product.level.is_some_and(Level::is_surface);
        let mut series =
            Series { fields: Vec::new(), at_surface: chosen.offers.iter().any(is_surface) };
        for offer in &chosen.offers {
            let at = self
                .files
                .iter()
                .find(|(_, file)| std::ptr::eq(file, offer.file))
                .map_or("/files", |(at, _)| at.as_str());
            self.points += offer.file.points(offer.entry);
            if self.points > MAX_POINTS {
                return Err(Fault::at(
                    "/files",
                    format!("have more than {MAX_POINTS} points together: cut out the area"),
                ));
            }
            let mut field =
                offer.file.field(offer.entry).map_err(|error| Fault::at(at, error.to_string()))?;
            for value in &mut field.image.values {
                *value = *value * factor + offset;
            }
            let tally = PhysicalRange::of(quantity).check(&mut field.image);
            let tally = tally.map_err(|message| {
                let label = offer.file.label(offer.entry);
                let fault = Fault::at(at, format!("{label}: {message}"));
                match self.units_key(quantity) {
                    Some(key) => fault.help(key),
                    None => fault.help(
                        "if this stands for no value, write the file anew with a bitmap in its place",
                    ),
                }
            })?;
            self.notes.extend(tally.text(offer.file.path()));
            series.fields.push((offer.valid(), field));
        }
        Ok(series)
    }

    /// The key that settles a quantity whose values are in another unit.
    fn units_key(&self, quantity: Quantity) -> Option<&'static str> {
        if quantity == Quantity::ICE_CONCENTRATION && self.spec.units.ice_concentration.is_none() {
            Some("if the file counts it in per cent, state `units: {ice_concentration: percent}`")
        } else if quantity == Quantity::AIR_TEMPERATURE && self.spec.units.air_temperature.is_none()
        {
            Some(
                "if the file tells it in degrees Celsius, state `units: {air_temperature: celsius}`",
            )
        } else {
            None
        }
    }
}

/// Both components, where there are any: at the same times, or it is a fault.
pub(super) fn wind(
    east: Series,
    north: Series,
    notes: &mut Vec<String>,
    faults: &mut Faults,
) -> Option<[Series; 2]> {
    if east.fields.is_empty() && north.fields.is_empty() {
        return None;
    }
    let times = |series: &Series| series.fields.iter().map(|(at, _)| *at).collect::<Vec<_>>();
    let (of_east, of_north) = (times(&east), times(&north));
    let alone = of_east
        .iter()
        .find(|at| !of_north.contains(at))
        .or_else(|| of_north.iter().find(|at| !of_east.contains(at)));
    if let Some(at) = alone {
        faults.push(Fault::at(
            "/files",
            format!("has one component of the wind without the other for {at}"),
        ));
        return None;
    }
    let differ = east.fields.iter().zip(&north.fields).find(|((_, east), (_, north))| {
        east.along_grid != north.along_grid || east.image.placement != north.image.placement
    });
    if let Some(((at, _), _)) = differ {
        faults.push(Fault::at(
            "/files",
            format!("has the components of the wind for {at} on different grids"),
        ));
        return None;
    }
    if east.at_surface || north.at_surface {
        notes.push(
            "the wind that the files tell for the surface is taken for that at 10 m".to_owned(),
        );
    }
    Some([east, north])
}
