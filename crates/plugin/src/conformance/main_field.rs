use dipward_geodesy::Hemisphere;

use super::{promise, told};
use crate::{Error, FieldSample, MainField, Site};

/// Places where formulas divide by zero or wrap, and some where nothing is special.
const SITES: [Site; 7] = [
    site(90.0, 0.0, 0.0),
    site(-90.0, 45.0, 0.0),
    site(86.0, 180.0, 0.0),
    site(86.0, -180.0, 0.0),
    site(-64.2, 135.7, 0.5),
    site(81.3, -110.8, 100.0),
    site(0.0, 0.0, 0.0),
];

const fn site(latitude_deg: f64, longitude_deg: f64, height_km: f64) -> Site {
    Site { latitude_deg, longitude_deg, height_km }
}

/// Holds a main field to its contract: numbers that are finite, the same bits for a batch of sites as
/// for each alone, [`Error::Outside`] beyond its years and for sites that are none.
///
/// # Errors
///
/// A sentence that says which promise the model breaks.
pub fn check_main_field(field: &dyn MainField) -> Result<(), String> {
    told(&field.provenance(), &field.assumptions())?;
    let years = field.years();
    let (first, last) = (*years.start(), *years.end());
    promise(first <= last, || format!("the years {first} to {last} hold none"))?;
    // A model for all time may say so with infinite years.
    let year = first.max(last.min(2027.0));
    promise(year.is_finite(), || format!("the years {first} to {last} hold no year"))?;

    let sample = |year: f64, sites: &[Site]| {
        let mut out = vec![UNWRITTEN; sites.len()];
        field.sample(year, sites, &mut out).map(|()| out)
    };
    for year in [first, year, last].into_iter().filter(|year| year.is_finite()) {
        let batch = sample(year, &SITES).map_err(|error| format!("at {year}: {error}"))?;
        for (site, in_batch) in SITES.iter().zip(&batch) {
            let alone = sample(year, &[*site]).map_err(|error| format!("at {year}: {error}"))?;
            promise(numbers(in_batch).iter().all(|number| number.is_finite()), || {
                format!("at {year} the field at {site:?} is not finite: {in_batch:?}")
            })?;
            let same = alone.iter().all(|alone| bits(alone) == bits(in_batch));
            promise(same, || format!("at {year} {site:?} differs alone and in a batch"))?;
        }
        for hemisphere in [Hemisphere::North, Hemisphere::South] {
            let sigma = field.sigma(year, hemisphere);
            let sound = [sigma.forecast, sigma.crust]
                .iter()
                .flat_map(|part| [part.north_nt, part.east_nt])
                .all(|sigma_nt| sigma_nt.is_finite() && sigma_nt >= 0.0);
            promise(sound, || format!("an uncertainty must be 0 or more, not {sigma:?}"))?;
        }
    }
    sample(year, &[]).map_err(|error| format!("no sites at all are an error: {error}"))?;

    let refused = |year: f64, site: Site| {
        let answer = sample(year, &[site]);
        promise(matches!(answer, Err(Error::Outside(_))), || {
            format!("{site:?} at {year} must be `Error::Outside`, not {answer:?}")
        })
    };
    for year in [first - 1.0, last + 1.0, f64::NAN, f64::INFINITY] {
        if !years.contains(&year) {
            refused(year, SITES[4])?;
        }
    }
    for (latitude_deg, longitude_deg) in
        [(90.5, 0.0), (-91.0, 0.0), (f64::NAN, 0.0), (60.0, f64::NAN), (60.0, f64::INFINITY)]
    {
        refused(year, site(latitude_deg, longitude_deg, 0.0))?;
    }
    refused(year, site(60.0, 0.0, f64::NAN))
}

/// What an entry holds before it is written.
const UNWRITTEN: FieldSample = FieldSample {
    vector: crate::FieldVector { north_nt: f64::NAN, east_nt: f64::NAN, down_nt: f64::NAN },
    gradient_nt_per_km: [[f64::NAN; 3]; 3],
};

fn numbers(sample: &FieldSample) -> Vec<f64> {
    let vector = sample.vector;
    let mut numbers = vec![vector.north_nt, vector.east_nt, vector.down_nt];
    numbers.extend(sample.gradient_nt_per_km.as_flattened());
    numbers
}

fn bits(sample: &FieldSample) -> Vec<u64> {
    numbers(sample).into_iter().map(f64::to_bits).collect()
}
