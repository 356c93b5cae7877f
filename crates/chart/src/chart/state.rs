//! What a layer shows at an hour: one of its instants, a mixture of two, or nothing.

use dipward_plugin::{Beyond, Change, Error, Laid};

/// Which side of an hour is meant, where something changes at that very hour.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Side {
    /// As it was until then.
    Before,
    /// As it is from then on.
    Onwards,
}

/// What a layer shows.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum State {
    /// Nothing.
    Uncovered,
    /// One instant.
    At(usize),
    /// The instant `before` and the next, the next with `weight` (above 0 and below 1).
    Between { before: usize, weight: f32 },
}

/// The state of a layer at an hour.
///
/// ```text
///   step      hours    h0        h1        h2
///             shows  ?  At(0)---  At(1)---  ?         ? = the rule for beyond the instants
///   linear    shows  ?  At(0)..At(1)....At(2)  ?
/// ```
///
/// The rule `Refuse` was checked against the window when the chart was laid; here it holds.
pub(super) fn state_at(laid: &dyn Laid, hour: f64, side: Side) -> State {
    let hours = laid.hours();
    let Some(last) = hours.len().checked_sub(1) else { return State::At(0) };
    let begun = match side {
        Side::Before => hours.partition_point(|&instant| instant < hour),
        Side::Onwards => hours.partition_point(|&instant| instant <= hour),
    };
    let beyond = |instant| match laid.beyond() {
        Beyond::Uncovered => State::Uncovered,
        Beyond::Hold | Beyond::Refuse => State::At(instant),
    };
    match (begun.checked_sub(1), laid.change()) {
        (None, _) => beyond(0),
        (Some(before), _) if before >= last => beyond(last),
        (Some(before), Change::Step) => State::At(before),
        (Some(before), Change::Linear) => {
            let (from, to) = (hours[before], hours[before + 1]);
            let weight = ((hour - from) / (to - from)) as f32;
            if weight <= 0.0 {
                State::At(before)
            } else if weight >= 1.0 {
                State::At(before + 1)
            } else {
                State::Between { before, weight }
            }
        }
    }
}

/// Hours since the data that a layer shows, negative where those are still to come; nothing for a layer
/// without instants.
///
/// Between two instants it counts from the earlier one.
pub(super) fn age_h(laid: &dyn Laid, state: State, hour: f64) -> Option<f64> {
    let instant = match state {
        State::Uncovered => return None,
        State::At(instant) | State::Between { before: instant, .. } => instant,
    };
    laid.data_hour(instant).map(|at| hour - at)
}

/// Checks what a layer says of its instants, and that it does not refuse the window.
pub(super) fn check_instants(name: &str, laid: &dyn Laid, window_hours: f64) -> Result<(), Error> {
    let hours = laid.hours();
    let broken = |message: String| Error::Contract { kind: name.to_owned(), message };
    if hours.iter().any(|hour| !hour.is_finite()) {
        return Err(broken("has an instant that is not a number".to_owned()));
    }
    if hours.windows(2).any(|pair| pair[1] <= pair[0]) {
        return Err(broken("has instants that do not increase".to_owned()));
    }
    if let (Some(first), Some(last), Beyond::Refuse) = (hours.first(), hours.last(), laid.beyond())
        && (*first > 0.0 || *last < window_hours)
    {
        return Err(Error::Outside(format!(
            "the layer `{name}` covers the hours {first} to {last} from the start and refuses to be \
             asked beyond them, but the window is 0 to {window_hours}"
        )));
    }
    Ok(())
}

/// The hours inside the window at which some layer turns or jumps, each with the sides that need a
/// frame of their own.
///
/// # Returns
///
/// The window's start, then increasing hours; an hour at which a layer jumps stands twice, first as
/// it was and then as it is.
pub(super) fn frame_moments(layers: &[&dyn Laid], window_hours: f64) -> Vec<(f64, Side)> {
    let mut events: Vec<f64> = layers
        .iter()
        .flat_map(|laid| laid.hours().iter().copied())
        .filter(|hour| *hour > 0.0 && *hour <= window_hours)
        .collect();
    events.sort_by(f64::total_cmp);
    events.dedup();

    let mut moments = vec![(0.0, Side::Onwards)];
    for hour in events {
        let jumps = layers.iter().any(|laid| {
            state_at(*laid, hour, Side::Before) != state_at(*laid, hour, Side::Onwards)
        });
        let turns = layers
            .iter()
            .any(|laid| laid.change() == Change::Linear && laid.hours().contains(&hour));
        if jumps || turns {
            moments.push((hour, Side::Before));
        }
        // From the window's end on there is nothing left to plan.
        if jumps && hour < window_hours {
            moments.push((hour, Side::Onwards));
        }
    }
    // What is still changing when the window ends needs a frame there.
    let &(last, side) = moments.last().unwrap_or(&(0.0, Side::Onwards));
    let unfinished = layers.iter().any(|laid| {
        laid.change() == Change::Linear
            && state_at(*laid, last, side) != state_at(*laid, window_hours, Side::Before)
    });
    if unfinished && last < window_hours {
        moments.push((window_hours, Side::Before));
    }
    moments
}

#[cfg(test)]
mod tests {
    use std::ops::Range;

    use dipward_plugin::Quantity;

    use super::*;

    #[derive(Debug)]
    struct Times(Vec<f64>, Change, Beyond);

    impl Laid for Times {
        fn hours(&self) -> &[f64] {
            &self.0
        }
        fn change(&self) -> Change {
            self.1
        }
        fn beyond(&self) -> Beyond {
            self.2
        }
        fn fill(&self, _: Quantity, _: usize, _: Range<u32>, _: &mut [f32]) -> Result<(), Error> {
            Ok(())
        }
    }

    fn frames(layers: &[Times], window: f64) -> Vec<f64> {
        let layers: Vec<&dyn Laid> = layers.iter().map(|layer| layer as &dyn Laid).collect();
        frame_moments(&layers, window).into_iter().map(|(hour, _)| hour).collect()
    }

    #[test]
    fn a_step_is_two_frames_and_a_turn_is_one() {
        let step = || Times(vec![-5.0, 10.0, 20.0], Change::Step, Beyond::Hold);
        let linear = || Times(vec![0.0, 10.0, 30.0], Change::Linear, Beyond::Hold);
        assert_eq!(frames(&[], 48.0), [0.0]);
        assert_eq!(frames(&[step()], 48.0), [0.0, 10.0, 10.0, 20.0, 20.0]);
        assert_eq!(frames(&[step()], 10.0), [0.0, 10.0]);
        assert_eq!(frames(&[linear()], 48.0), [0.0, 10.0, 30.0]);
        assert_eq!(frames(&[linear(), step()], 25.0), [0.0, 10.0, 10.0, 20.0, 20.0, 25.0]);
    }

    #[test]
    fn the_first_instant_of_a_step_that_holds_backwards_is_no_frame() {
        let late = Times(vec![12.0], Change::Step, Beyond::Hold);
        assert_eq!(frames(&[late], 48.0), [0.0]);
        let uncovered_before = Times(vec![12.0, 30.0], Change::Step, Beyond::Uncovered);
        assert_eq!(frames(&[uncovered_before], 48.0), [0.0, 12.0, 12.0, 30.0, 30.0]);
    }

    #[test]
    fn states_follow_the_rule_beyond_the_instants() {
        let step = Times(vec![0.0, 10.0], Change::Step, Beyond::Uncovered);
        assert_eq!(state_at(&step, -1.0, Side::Onwards), State::Uncovered);
        assert_eq!(state_at(&step, 0.0, Side::Onwards), State::At(0));
        assert_eq!(state_at(&step, 10.0, Side::Before), State::At(0));
        assert_eq!(state_at(&step, 10.0, Side::Onwards), State::Uncovered);
        let linear = Times(vec![0.0, 10.0], Change::Linear, Beyond::Hold);
        let state = state_at(&linear, 2.5, Side::Onwards);
        assert_eq!(state, State::Between { before: 0, weight: 0.25 });
        assert_eq!(age_h(&linear, state, 2.5), Some(2.5));
        assert_eq!(state_at(&linear, 99.0, Side::Onwards), State::At(1));
        assert_eq!(age_h(&linear, State::At(0), -4.0), Some(-4.0));
    }

    #[test]
    fn instants_are_checked() {
        let bad = Times(vec![1.0, 1.0], Change::Step, Beyond::Hold);
        assert!(check_instants("x", &bad, 1.0).unwrap_err().to_string().contains("increase"));
        let short = Times(vec![0.0, 10.0], Change::Linear, Beyond::Refuse);
        let message = check_instants("wind", &short, 24.0).unwrap_err().to_string();
        assert!(message.contains("`wind`") && message.contains("0 to 24"), "{message}");
        assert!(check_instants("wind", &short, 10.0).is_ok());
    }
}
