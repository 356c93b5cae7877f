//! The commands, one a file.

mod check;
mod field;
mod kinds;
mod main_field;
mod plan;
mod pole;
mod schema;

pub(crate) use self::{
    check::check, field::field, kinds::kinds, plan::plan, pole::pole, schema::schema,
};
