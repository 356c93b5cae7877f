use std::process::ExitCode;

use dipward_plugin::{BuildContext, Criterion, CriterionPoint, Direction, Faults, SLOTS, Spec};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::Value;

use crate::program::{repository, run};

#[test]
fn the_list_names_every_slot_and_kind() {
    let registry = dipward_cli::registry().unwrap();
    let text = run(&repository(), "kinds");
    let json: Value =
        serde_json::from_str(&run(&repository(), "kinds --format json").stdout).unwrap();
    let page = run(&repository(), "kinds --markdown").stdout;
    assert_eq!(json.as_array().unwrap().len(), registry.kinds().count());
    for slot in SLOTS {
        assert!(text.stdout.lines().any(|line| line == *slot));
        assert!(page.contains(&format!("\n## `{slot}`\n")));
        assert!(registry.kinds_of(slot).count() > 0, "{slot} has no kind");
    }
    for (kind, entry) in registry.kinds().zip(json.as_array().unwrap()) {
        assert_eq!(entry["kind"], kind.name);
        assert_eq!(entry["slot"], kind.slot);
        assert!(text.stdout.contains(&format!("  {}", kind.name)));
        assert!(page.contains(&format!("\n### `{}`\n", kind.name)));
        assert!(page.contains(kind.example.trim()));
    }
}

#[test]
fn the_reference_page_says_all_of_a_key() {
    let page = run(&repository(), "kinds --markdown").stdout;
    let row = page.lines().find(|line| line.starts_with("| `fuel.capacity_t` |")).unwrap();
    assert!(row.contains("| number | required | more than 0 and at most 50000 |"), "{row}");
    for line in page.lines().filter(|line| line.starts_with("| `")) {
        assert_eq!(line.replace("\\|", "").matches('|').count(), 6, "{line}");
    }
}

/// A third party's figure of merit.
#[derive(Debug, Default, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct CoffeeSpec {}

#[derive(Debug)]
struct Coffee;

impl Spec for CoffeeSpec {
    type Point = CriterionPoint;
    const KIND: &'static str = "coffee";
    const SUMMARY: &'static str = "cups of coffee on the way";
    const EXAMPLE: &'static str = "{kind: coffee}";

    fn build(self, _: &BuildContext) -> Result<Box<dyn Criterion>, Faults> {
        Ok(Box::new(Coffee))
    }
}

impl Criterion for Coffee {
    fn name(&self) -> String {
        "coffee".to_owned()
    }
    fn unit(&self) -> String {
        "1".to_owned()
    }
    fn direction(&self) -> Direction {
        Direction::Less
    }
    fn weight(&self) -> f64 {
        1.0
    }
    fn merit(&self, approach: &dipward_plugin::Approach) -> f64 {
        approach.duration_h / 4.0
    }
}

#[test]
fn another_program_is_the_whole_command_line_with_its_kinds() {
    let folder = crate::program::folder_with(&format!(
        "{}ranking: [{{ kind: coffee }}]\n",
        crate::program::OPEN_WATER
    ));
    let scenario = folder.path().join("scenario.yaml");
    let run_with = |registry| {
        let words = ["other".into(), "check".into(), "--quiet".into(), scenario.clone().into()];
        format!("{:?}", dipward_cli::run_with(&registry, words))
    };
    let mut registry = dipward_cli::registry().unwrap();
    assert_eq!(run_with(registry.clone()), format!("{:?}", ExitCode::from(2)));
    registry.register::<CoffeeSpec>().unwrap();
    assert_eq!(run_with(registry), format!("{:?}", ExitCode::SUCCESS));
}
