//! How an exhibitor stands in whatever others read.

use super::class::ScheduleClass;
use crate::names::initials;
use crate::words::PublishAs;

/// Who an exhibitor is to others, as far as it decides how they are told.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Shielded {
    /// What they chose.
    pub chosen: PublishAs,
    /// One of the young, or somebody else to be shielded: never more than initials.
    pub is_protected: bool,
    /// Left the society: not named any more.
    pub has_left: bool,
}

impl Shielded {
    /// The form in which they are told: what they chose, or less.
    pub fn form(self) -> PublishAs {
        match self.chosen {
            _ if self.has_left => PublishAs::Withheld,
            PublishAs::Name if self.is_protected => PublishAs::Initials,
            chosen => chosen,
        }
    }

    /// The name as others read it; `number` is the exhibitor's at the show.
    pub fn told(self, name: &str, number: i32) -> String {
        match self.form() {
            PublishAs::Name => name.to_owned(),
            PublishAs::Initials => initials(name),
            PublishAs::Withheld => format!("Exhibitor {number}"),
        }
    }
}

impl ScheduleClass {
    /// Whether it is for the young: it has an upper age. Who enters it and whose age nobody knows is shielded.
    pub fn is_for_the_young(&self) -> bool {
        self.rules.entrants.age.is_some_and(|age| age.to.is_some())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nobody_is_told_more_than_they_chose_nor_the_shielded_by_name() {
        for chosen in [PublishAs::Name, PublishAs::Initials, PublishAs::Withheld] {
            for (is_protected, has_left) in [(false, false), (true, false), (false, true), (true, true)] {
                let told = Shielded { chosen, is_protected, has_left }.told("Wren Fell", 17);
                let by_name = chosen == PublishAs::Name && !is_protected && !has_left;
                assert_eq!(told == "Wren Fell", by_name, "{chosen} {is_protected} {has_left}");
                assert_eq!(told == "Exhibitor 17", has_left || chosen == PublishAs::Withheld);
            }
        }
    }
}
