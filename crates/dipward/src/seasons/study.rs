//! A study made ready: its axes, its numbered cases and the scenario of each.

use std::{
    collections::{BTreeMap, BTreeSet},
    path::Path,
};

use dipward_plugin::{Assumption, Built, Fault, Faults, PolicyPoint, Registry, SeasonAxes};
use serde_json::{Value, json};
use sha2::{Digest, Sha256};

use super::{
    calendar::{Shift, day_of, year_of},
    choices::ChoiceRule,
    faults::{Found, StudyFaults},
    keys::{StudyKeys, StudyYear},
};
use crate::{
    criteria::AttainmentSpec,
    scenario::{Scenario, StationKeys},
};

/// More cases than anybody evaluates.
const MAX_CASES: u64 = 10_000_000;

/// A study made ready: all keys are right, and every scenario can be built.
#[derive(Debug)]
pub struct Study<'r> {
    /// What the planner wrote.
    pub keys: StudyKeys,
    /// SHA-256, in hex, of the study, its scenario, their files and the program's version.
    pub sha256: String,
    /// By what choices are told apart: as the scenario tells approaches apart by their chance.
    pub(super) rule: ChoiceRule,
    /// The stay at the pole, the same in all cases but for the policy.
    pub(super) station: StationKeys,
    /// What the result takes for granted.
    pub(super) assumptions: Vec<Assumption>,
    /// The scenario with the study's changes.
    base: Value,
    folder: std::path::PathBuf,
    registry: &'r Registry,
    base_notes: Vec<String>,
    base_year: i16,
    harbour_km: f64,
    axes: SeasonAxes,
    /// Hours from one departure to the next.
    every_h: f64,
}

/// Where a case stands on the axes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct CasePlace {
    /// Among the years.
    pub year: usize,
    /// Among the craft.
    pub craft: usize,
    /// Among the ports.
    pub port: usize,
    /// Among the days.
    pub day: usize,
    /// Among the policies.
    pub policy: usize,
}

impl<'r> Study<'r> {
    /// Makes a study ready.
    ///
    /// # Arguments
    ///
    /// `keys` and `scenario`: what the two files say. Files that they name are looked for in `folder`.
    ///
    /// # Errors
    ///
    /// Every fault of the study and of the scenarios that it makes.
    pub fn make(
        keys: StudyKeys,
        scenario: &Value,
        folder: &Path,
        registry: &'r Registry,
    ) -> Result<Self, StudyFaults> {
        let mut base = scenario.clone();
        patch(&mut base, &Value::Object(keys.change.clone()));
        if let Some(departures) = &keys.departures {
            let departures = serde_json::to_value(departures).unwrap_or_default();
            patch(&mut base, &json!({ "voyage": { "departures": departures } }));
        }
        // No writer is asked, so none is built.
        patch(&mut base, &json!({ "outputs": [] }));
        let none = Found { keys: &keys, year: usize::MAX, craft: usize::MAX };
        let of_base = Scenario::of(&base, folder, registry, None, false)
            .map_err(|faults| none.placed(faults))?;
        let base_keys = &of_base.keys;
        let days: Vec<String> =
            of_base.departures.iter().map(|&hour| day_of(of_base.clock.instant(hour))).collect();
        let policies = match &keys.policies {
            Some(policies) => policies.iter().map(|policy| policy.name.clone()).collect(),
            None => vec![of_base.policy.kind.clone()],
        };
        let crafts = match &keys.craft {
            Some(crafts) => crafts.iter().map(|craft| craft.name.clone()).collect(),
            None => vec![of_base.craft.object.name()],
        };
        let can_leave: Vec<String> = base_keys
            .voyage
            .ports
            .iter()
            .filter(|port| port.depart)
            .map(|port| port.name.clone())
            .collect();
        let axes = SeasonAxes {
            years: keys.years.iter().map(year_name).collect(),
            crafts,
            ports: keys.ports.clone().unwrap_or_else(|| can_leave.clone()),
            days,
            policies,
        };
        faults_of_axes(&axes, &keys, &can_leave).into_result(()).map_err(StudyFaults::of_study)?;
        let mut study = Self {
            sha256: String::new(),
            rule: ChoiceRule {
                indifference: of_base
                    .criteria
                    .iter()
                    .find(|built| built.object.name() == "attainment")
                    .map_or(AttainmentSpec::default().indifference, |one| {
                        one.object.indifference()
                    }),
                confidence: base_keys.confidence,
                seed: keys.seed,
            },
            station: base_keys.station.clone(),
            assumptions: Vec::new(),
            base_notes: base_keys.notes.clone(),
            base_year: year_of(base_keys.window.from),
            harbour_km: base_keys.voyage.harbour_km,
            every_h: base_keys.voyage.departures.every_h,
            base,
            folder: folder.to_owned(),
            registry,
            axes,
            keys,
        };
        study.check()?;
        Ok(study)
    }

    /// Builds the scenario of every year and of every craft once, notes what they take for granted
    /// and seals the study.
    fn check(&mut self) -> Result<(), StudyFaults> {
        let mut inputs: BTreeMap<String, String> = BTreeMap::new();
        let mut assumptions: Vec<Assumption> = Vec::new();
        let (mut of_study, mut of_scenario) = (Faults::default(), Faults::default());
        let years = (0..self.axes.years.len()).map(|year| (year, 0));
        let crafts = (1..self.axes.crafts.len()).map(|craft| (0, craft));
        for (year, craft) in years.chain(crafts) {
            match self.scenario(year, craft).and_then(|scenario| {
                let policies = self.policies(&scenario)?;
                Ok((scenario, policies))
            }) {
                Ok((scenario, policies)) => {
                    assumptions.extend(scenario.model.object.assumptions());
                    assumptions.extend(scenario.disturbance.object.assumptions());
                    assumptions
                        .extend(scenario.layers.iter().flat_map(|one| one.object.assumptions()));
                    assumptions.extend(scenario.craft.object.assumptions());
                    assumptions.extend(policies.iter().flat_map(|one| one.object.assumptions()));
                    inputs.extend(scenario.context.inputs());
                }
                Err(StudyFaults::Faults { study, scenario }) => {
                    of_study.extend(study);
                    of_scenario.extend(scenario);
                }
                Err(other) => return Err(other),
            }
        }
        if !(of_study.is_empty() && of_scenario.is_empty()) {
            return Err(StudyFaults::Faults { study: of_study, scenario: of_scenario });
        }
        assumptions.push(Assumption::new(
            "voyage.ports",
            format!(
                "a port is left and reached at the open cell nearest to it, up to {} km from its stated \
                 position",
                self.harbour_km
            ),
        ));
        assumptions.extend(self.keys.years.iter().filter_map(|year| self.moved_layers(year)));
        let mut told = BTreeSet::new();
        assumptions.retain(|one| told.insert(format!("{one:?}")));
        self.assumptions = assumptions;
        let mut sealed = json!({
            "version": crate::VERSION,
            "study": self.keys,
            "scenario": self.base,
            "inputs_sha256": inputs,
        });
        sealed.sort_all_objects();
        let digest = Sha256::digest(sealed.to_string());
        self.sha256 = digest.iter().map(|byte| format!("{byte:02x}")).collect();
        Ok(())
    }

    /// The names on the axes.
    #[must_use]
    pub fn axes(&self) -> SeasonAxes {
        self.axes.clone()
    }

    /// What the study and its scenario say of themselves.
    #[must_use]
    pub fn notes(&self) -> Vec<String> {
        self.keys.notes.iter().chain(&self.base_notes).cloned().collect()
    }

    /// The number of cases.
    #[must_use]
    pub fn len(&self) -> u64 {
        size(&self.axes)
    }

    /// Whether there is no case.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// Where a case stands: the policy turns fastest, then the day, the port, the craft, the year.
    /// Nothing beyond the last case.
    #[must_use]
    pub fn place(&self, case: u64) -> Option<CasePlace> {
        if case >= self.len() {
            return None;
        }
        let mut rest = usize::try_from(case).ok()?;
        let mut turn = |count: usize| {
            let at = rest % count;
            rest /= count;
            at
        };
        let policy = turn(self.axes.policies.len());
        let day = turn(self.axes.days.len());
        let port = turn(self.axes.ports.len());
        let craft = turn(self.axes.crafts.len());
        let year = turn(self.axes.years.len());
        Some(CasePlace { year, craft, port, day, policy })
    }

    /// How many worlds - years with a craft - the cases of a range lie in.
    #[must_use]
    pub fn worlds_in(&self, range: &std::ops::Range<u64>) -> u64 {
        let worlds = (self.axes.years.len() * self.axes.crafts.len()) as u64;
        let Some(of_one) = self.len().checked_div(worlds).filter(|&cases| cases > 0) else {
            return 0;
        };
        if range.is_empty() { 0 } else { (range.end - 1) / of_one - range.start / of_one + 1 }
    }

    /// The seed of a year and of all its cases: the first 53 bits of SHA-256 of the study's seed and the
    /// year's place, "5 0", so that every reader of JSON keeps it whole.
    #[must_use]
    pub fn seed_of(&self, year: usize) -> u64 {
        let digest = Sha256::digest(format!("{} {year}", self.keys.seed));
        let head = digest.iter().take(8).fold(0_u64, |head, byte| (head << 8) | u64::from(*byte));
        head >> 11
    }

    /// Hours from the first departure of a year to another.
    pub(super) fn since_first_h(&self, day: usize) -> f64 {
        day as f64 * self.every_h
    }

    /// The policies of the study, as the scenario of a case builds them.
    pub(super) fn policies(
        &self,
        scenario: &Scenario,
    ) -> Result<Vec<Built<PolicyPoint>>, StudyFaults> {
        let Some(variants) = &self.keys.policies else {
            let value = &self.station.policy.0;
            let built = self.registry.build("/station/policy", value, &scenario.context);
            return built.map(|built| vec![built]).map_err(StudyFaults::of_study);
        };
        let mut faults = Faults::default();
        let mut all = Vec::with_capacity(variants.len());
        for (index, variant) in variants.iter().enumerate() {
            let pointer = format!("/policies/{index}/policy");
            match self.registry.build(&pointer, &variant.policy.0, &scenario.context) {
                Ok(built) => all.push(built),
                Err(more) => faults.extend(more),
            }
        }
        faults.into_result(all).map_err(StudyFaults::of_study)
    }

    /// The scenario of a year and a craft; its departure is the first of the year.
    ///
    /// # Errors
    ///
    /// Its faults, each where the study or the scenario says what is wrong.
    pub fn scenario(&self, year: usize, craft: usize) -> Result<Scenario, StudyFaults> {
        let found = self.found(year, craft);
        let nowhere = || StudyFaults::of_study(Fault::at("/years", "there is no such case").into());
        let of_year = self.keys.years.get(year).ok_or_else(nowhere)?;
        let mut value = self.base.clone();
        if let Some(variant) = self.keys.craft.as_ref().and_then(|variants| variants.get(craft)) {
            let own = &variant.craft.0;
            match value.get_mut("craft") {
                Some(base) if own.get("kind").is_none() => patch(base, own),
                Some(base) => *base = own.clone(),
                None => {}
            }
        }
        let off_calendar = || {
            let fault =
                Fault::at(format!("/years/{year}"), "an instant of this year leaves the calendar");
            StudyFaults::of_study(fault.into())
        };
        let shift = Shift { years: of_year.year - self.base_year, days: 0.0 };
        for pointer in ["/window", "/voyage/departures/from"] {
            if let Some(part) = value.pointer_mut(pointer) {
                shift.of_all(part).ok_or_else(off_calendar)?;
            }
        }
        patch(&mut value, &json!({ "voyage": { "departures": { "until": null } } }));
        if let Some(layers) = &of_year.layers {
            patch(&mut value, &json!({ "chart": { "layers": layers } }));
        }
        if let Some(layers) = value.pointer_mut("/chart/layers") {
            self.layers_shift(of_year).of_all(layers).ok_or_else(off_calendar)?;
        }
        if let Some(disturbance) = &of_year.disturbance {
            // Not key by key: it is another disturbance.
            patch(&mut value, &json!({ "pole": { "disturbance": null } }));
            patch(&mut value, &json!({ "pole": { "disturbance": disturbance } }));
        }
        let seed = self.seed_of(year);
        let moved = self.layers_shift(of_year) != Shift { years: 0, days: 0.0 };
        let scenario = Scenario::of(&value, &self.folder, self.registry, Some(seed), moved)
            .map_err(|faults| found.placed(faults))?;
        let last = scenario.departures.first().copied().unwrap_or_default()
            + self.since_first_h(self.axes.days.len().saturating_sub(1));
        if last > scenario.window_hours {
            let message = "the last departure lies after the window of this year";
            let fault = Fault::at(format!("/years/{year}"), message)
                .help(format!("the window ends at {}", scenario.keys.window.until));
            return Err(StudyFaults::of_study(fault.into()));
        }
        Ok(scenario)
    }

    pub(super) fn found(&self, year: usize, craft: usize) -> Found<'_> {
        Found { keys: &self.keys, year, craft }
    }

    fn layers_shift(&self, year: &StudyYear) -> Shift {
        let own = if year.layers.is_some() { year.year } else { self.base_year };
        let written_for = year.layers_of.unwrap_or(own);
        Shift { years: year.year - written_for, days: year.layers_later_days }
    }

    /// What is assumed where layers stand for another time than their own.
    fn moved_layers(&self, year: &StudyYear) -> Option<Assumption> {
        let shift = self.layers_shift(year);
        let mut parts = Vec::new();
        if shift.years != 0 {
            parts.push(format!("is taken to be like that of {}", year.year - shift.years));
        }
        if shift.days != 0.0 {
            let way = if shift.days > 0.0 { "later" } else { "earlier" };
            parts.push(format!("is taken to come {} days {way}", shift.days.abs()));
        }
        let name = year_name(year);
        (!parts.is_empty())
            .then(|| Assumption::new("years", format!("{name}: the ice {}", parts.join(" and "))))
    }
}

fn year_name(year: &StudyYear) -> String {
    year.name.clone().unwrap_or_else(|| year.year.to_string())
}

fn size(axes: &SeasonAxes) -> u64 {
    [&axes.years, &axes.crafts, &axes.ports, &axes.days, &axes.policies]
        .into_iter()
        .fold(1_u64, |cases, axis| cases.saturating_mul(axis.len() as u64))
}

fn faults_of_axes(axes: &SeasonAxes, keys: &StudyKeys, can_leave: &[String]) -> Faults {
    let mut faults = Faults::default();
    for (index, port) in axes.ports.iter().enumerate() {
        if keys.ports.is_some() && !can_leave.contains(port) {
            let message = format!("the scenario has no port `{port}` to leave from");
            faults.push(
                Fault::at(format!("/ports/{index}"), message)
                    .help(format!("take of {}", can_leave.join(", "))),
            );
        }
    }
    for (axis, names) in [
        ("years", &axes.years),
        ("craft", &axes.crafts),
        ("ports", &axes.ports),
        ("policies", &axes.policies),
    ] {
        for (index, name) in names.iter().enumerate() {
            if names.iter().take(index).any(|earlier| earlier == name) {
                let message = format!("`{name}` stands here twice");
                let help = "give each a `name` of its own";
                faults.push(Fault::at(format!("/{axis}/{index}"), message).help(help));
            }
        }
    }
    if size(axes) > MAX_CASES {
        faults.push(
            Fault::at("", format!("{} cases are too many", size(axes)))
                .help(format!("{MAX_CASES} are the most")),
        );
    }
    faults
}

/// Replaces the keys that `change` has, mapping by mapping; null takes a key away (RFC 7396).
fn patch(value: &mut Value, change: &Value) {
    let Value::Object(change) = change else {
        *value = change.clone();
        return;
    };
    if !value.is_object() {
        *value = json!({});
    }
    let Some(map) = value.as_object_mut() else { return };
    for (key, new) in change {
        if new.is_null() {
            map.shift_remove(key);
        } else {
            patch(map.entry(key.clone()).or_insert(Value::Null), new);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The examples of RFC 7396, appendix A, that end in a mapping.
    #[test]
    fn published_merge_patches() {
        for (original, change, expected) in [
            (json!({"a": "b"}), json!({"a": "c"}), json!({"a": "c"})),
            (json!({"a": "b"}), json!({"b": "c"}), json!({"a": "b", "b": "c"})),
            (json!({"a": "b", "b": "c"}), json!({"a": null}), json!({"b": "c"})),
            (json!({"a": ["b"]}), json!({"a": "c"}), json!({"a": "c"})),
            (
                json!({"a": {"b": "c"}}),
                json!({"a": {"b": "d", "c": null}}),
                json!({"a": {"b": "d"}}),
            ),
            (json!({"a": [{"b": "c"}]}), json!({"a": [1]}), json!({"a": [1]})),
            (json!({"e": null}), json!({"a": 1}), json!({"e": null, "a": 1})),
            (json!({}), json!({"a": {"bb": {"ccc": null}}}), json!({"a": {"bb": {}}})),
        ] {
            let mut value = original;
            patch(&mut value, &change);
            assert_eq!(value, expected);
        }
    }
}
