//! The commands, one a file.

mod chart;
mod check;
mod evidence;
mod field;
mod fix;
mod kinds;
mod main_field;
mod output;
mod plan;
mod pole;
mod readings;
mod replan;
mod schema;
mod seasons;
mod swing;
mod verify;
mod windows;

pub(crate) use self::{
    chart::chart,
    check::check,
    evidence::evidence,
    field::field,
    fix::fix,
    kinds::kinds,
    plan::plan,
    pole::pole,
    replan::replan,
    schema::schema,
    seasons::{merge, seasons},
    swing::swing,
    verify::verify,
    windows::windows,
};
