//! What a plug-in author depends on, and nothing else: the extension points of `dipward`, the plain
//! values that pass between its rooms, the registry, and diagnostics with places.
//!
//! The data flow one way:
//!
//! ```text
//! scenario.yaml -> Registry -> MainField, Disturbance   -> ensemble of pole tracks
//!                              Layer                    -> chart
//!                              Craft                    -> PaceTable
//!                              LastLeg                  -> landings, a party to the pole and back
//!                              Search                   -> Route
//!                              Criterion                -> Ranking
//!                              Writer                   -> OutputFile
//! ```
//!
//! Conventions. Instants are UTC ([`jiff::Timestamp`]) outside and `f64` hours from the scenario's
//! start inside ([`Clock`]). Positions are [`geo::Point`] with x the longitude and y the latitude,
//! WGS84 degrees. Units stand in names. Vector quantities and heading sectors on the grid are in the
//! grid's own frame: sector angles run clockwise from the grid's +y axis.

mod activity;
mod clock;
pub mod conformance;
mod context;
mod control;
mod craft;
mod criterion;
mod diagnostics;
mod disturbance;
mod document;
mod error;
mod ice_stage;
mod kp;
mod last_leg;
mod last_leg_plan;
mod layer;
mod main_field;
mod policy;
mod provenance;
mod quantity;
mod ranking;
mod registry;
mod response;
mod schema;
mod search;
mod season;
mod turning;
mod voyage;
mod writer;

pub use activity::{Activity, ActivityRequest, KP_SLOT_H, KpSeries, KpSlots};
pub use clock::Clock;
pub use context::BuildContext;
pub use control::{Control, Progress};
pub use craft::{CellBatch, Closure, Craft, CraftMode, Look, PowerSetting, Stores, Travel};
pub use criterion::{Criterion, Direction};
pub use diagnostics::{Fault, Faults};
pub use disturbance::{
    Alternative, Disturbance, DisturbanceByKp, DisturbanceRequest, ExternalField,
};
pub use document::{Document, pointer_to};
pub use error::Error;
pub use ice_stage::{ICE_STAGES, IceStage};
pub use kp::Kp;
pub use last_leg::{
    AirStores, AirWeather, Aircraft, DepotFuel, DepotPass, DepotRule, LandingGround, LandingRule,
    LastLeg, March, MarchFuel, Means, OverIceParty, Stretch,
};
pub use last_leg_plan::{LastLegPlan, LegFuel, LegTravel, Sorties};
pub use layer::{Beyond, Change, Ground, Laid, Layer, Outline};
pub use main_field::{ComponentSigma, FieldSample, FieldSigma, FieldVector, MainField, Site};
pub use policy::{Action, Knowledge, OffsetKm, Policy};
pub use provenance::{Assumption, Provenance};
pub use quantity::Quantity;
pub use ranking::{
    Approach, Attainment, CAUTION, ChanceOfStay, ClosestApproach, CrustSensitivity, FirstAttained,
    FuelPlan, MemberOutcome, Pilotage, PoleSummary, Profile, Ranking, Rejected, SCHEMA_VERSION,
    StayOutcome, Warning, WayBound, Waypoint,
};
pub use registry::{
    ActivityPoint, Built, CraftPoint, CriterionPoint, DisturbancePoint, DuplicateKind, Kind,
    LastLegPoint, LayerPoint, MainFieldPoint, Point, PolicyPoint, Registry, ResponsePoint, SLOTS,
    SearchPoint, Spec, WriterPoint,
};
pub use response::Response;
pub use schema::{faults_by_schema, read_value, schema_of};
pub use search::{
    Berth, Goal, NoRoute, PaceTable, Route, RouteFailure, RoutePoint, RouteProblem, RouteSet,
    Search,
};
pub use season::{SeasonAxes, SeasonCase, SeasonChoice, SeasonOutcome, SeasonReport};
pub use turning::{
    CriticalPoint, TurnBack, TurnBackLimit, TurningCrossing, TurningDecision, TurningEvent,
    TurningScan,
};
pub use voyage::{LogEntry, Phase, PhaseRisk, Risk, RiskByPhase, VoyageLog};
pub use writer::{
    LayerRecord, MapPicture, OutputFile, PoleEllipse, PolePicture, Report, RunRecord, Writer,
};
