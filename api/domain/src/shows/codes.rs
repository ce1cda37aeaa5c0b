//! Answers and the stable codes of reasons and findings.

use crate::words::vocabulary;

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
        /// The class asks something in words alone: a person judges.
        WordsToJudge = "words-to-judge",
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
    /// What is found in a schedule before it is published; stable.
    ScheduleCode {
        /// There are no classes.
        NoClasses = "no-classes",
        /// Two classes have one number.
        LabelTwice = "label-twice",
        /// A number of a withdrawn class is used again.
        LabelWithdrawn = "label-withdrawn",
        /// The number meant another class last year.
        LabelNewMeaning = "label-new-meaning",
        /// A class stands in a section that there is not.
        SectionUnknown = "section-unknown",
        /// Two sections have one key.
        SectionTwice = "section-twice",
        /// A section has no classes.
        SectionEmpty = "section-empty",
        /// A class asks for nothing to be shown.
        SlotMissing = "slot-missing",
        /// No size is within a limit.
        SizeImpossible = "size-impossible",
        /// The printed words hold a length that is not the limit's.
        WordsDisagree = "words-disagree",
        /// Pots between two sibling classes fit neither.
        PotGap = "pot-gap",
        /// Pots fit two sibling classes.
        PotOverlap = "pot-overlap",
        /// A limit on pots where nothing in a pot is shown.
        PotOfCut = "pot-of-cut",
        /// More different cultivars are asked for than there is room.
        DistinctImpossible = "distinct-impossible",
        /// What is asked for is also left out.
        TaxaImpossible = "taxa-impossible",
        /// Flowers must be off and are asked for.
        FlowersContradict = "flowers-contradict",
        /// Two classes ask for the same.
        ClassesAlike = "classes-alike",
        /// No exhibitor can be of the level or age.
        EntrantImpossible = "entrant-impossible",
        /// A class names one that there is not.
        ClassUnknown = "class-unknown",
        /// No entry is allowed at all.
        EntryLimitNought = "entry-limit-nought",
        /// No fee is settled.
        FeeMissing = "fee-missing",
        /// Money below nought.
        MoneyNegative = "money-negative",
        /// A lower place has the larger prize.
        PrizesRise = "prizes-rise",
        /// No judge is appointed.
        JudgeMissing = "judge-missing",
        /// A class names a points scheme that there is not.
        PointsUnknown = "points-unknown",
        /// Two points schemes have one key.
        PointsTwice = "points-twice",
        /// The criteria of a scale do not sum to its total.
        ScaleSum = "scale-sum",
        /// Entries close after the day of the show.
        ClosingLate = "closing-late",
        /// The closing time is no moment of the zone.
        ClosingNoMoment = "closing-no-moment",
        /// Two trophies have one key.
        TrophyTwice = "trophy-twice",
        /// A trophy has no classes.
        TrophyEmpty = "trophy-empty",
        /// A trophy points at what there is not.
        TrophyPointsNowhere = "trophy-points-nowhere",
        /// A trophy is won by what its classes do not carry.
        TrophyUncounted = "trophy-uncounted",
        /// A trophy for the winner of a class has several classes.
        TrophyManyClasses = "trophy-many-classes",
        /// Nothing decides at last between equals.
        TrophyTieOpen = "trophy-tie-open",
    }
}

vocabulary! {
    /// What does not add up in judgments; stable.
    ResultCode {
        /// A class that is not in the schedule.
        ClassUnknown = "class-unknown",
        /// An exhibit that there is not.
        EntryUnknown = "entry-unknown",
        /// Two exhibits have one number.
        EntryTwice = "entry-twice",
        /// The exhibit stands in another class.
        OtherClass = "other-class",
        /// The exhibit was not staged.
        NotStaged = "not-staged",
        /// Two things are said of one exhibit or class.
        JudgedTwice = "judged-twice",
        /// A class with staged exhibits is not judged.
        NotJudged = "not-judged",
        /// Places begin with 1.
        PlaceNought = "place-nought",
        /// A place is given twice, and not as equal.
        PlaceTwice = "place-twice",
        /// A place is given that equals above it use up.
        PlaceUsedUp = "place-used-up",
        /// A place is left out above one that is given.
        PlaceMissing = "place-missing",
        /// A place is withheld and given.
        WithheldGiven = "withheld-given",
        /// An exhibit is put out without a reason.
        ReasonMissing = "reason-missing",
        /// A choice names a trophy that there is not.
        TrophyUnknown = "trophy-unknown",
        /// A choice names what is not in the running.
        ChoiceNotInRunning = "choice-not-in-running",
    }
}

vocabulary! {
    /// An interest of a judge or steward; stable.
    ConflictCode {
        /// A judge judges their own exhibit.
        JudgeOwnExhibit = "judge-own-exhibit",
        /// A judge judges an exhibit of their household.
        JudgeHouseholdExhibit = "judge-household-exhibit",
        /// A judge exhibits at a show whose judges do not.
        JudgeExhibits = "judge-exhibits",
        /// A judge judges the show too many years running.
        JudgeYearsRunning = "judge-years-running",
        /// A steward exhibits in a section that they steward.
        StewardOwnSection = "steward-own-section",
    }
}
