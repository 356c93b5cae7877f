use super::{promise, told};
use jiff::Timestamp;

use crate::{CellBatch, Closure, Craft, Error, Look, Quantity, Travel};

/// Holds a craft to its contract: settings and stores that make sense, a pace above zero where a cell
/// is open and none where it is closed, burns that are finite, the same answer for a batch as for each
/// cell alone, and an answer to any numbers, also where a chart knows nothing.
///
/// # Errors
///
/// A sentence that says which promise the craft breaks.
pub fn check_craft(craft: &dyn Craft) -> Result<(), String> {
    told(&craft.provenance(), &craft.assumptions())?;
    promise(!craft.name().is_empty(), || "the craft has no name".to_owned())?;
    let settings = craft.settings();
    let fractions: Vec<f64> = settings.iter().map(|setting| setting.fraction).collect();
    let descend = fractions.iter().all(|fraction| (0.0..=1.0).contains(fraction))
        && fractions.windows(2).all(|pair| pair[0] >= pair[1]);
    promise(!fractions.is_empty() && descend, || {
        format!("power settings are one or more shares, the greatest first, not {fractions:?}")
    })?;
    promise(craft.sectors() > 0, || "there must be at least one heading sector".to_owned())?;
    let stores = craft.stores();
    let sound = [stores.capacity_t, stores.reserve_t, stores.hold_t_per_h]
        .iter()
        .all(|number| number.is_finite() && *number >= 0.0);
    promise(sound, || format!("stores must be finite and not negative: {stores:?}"))?;

    let columns = columns(&craft.reads());
    for setting in 0..settings.len() {
        for sector in 0..craft.sectors() {
            check_travel(craft, &columns, setting, sector)?;
        }
    }
    check_cautions(craft)?;
    // A chart without any column: an answer or a refusal.
    match travel(craft, &[], CELLS, 0, 0) {
        Ok(out) => out.iter().try_for_each(check_one),
        Err(Error::Outside(_)) => Ok(()),
        Err(other) => Err(format!("without any quantity: {other}")),
    }
}

fn check_travel(
    craft: &dyn Craft,
    columns: &[(Quantity, Vec<f32>)],
    setting: usize,
    sector: u16,
) -> Result<(), String> {
    let place = || format!("setting {setting}, sector {sector}");
    let whole: Vec<(Quantity, &[f32])> =
        columns.iter().map(|(quantity, values)| (*quantity, values.as_slice())).collect();
    let batch = travel(craft, &whole, CELLS, setting, sector)
        .map_err(|error| format!("{}: {error}", place()))?;
    for (cell, in_batch) in batch.iter().enumerate() {
        check_one(in_batch).map_err(|broken| format!("{}: {broken}", place()))?;
        let single: Vec<(Quantity, &[f32])> = columns
            .iter()
            .filter_map(|(quantity, values)| Some((*quantity, values.get(cell..=cell)?)))
            .collect();
        let alone = travel(craft, &single, 1, setting, sector)
            .map_err(|error| format!("{}: {error}", place()))?;
        promise(alone.iter().all(|alone| bits(alone) == bits(in_batch)), || {
            format!("{}: a cell differs alone and in a batch: {alone:?}, {in_batch:?}", place())
        })?;
    }
    Ok(())
}

/// Cautions are sentences, whatever the numbers.
fn check_cautions(craft: &dyn Craft) -> Result<(), String> {
    let quantities: Vec<Quantity> =
        craft.reads().into_iter().chain(craft.caution_reads()).collect();
    let columns = columns(&quantities);
    for cell in 0..CELLS {
        let single: Vec<(Quantity, &[f32])> = columns
            .iter()
            .filter_map(|(quantity, values)| Some((*quantity, values.get(cell..=cell)?)))
            .collect();
        let look = Look {
            latitude_deg: if cell % 2 == 0 { -70.0 } else { 80.0 },
            longitude_deg: 30.0,
            time: Timestamp::UNIX_EPOCH,
            speed_kn: cell as f64 / 4.0,
            grid_course_deg: if cell % 5 == 0 { f64::NAN } else { cell as f64 },
            cell: &CellBatch { len: 1, columns: &single },
        };
        for text in craft.cautions(&look) {
            promise(!text.is_empty() && !text.ends_with('.'), || {
                format!("a caution is a sentence without a full stop: {text:?}")
            })?;
        }
    }
    Ok(())
}

fn travel(
    craft: &dyn Craft,
    columns: &[(Quantity, &[f32])],
    len: usize,
    setting: usize,
    sector: u16,
) -> Result<Vec<Travel>, Error> {
    let unwritten = Travel { pace_h_per_km: f32::NAN, ..Travel::closed(Closure::Open, 0.0) };
    let mut out = vec![unwritten; len];
    craft.travel(&CellBatch { len, columns }, setting, sector, &mut out)?;
    Ok(out)
}

/// What must hold of every answer.
fn check_one(travel: &Travel) -> Result<(), String> {
    let open = travel.closure == Closure::Open;
    promise(travel.pace_h_per_km > 0.0 && travel.pace_h_per_km.is_finite() == open, || {
        format!("a pace is above zero, finite where open and infinite where closed: {travel:?}")
    })?;
    promise(travel.burn_t_per_h.is_finite() && travel.burn_t_per_h >= 0.0, || {
        format!("a burn must be finite and not negative: {travel:?}")
    })?;
    promise(!travel.risk_index.is_infinite(), || format!("the risk index: {travel:?}"))
}

fn bits(travel: &Travel) -> (u32, u32, Option<u32>, bool, Closure) {
    let risk = (!travel.risk_index.is_nan()).then(|| travel.risk_index.to_bits());
    let burn = travel.burn_t_per_h.to_bits();
    (travel.pace_h_per_km.to_bits(), burn, risk, travel.elevated, travel.closure)
}

/// Numbers that a chart may hold, sensible for one quantity or another.
const VALUES: [f32; 13] =
    [0.0, 1.0, f32::NAN, 0.3, -4000.0, 2.5, -12.0, 0.9, 80.0, -0.0, 1e-30, 7.0, 3000.0];
const CELLS: usize = VALUES.len() * VALUES.len() + 2;

/// A column for each quantity that differs from the others': open water, unbroken ice, then mixtures
/// of all values.
fn columns(quantities: &[Quantity]) -> Vec<(Quantity, Vec<f32>)> {
    let each = quantities.iter().enumerate();
    each.map(|(index, &quantity)| {
        let depth = quantity == Quantity::ELEVATION;
        let ice = quantity == Quantity::ICE_CONCENTRATION || quantity == Quantity::ICE_THICKNESS;
        let plain =
            [if depth { -4000.0 } else { 0.0 }, if depth { -4000.0 } else { f32::from(ice) }];
        let mixed = (0..VALUES.len() * VALUES.len()).map(|cell| {
            let (row, column) = (cell / VALUES.len(), cell % VALUES.len());
            VALUES[(column + row * (index + 1)) % VALUES.len()]
        });
        (quantity, plain.into_iter().chain(mixed).collect())
    })
    .collect()
}
