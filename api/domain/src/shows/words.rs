//! The closed vocabularies of shows.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};

use crate::sql::stored_as_text;
use crate::words::UnknownWord;

vocabulary! {
    /// What is counted in an exhibit.
    ExhibitUnit {
        /// A plant in its pot.
        Plant = "plant",
        /// A pot, of one plant or several.
        Pot = "pot",
        /// A hanging basket or hanging pot.
        Basket = "basket",
        /// One bloom or bloom head.
        Bloom = "bloom",
        /// A stem with its blooms.
        Stem = "stem",
        /// A spike.
        Spike = "spike",
        /// A truss.
        Truss = "truss",
        /// A leaf.
        Leaf = "leaf",
        /// A pip.
        Pip = "pip",
        /// A floret.
        Floret = "floret",
        /// A vase, taller than its mouth is wide.
        Vase = "vase",
        /// A bowl, its mouth as wide as it is high or wider.
        Bowl = "bowl",
        /// A board of blooms.
        Board = "board",
        /// An arrangement.
        Arrangement = "arrangement",
    }
}

impl ExhibitUnit {
    /// Whether it is cut from a plant, so that one plant may give any number.
    pub fn is_cut(self) -> bool {
        !matches!(self, Self::Plant | Self::Pot | Self::Basket)
    }

    /// The word for `count` of them.
    pub fn counted(self, count: u32) -> String {
        let (one, many) = match self {
            Self::Leaf => ("leaf", "leaves"),
            Self::Truss => ("truss", "trusses"),
            other => return format!("{count} {}{}", other.as_str(), if count == 1 { "" } else { "s" }),
        };
        format!("{count} {}", if count == 1 { one } else { many })
    }
}

vocabulary! {
    /// From where a height is measured.
    MeasuredFrom {
        /// The level of the compost.
        Compost = "compost",
        /// The rim of the pot.
        Rim = "rim",
    }
}

vocabulary! {
    /// To where a height is measured.
    MeasuredTo {
        /// The topmost leaf; flowers above it do not count.
        TopLeaf = "top_leaf",
        /// The topmost point, flowers and all.
        TopWithFlowers = "top_with_flowers",
        /// The lowest branch.
        LowestBranch = "lowest_branch",
    }
}

vocabulary! {
    /// What a class asks of flowers.
    FlowerRule {
        /// Nothing.
        Any = "any",
        /// There must be some.
        Needed = "needed",
        /// They must have been taken off.
        Removed = "removed",
    }
}

vocabulary! {
    /// What a class asks of names on exhibits.
    NamingRule {
        /// Nothing.
        Free = "free",
        /// They should be named: one that is not stays in.
        Should = "should",
        /// They must be named: one that is not is out.
        Must = "must",
    }
}

vocabulary! {
    /// Whether members of one household may enter one class.
    HouseholdRule {
        /// Each may enter.
        MayEach = "may_each",
        /// Only together, as one entry.
        Jointly = "jointly",
    }
}

vocabulary! {
    /// How near a past show is to this one.
    Reach {
        /// This show, in earlier years.
        ThisShow = "this_show",
        /// Any show of this society.
        ThisSociety = "this_society",
        /// A show of an affiliated society.
        Affiliated = "affiliated",
        /// Any other show.
        Elsewhere = "elsewhere",
    }
}

vocabulary! {
    /// The day on which an exhibitor's past is looked at.
    AsOf {
        /// The first day of the season: the level stands for that year.
        SeasonStart = "season_start",
        /// The day of entering.
        EntryDay = "entry_day",
        /// The day of the show.
        ShowDay = "show_day",
    }
}

vocabulary! {
    /// Whether an exhibit may be entered.
    Answer {
        /// It fits.
        Yes = "yes",
        /// It fits if what is not known now turns out well.
        Depends = "depends",
        /// It does not fit.
        No = "no",
    }
}

vocabulary! {
    /// What a reason does to the answer.
    Bearing {
        /// Worth knowing; the answer stays.
        Notes = "notes",
        /// A fact is not known: the answer depends on it.
        Opens = "opens",
        /// It does not fit as measured now, which may change until the steward measures: an exhibitor may enter
        /// all the same after saying that they have read it.
        Doubts = "doubts",
        /// It bars the entry.
        Bars = "bars",
    }
}

vocabulary! {
    /// Why an exhibit fits, may fit or does not; stable.
    ReasonCode {
        /// Entries are closed.
        EntriesClosed = "entries-closed",
        /// Entries have not opened yet.
        EntriesNotOpen = "entries-not-open",
        /// The same plants are entered in this class already.
        EntryDuplicate = "entry-duplicate",
        /// The plant is entered in another class.
        PlantAlreadyEntered = "plant-already-entered",
        /// The exhibitor has as many entries in the class as it takes from one.
        ClassLimitReached = "class-limit-reached",
        /// Each of an exhibitor's entries in the class must be of another cultivar.
        CultivarAlreadyEntered = "cultivar-already-entered",
        /// Another of the household is entered in the class.
        HouseholdConflict = "household-conflict",
        /// The class takes no joint names.
        JointNames = "joint-names",
        /// The class is for members.
        NotAMember = "not-a-member",
        /// The class is for amateurs.
        NotAnAmateur = "not-an-amateur",
        /// The exhibitor is too young or too old.
        AgeOutOfRange = "age-out-of-range",
        /// The exhibitor's age is not known.
        AgeUnknown = "age-unknown",
        /// The exhibitor's past results put them at another level.
        LevelNotEligible = "level-not-eligible",
        /// Results at other shows have not been declared.
        LevelUnknown = "level-unknown",
        /// The exhibitor judges the class.
        JudgeConflict = "judge-conflict",
        /// The exhibitor is entered in a class that shuts out this one.
        OtherClassEntered = "other-class-entered",
        /// Not of the plant groups asked for.
        KindMismatch = "kind-mismatch",
        /// The plant group is not known.
        KindUnknown = "kind-unknown",
        /// The cultivar is not one of those listed.
        NotListed = "not-listed",
        /// The cultivar is one of those left out.
        LeftOut = "left-out",
        /// The register holds the cultivar in another size group; what the plant measures decides.
        RegisterGroup = "register-group",
        /// The cultivar was introduced too late.
        IntroducedTooLate = "introduced-too-late",
        /// The year of introduction is not known.
        IntroductionUnknown = "introduction-unknown",
        /// Grown to another form.
        FormMismatch = "form-mismatch",
        /// The form is not known.
        FormUnknown = "form-unknown",
        /// Larger than the limit.
        OverSize = "over-size",
        /// Smaller than the limit.
        UnderSize = "under-size",
        /// Not measured.
        SizeUnknown = "size-unknown",
        /// The height is out of range.
        HeightOutOfRange = "height-out-of-range",
        /// The height is not known as the class measures it.
        HeightUnknown = "height-unknown",
        /// It is not expected to be in flower.
        FlowersMissing = "flowers-missing",
        /// It is not known whether it will be in flower.
        FlowersUnknown = "flowers-unknown",
        /// The flowers must be taken off.
        FlowersToRemove = "flowers-to-remove",
        /// It must be named.
        NameMissing = "name-missing",
        /// It should be named.
        NameWanted = "name-wanted",
        /// Not held long enough by the day of the show.
        OwnedTooShort = "owned-too-short",
        /// The day it was got is not known.
        OwnedUnknown = "owned-unknown",
        /// The exhibit took a first before.
        EarlierFirst = "earlier-first",
        /// Whether the exhibit took a first before is not known.
        EarlierFirstUnknown = "earlier-first-unknown",
        /// Not a seedling such as the class takes.
        SeedlingNotEligible = "seedling-not-eligible",
        /// What the class asks of a seedling is not known.
        SeedlingUnknown = "seedling-unknown",
        /// Neither more nor fewer than asked for are taken.
        CountMismatch = "count-mismatch",
        /// More are needed beside it.
        MoreNeeded = "more-needed",
        /// Cultivars must differ.
        NotDistinct = "not-distinct",
        /// Cultivars must be the same.
        NotAlike = "not-alike",
    }
}

vocabulary! {
    /// How heavy a finding is.
    FindingWeight {
        /// Worth a look.
        Note = "note",
        /// Likely a slip.
        Warning = "warning",
        /// It must be put right.
        Error = "error",
    }
}

vocabulary! {
    /// What is measured.
    Measure {
        /// The internal diameter of the pot at the rim; of a rectangular pot the longest internal side.
        Pot = "pot",
        /// The clear stem, from the compost to the lowest branch.
        ClearStem = "clear_stem",
        /// The diameter of the basket.
        Basket = "basket",
        /// The diameter of the bloom.
        Bloom = "bloom",
    }
}
