//! The groups of a ranking, as a table draws them.

use dipward_plugin::Approach;

/// The approaches of a ranking group by group, each with its heading; one group without a heading where
/// no group holds several, and of a ranking of an earlier version, which tells none.
pub(crate) fn grouped(approaches: &[Approach]) -> Vec<(Option<String>, &[Approach])> {
    let runs: Vec<&[Approach]> = approaches.chunk_by(|a, b| a.group == b.group).collect();
    let told = approaches.iter().all(|approach| approach.group > 0);
    if !told || runs.iter().all(|run| run.len() == 1) {
        return vec![(None, approaches)];
    }
    runs.into_iter().map(|run| (run.first().map(|first| heading(first.group, run)), run)).collect()
}

fn heading(group: u32, run: &[Approach]) -> String {
    match run.len() {
        1 => format!("Group {group}"),
        count => format!(
            "Group {group}: the data do not tell these {count} apart within the stated indifference and confidence"
        ),
    }
}
