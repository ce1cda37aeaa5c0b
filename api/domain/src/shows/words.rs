//! The closed vocabularies of shows.

use crate::words::vocabulary;

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

vocabulary! {
    /// A commendation: a code for an exhibit without a place.
    Commendation {
        /// Very highly commended.
        VeryHighly = "VHC",
        /// Highly commended.
        Highly = "HC",
        /// Commended.
        Commended = "C",
    }
}

vocabulary! {
    /// What equals have of points or prizes.
    TiedShare {
        /// An even share of what the places that they use up would have.
        Shared = "shared",
        /// Each all that the place has.
        Full = "full",
    }
}

vocabulary! {
    /// What comes after an equal place.
    NextPlace {
        /// As many places are skipped as the equals use up: after two firsts comes a third.
        Skipped = "skipped",
        /// The next place: after two firsts comes a second.
        Kept = "kept",
    }
}

vocabulary! {
    /// Where the pence go that equals cannot share.
    OddPence {
        /// They stay with the society.
        WithSociety = "with_society",
        /// The society makes each share up to the next penny.
        MadeUp = "made_up",
    }
}

vocabulary! {
    /// What decides between equals for a trophy.
    TieBreak {
        /// Most firsts.
        Firsts = "firsts",
        /// Most seconds.
        Seconds = "seconds",
        /// Most thirds.
        Thirds = "thirds",
        /// Most exhibits staged in the classes won, summed.
        WonClassSizes = "won_class_sizes",
        /// The judge.
        Judge = "judge",
        /// Nothing: the equals share it.
        Shared = "shared",
    }
}

#[allow(clippy::derivable_impls, reason = "the macro cannot mark the default")]
impl Default for TiedShare {
    fn default() -> Self {
        Self::Shared
    }
}

#[allow(clippy::derivable_impls, reason = "the macro cannot mark the default")]
impl Default for NextPlace {
    fn default() -> Self {
        Self::Skipped
    }
}

#[allow(clippy::derivable_impls, reason = "the macro cannot mark the default")]
impl Default for OddPence {
    fn default() -> Self {
        Self::WithSociety
    }
}
