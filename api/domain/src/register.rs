//! The registration of a name, step by step.
//!
//! ```text
//! proposed --questioned--> questioned --answered--> proposed --registered--> registered
//!    |-- refused, withdrawn     |-- refused, withdrawn
//! ```

use crate::words::{RegistrationState, RegistrationStepKind};

/// Where a registration stands after a step; `None` where its state does not allow the step. A registration is
/// begun by being proposed, and what is registered, refused or withdrawn stays so.
pub const fn after(state: RegistrationState, step: RegistrationStepKind) -> Option<RegistrationState> {
    use RegistrationState as State;
    use RegistrationStepKind as Step;
    match (state, step) {
        (State::Proposed, Step::Questioned) => Some(State::Questioned),
        (State::Questioned, Step::Answered) => Some(State::Proposed),
        (State::Proposed, Step::Registered) => Some(State::Registered),
        (State::Proposed | State::Questioned, Step::Refused) => Some(State::Refused),
        (State::Proposed | State::Questioned, Step::Withdrawn) => Some(State::Withdrawn),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_goes_to_and_fro_until_it_is_decided() {
        use RegistrationState as State;
        use RegistrationStepKind as Step;
        let mut allowed = Vec::new();
        for state in State::ALL {
            for step in Step::ALL {
                if let Some(next) = after(*state, *step) {
                    allowed.push(format!("{state} {step} {next}"));
                }
            }
        }
        assert_eq!(
            allowed,
            [
                "proposed questioned questioned",
                "proposed registered registered",
                "proposed refused refused",
                "proposed withdrawn withdrawn",
                "questioned answered proposed",
                "questioned refused refused",
                "questioned withdrawn withdrawn",
            ]
        );
    }
}
