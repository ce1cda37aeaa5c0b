//! Reasons in words: what is the case, and what would make it fit.

use std::fmt;

use super::class::{Distinctness, HeightLimit};
use super::reason::{SeedlingPoint, Why};
use super::words::{Measure, MeasuredFrom, MeasuredTo, Reach};
use crate::words::PlantGroup;

impl fmt::Display for SeedlingPoint {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::RaisedByExhibitor => f.write_str("raised by the exhibitor"),
            Self::NotNamed => f.write_str("not named yet"),
            Self::NotIntroduced => f.write_str("not in commerce"),
            Self::NeverShown => f.write_str("never shown before"),
            Self::NoFirst(reach) => write!(f, "without a first at {}", near(*reach)),
        }
    }
}

pub(super) fn near(reach: Reach) -> &'static str {
    match reach {
        Reach::ThisShow => "this show",
        Reach::ThisSociety => "any show of this society",
        Reach::Affiliated => "any show of an affiliated society",
        Reach::Elsewhere => "any show",
    }
}

impl Why {
    /// What would make it fit, where something would.
    pub fn remedy(&self) -> Option<String> {
        Some(match self {
            Self::EntriesClosed { .. } => {
                "Ask the show's secretary: an officer may take a late entry.".to_owned()
            }
            Self::EntriesNotOpen { until } => {
                format!("Enter from {} on.", until.format("%Y-%m-%d at %H:%M %Z"))
            }
            Self::EntryDuplicate { .. } => "Change the entry that you have.".to_owned(),
            Self::PlantAlreadyEntered { .. } => {
                "Withdraw it from the other class, or enter another plant.".to_owned()
            }
            Self::ClassLimitReached { .. } => {
                "Change or withdraw an entry that you have in this class.".to_owned()
            }
            Self::CultivarAlreadyEntered => "Enter another cultivar.".to_owned(),
            Self::HouseholdConflict => "Enter together in joint names.".to_owned(),
            Self::JointNames => "Enter in one name.".to_owned(),
            Self::NotAMember => "Join the society.".to_owned(),
            Self::AgeUnknown { .. } => "Give the day of birth.".to_owned(),
            Self::LevelUnknown { .. } => {
                "Declare your results at other shows, or that you have none.".to_owned()
            }
            Self::KindUnknown => "Give the cultivar's plant group.".to_owned(),
            Self::IntroductionUnknown { .. } => "Find out when the cultivar was introduced.".to_owned(),
            Self::FormMismatch { wanted, .. } | Self::FormUnknown { wanted } => {
                format!("A plant grown as {}.", words(wanted))
            }
            Self::OverSize { what, limit, .. } | Self::UnderSize { what, limit, .. } => {
                format!("{} of {limit}.", a_measure(*what))
            }
            Self::SizeUnknown { what, limit } => format!("Measure {}: {limit} fits.", the_measure(*what)),
            Self::HeightOutOfRange { limit, .. } => format!("A height of {}.", height(limit)),
            Self::HeightUnknown { limit, .. } => format!("Measure the height: {} fits.", height(limit)),
            Self::FlowersMissing | Self::FlowersUnknown => {
                "A plant in flower on the day of the show.".to_owned()
            }
            Self::FlowersToRemove => "Take the flowers off before staging.".to_owned(),
            Self::NameMissing | Self::NameWanted => "Give the plant's name for its card.".to_owned(),
            Self::OwnedTooShort { by, .. } | Self::OwnedUnknown { by, .. } => {
                format!("A plant that you have held since {by} or longer.")
            }
            Self::EarlierFirstUnknown { .. } => "Say whether it took a first before.".to_owned(),
            Self::SeedlingUnknown(point) => format!("Say whether it is {point}."),
            Self::CountMismatch { unit, wanted, .. } => format!("Exactly {}.", unit.counted(*wanted)),
            Self::MoreNeeded { unit, more, others_differ } => {
                let differing = if *others_differ { ", each of another cultivar" } else { "" };
                format!("Add {}{differing}.", unit.counted(*more))
            }
            Self::NotDistinct { rule: Distinctness::AtLeast(least), .. } => {
                format!("At least {least} different cultivars.")
            }
            Self::NotDistinct { .. } => "A different cultivar in each place.".to_owned(),
            Self::NotAlike { .. } => "One cultivar throughout.".to_owned(),
            Self::WordsToJudge { .. } => "Read them beside your plant, or ask the secretary.".to_owned(),
            _ => return None,
        })
    }
}

pub(super) fn words<T: fmt::Display>(list: &[T]) -> String {
    let texts: Vec<String> = list.iter().map(|word| word.to_string().replace('_', " ")).collect();
    match texts.as_slice() {
        [first @ .., last] if !first.is_empty() => format!("{} or {last}", first.join(", ")),
        other => other.join(""),
    }
}

fn a_measure(what: Measure) -> &'static str {
    match what {
        Measure::Pot => "A pot",
        Measure::ClearStem => "A clear stem",
        Measure::Basket => "A basket",
        Measure::Bloom => "A bloom",
    }
}

fn the_measure(what: Measure) -> &'static str {
    match what {
        Measure::Pot => "the internal diameter of the pot at the rim",
        Measure::ClearStem => "the clear stem from the compost to the lowest branch",
        Measure::Basket => "the diameter of the basket",
        Measure::Bloom => "the diameter of the bloom",
    }
}

fn ways(from: MeasuredFrom, to: MeasuredTo) -> String {
    let from = match from {
        MeasuredFrom::Compost => "the compost",
        MeasuredFrom::Rim => "the rim of the pot",
    };
    let to = match to {
        MeasuredTo::TopLeaf => "the topmost leaf",
        MeasuredTo::TopWithFlowers => "the top, flowers and all",
        MeasuredTo::LowestBranch => "the lowest branch",
    };
    format!("from {from} to {to}")
}

pub(super) fn height(limit: &HeightLimit) -> String {
    format!("{} {}", limit.limit, ways(limit.measured_from, limit.measured_to))
}

/// The case in a sentence without its full stop.
impl fmt::Display for Why {
    #[allow(clippy::too_many_lines, reason = "a line for each reason")]
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let told = |group: PlantGroup| group.as_str().replace('_', " ");
        match self {
            Self::EntriesClosed { at } => {
                write!(f, "Entries closed on {}", at.format("%Y-%m-%d at %H:%M %Z"))
            }
            Self::EntriesNotOpen { .. } => f.write_str("Entries are not open yet"),
            Self::EntryDuplicate { have, .. } => {
                write!(f, "It is entered in this class already; you have {have}")
            }
            Self::PlantAlreadyEntered { have, needed, .. } => {
                write!(f, "With other classes {needed} would be needed; you have {have}")
            }
            Self::ClassLimitReached { limit } => {
                write!(f, "The class takes {limit} from one exhibitor, and you have entered as many")
            }
            Self::CultivarAlreadyEntered => f.write_str(
                "Each of your entries in this class must be of another cultivar, and this one is entered",
            ),
            Self::HouseholdConflict => f.write_str("Another of your household is entered in this class"),
            Self::JointNames => f.write_str("The class takes no joint names"),
            Self::NotAMember => f.write_str("The class is for members"),
            Self::NotAnAmateur => f.write_str("The class is for amateurs"),
            Self::AgeOutOfRange { age, rule } => {
                write!(f, "The exhibitor is {age} on {}; the class is for those ", rule.on)?;
                match (rule.from, rule.to) {
                    (Some(from), Some(to)) => write!(f, "from {from} to {to}"),
                    (Some(from), None) => write!(f, "of {from} and over"),
                    (None, Some(to)) => write!(f, "of {to} and under"),
                    (None, None) => f.write_str("of any age"),
                }
            }
            Self::AgeUnknown { on } => write!(f, "The exhibitor's age on {on} is not known"),
            Self::LevelNotEligible { level, standing } => {
                write!(f, "The class is for the level {level}; {} of your results count", standing.have)?;
                if let Some(most) = standing.at_most {
                    write!(f, ", at most {most} may")?;
                }
                if let Some(least) = standing.at_least {
                    write!(f, ", at least {least} must")?;
                }
                Ok(())
            }
            Self::LevelUnknown { level } => {
                write!(f, "The class is for the level {level}; your results at other shows are not known")
            }
            Self::JudgeConflict => f.write_str("You judge this class"),
            Self::OtherClassEntered { .. } => {
                f.write_str("You are entered in a class that shuts out this one")
            }
            Self::KindMismatch { given, wanted } => {
                write!(f, "It is {}; the class takes {}", told(*given), words(wanted))
            }
            Self::KindLeftOut { given } => write!(f, "It is {}, which the class leaves out", told(*given)),
            Self::KindUnknown => f.write_str("The cultivar's plant group is not known"),
            Self::NotListed => f.write_str("The cultivar is not one of those listed for this class"),
            Self::LeftOut => f.write_str("The class leaves this cultivar out"),
            Self::RegisterGroup { given } => {
                write!(f, "The register holds it as {}; what it measures at the show decides", told(*given))
            }
            Self::IntroducedTooLate { given, before } => {
                write!(f, "It was introduced in {given}; the class takes cultivars from before {before}")
            }
            Self::RaisedTooLate { given, before } => write!(
                f,
                "It was raised in {given}, so it was not introduced before; the class takes cultivars from before {before}"
            ),
            Self::WordsToJudge { words } => {
                write!(f, "The class asks in words that a person judges by: {words}")
            }
            Self::IntroductionUnknown { before } => {
                write!(
                    f,
                    "The class takes cultivars from before {before}; when this one was introduced is not known"
                )
            }
            Self::FormMismatch { given, .. } => {
                write!(f, "It is grown as {}", given.as_str().replace('_', " "))
            }
            Self::FormUnknown { .. } => f.write_str("The form that it is grown to is not known"),
            Self::OverSize { what, given, limit } | Self::UnderSize { what, given, limit } => {
                write!(f, "{} of {given}; the class asks for {limit}", a_measure(*what))
            }
            Self::SizeUnknown { what, limit } => {
                write!(
                    f,
                    "The class asks for {} of {limit}; it is not measured",
                    a_measure(*what).to_lowercase()
                )
            }
            Self::HeightOutOfRange { given, limit } => {
                write!(f, "{given} high; the class asks for {}", height(limit))
            }
            Self::HeightUnknown { measured: Some(other), limit } => write!(
                f,
                "The height was measured {}, the class measures {}",
                ways(other.measured_from, other.measured_to),
                ways(limit.measured_from, limit.measured_to)
            ),
            Self::HeightUnknown { measured: None, .. } => f.write_str("The height is not measured"),
            Self::FlowersMissing => f.write_str("It is not expected to be in flower on the day of the show"),
            Self::FlowersUnknown => {
                f.write_str("Whether it will be in flower on the day of the show is not known")
            }
            Self::FlowersToRemove => f.write_str("The class is judged without flowers"),
            Self::NameMissing => f.write_str("Exhibits must be named, and its name is not known"),
            Self::NameWanted => f.write_str("Exhibits should be named, and its name is not known"),
            Self::OwnedTooShort { need, since, .. } => {
                write!(f, "Held since {since}; it must be held for {need} by the day of the show")
            }
            Self::OwnedUnknown { need, .. } => {
                write!(f, "It must be held for {need} by the day of the show; since when is not known")
            }
            Self::EarlierFirst { reach } => write!(f, "It took a first at {}", near(*reach)),
            Self::EarlierFirstUnknown { reach } => {
                write!(f, "Whether it took a first at {} is not known", near(*reach))
            }
            Self::SeedlingNotEligible(point) => write!(f, "The class takes seedlings that are {point}"),
            Self::SeedlingUnknown(point) => {
                write!(f, "The class takes seedlings that are {point}, which is not known of this one")
            }
            Self::CountMismatch { unit, given, wanted } => {
                write!(f, "{} where the class asks for {wanted}", unit.counted(*given))
            }
            Self::MoreNeeded { unit, more, .. } => {
                write!(f, "An exhibit needs {} beside it", unit.counted(*more))
            }
            Self::NotDistinct { different, .. } => write!(f, "Only {different} different"),
            Self::NotAlike { different } => {
                write!(f, "{different} different cultivars where one is asked for")
            }
        }
    }
}
