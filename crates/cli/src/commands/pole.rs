//! `dipward pole`.

mod account;

use std::io::{self, Write};

use dipward_field::{all_dip_poles, dip_pole};
use dipward_plugin::Error;
use rayon::prelude::*;

use self::account::{Account, ROW_HEADING};
use crate::{
    arguments::{Format, Pole},
    commands::{
        main_field::{main_field, refusal},
        output::print_as,
    },
    console,
    exit::Failure,
    moment::{Moment, moments},
    run::Session,
};

/// Poles sought at a time: rows appear as they are found, and all threads have work.
const BATCH: usize = 64;
/// A longer table is a slip of the pen.
const MAX_ROWS: usize = 100_000;

pub(crate) fn pole(session: &Session<'_>, request: &Pole) -> Result<(), Failure> {
    let hemisphere = request.hemisphere.into();
    let built = main_field(session, &request.model, hemisphere)?;
    let model = built.object.as_ref();
    let control = session.control;
    let account = |moment: &Moment| {
        control.check()?;
        if let Some(refusal) = refusal(model, moment.decimal_year) {
            return Err(Error::Outside(refusal));
        }
        let pole = dip_pole(model, hemisphere, moment.decimal_year, request.height_km)?;
        control.advance(1);
        Account::of(model, moment, &pole, request)
    };
    let Some(wanted) = asked_for(request)? else {
        let moment = request.at.ok_or_else(|| Failure::request("--at is missing"))?;
        let mut account = account(&moment)?;
        let further = all_dip_poles(model, moment.decimal_year, request.height_km);
        account.set_further(further.as_deref());
        return print_as(request.format, &account, |out| out.write_all(account.text().as_bytes()));
    };
    control.begin("poles", wanted.len() as u64);
    let batches = wanted.chunks(BATCH).map(|batch| {
        // The order of the instants is kept, and the first of them that fails is told.
        let found: Vec<Result<Account, Error>> = batch.par_iter().map(account).collect();
        found.into_iter().collect::<Result<Vec<Account>, _>>()
    });
    match request.format {
        Format::Table => {
            let mut heading = Some(ROW_HEADING);
            for batch in batches {
                let rows: String = batch?.iter().map(Account::row).collect();
                let heading = heading.take().unwrap_or_default();
                console::print(|out| write!(out, "{heading}{rows}"))?;
            }
            Ok(())
        }
        Format::Json => {
            let all: Vec<Vec<Account>> = batches.collect::<Result<_, _>>()?;
            let all: Vec<Account> = all.into_iter().flatten().collect();
            session.stages.end();
            console::print(|out| json(out, &all))
        }
    }
}

/// The instants of a table; `None` where one instant is asked for.
fn asked_for(request: &Pole) -> Result<Option<Vec<Moment>>, Failure> {
    let (Some(from), Some(to), Some(step)) = (request.from, request.to, request.step) else {
        return Ok(None);
    };
    let wanted: Vec<Moment> = moments(from, to, step).take(MAX_ROWS + 1).collect();
    if wanted.is_empty() {
        return Err(Failure::request("--to lies before --from"));
    }
    if wanted.len() > MAX_ROWS {
        return Err(Failure::request(format_args!(
            "more than {MAX_ROWS} instants; take a longer --step"
        )));
    }
    Ok(Some(wanted))
}

fn json(out: &mut impl Write, value: &impl serde::Serialize) -> io::Result<()> {
    serde_json::to_writer_pretty(&mut *out, value).map_err(io::Error::from)?;
    writeln!(out)
}
