//! The closed vocabularies of the trade. Each word is stored and sent as written here.

/// The text is not one of the words of a vocabulary.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
// Enough of it to know it again, whatever was sent.
#[error("`{}` is not one of: {}", .given.chars().take(60).collect::<String>(), .expected.join(", "))]
pub struct UnknownWord {
    /// What was given.
    pub given: String,
    /// What would have been taken.
    pub expected: Vec<&'static str>,
}

macro_rules! vocabulary {
    ($(#[doc = $doc:literal])* $name:ident { $($(#[doc = $vdoc:literal])* $variant:ident = $word:literal,)+ }) => {
        $(#[doc = $doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, serde::Serialize, serde::Deserialize)]
        #[cfg_attr(feature = "sql", derive(diesel::expression::AsExpression, diesel::deserialize::FromSqlRow))]
        #[cfg_attr(feature = "sql", diesel(sql_type = diesel::sql_types::Text))]
        pub enum $name {
            $($(#[doc = $vdoc])* #[serde(rename = $word)] $variant,)+
        }

        impl $name {
            /// Every word, in the order a reader expects.
            pub const ALL: &'static [Self] = &[$(Self::$variant,)+];

            /// The word as stored and sent.
            pub const fn as_str(&self) -> &'static str {
                match self { $(Self::$variant => $word,)+ }
            }
        }

        impl std::str::FromStr for $name {
            type Err = $crate::words::UnknownWord;
            fn from_str(text: &str) -> Result<Self, $crate::words::UnknownWord> {
                match text {
                    $($word => Ok(Self::$variant),)+
                    other => Err($crate::words::UnknownWord {
                        given: other.to_owned(),
                        expected: Self::ALL.iter().map(Self::as_str).collect(),
                    }),
                }
            }
        }

        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.write_str(self.as_str())
            }
        }

        impl utoipa::PartialSchema for $name {
            fn schema() -> utoipa::openapi::RefOr<utoipa::openapi::schema::Schema> {
                let description = concat!($($doc,)* $("\n\n- `", $word, "`:", $($vdoc,)*)+);
                utoipa::openapi::schema::ObjectBuilder::new()
                    .schema_type(utoipa::openapi::schema::Type::String)
                    .enum_values(Some(Self::ALL.iter().map(Self::as_str)))
                    .description(Some(description.trim()))
                    .into()
            }
        }

        impl utoipa::ToSchema for $name {
            fn name() -> std::borrow::Cow<'static, str> {
                std::borrow::Cow::Borrowed(stringify!($name))
            }
        }

        $crate::sql::stored_as_text!($name);
    };
}

pub(crate) use vocabulary;

vocabulary! {
    /// Where a member stands with the society.
    Standing {
        /// Asked to join; an officer has not decided.
        Requested = "requested",
        /// May log in.
        Active = "active",
        /// Shut out for now by an administrator.
        Suspended = "suspended",
        /// No longer a member.
        Left = "left",
    }
}

vocabulary! {
    /// A role held for the whole society.
    SocietyRole {
        /// Keeps the register of names and parents.
        Registrar = "registrar",
        /// Keeps the server: accounts, regions, weather, settings.
        Administrator = "administrator",
    }
}

vocabulary! {
    /// A role held in one club.
    ClubRole {
        /// Belongs to the club.
        Member = "member",
        /// Publishes the club's shows and takes its new members.
        Secretary = "secretary",
    }
}

vocabulary! {
    /// What was done that the society must be able to look up later.
    SocietyAct {
        /// A member's roles for the society were set.
        RolesSet = "roles_set",
        /// Where a member stands was set.
        StandingSet = "standing_set",
        /// Somebody was made to belong to a club, or their role in it was set.
        ClubRoleSet = "club_role_set",
        /// Somebody's belonging to a club was ended.
        ClubLeft = "club_left",
        /// An invitation was made out.
        Invited = "invited",
        /// An invitation was taken up.
        InvitationTaken = "invitation_taken",
        /// A request to join was approved.
        RequestApproved = "request_approved",
        /// A request to join was refused.
        RequestRefused = "request_refused",
        /// A one-time code was made out for somebody who lost their password.
        CodeIssued = "code_issued",
        /// A password was set with a one-time code.
        PasswordReset = "password_reset",
        /// A member changed the address they log in with.
        EmailChanged = "email_changed",
        /// An administrator was made from the command line.
        AdministratorMade = "administrator_made",
        /// Records of other people were taken out as a table.
        Exported = "exported",
        /// A schedule was published or amended.
        SchedulePublished = "schedule_published",
        /// Results of a show were given out.
        ResultsGivenOut = "results_given_out",
    }
}

vocabulary! {
    /// The horticultural group a cultivar belongs to.
    PlantGroup {
        /// Zonals with plain or faintly zoned leaves.
        Zonal = "zonal",
        /// Zonals grown for coloured leaves: bicolours, tricolours, gold, bronze.
        FancyLeaf = "fancy_leaf",
        /// Zonals with narrow, pointed leaf lobes and petals.
        Stellar = "stellar",
        /// Zonals whose double blooms stay half closed.
        Rosebud = "rosebud",
        /// Dwarf zonals.
        Dwarf = "dwarf",
        /// Miniature zonals.
        Miniature = "miniature",
        /// Trailing kinds with ivy-shaped leaves, and their hybrids.
        IvyLeaved = "ivy_leaved",
        /// Large-flowered kinds that set bud after a cool spell.
        Regal = "regal",
        /// Small kinds between regals and scented-leaved parents.
        Angel = "angel",
        /// Shrubby old hybrids.
        Unique = "unique",
        /// Kinds grown for scented leaves.
        ScentedLeaf = "scented_leaf",
        /// Wild species and their primary forms.
        Species = "species",
    }
}

vocabulary! {
    /// How far a cultivar has come.
    CultivarStatus {
        /// A numbered seedling.
        Seedling = "seedling",
        /// Under trial by members.
        OnTrial = "on_trial",
        /// Named.
        Named = "named",
    }
}

vocabulary! {
    /// Where a plant grows.
    Environment {
        /// Under heated glass; the temperature kept is given beside it.
        Heated = "heated",
        /// Under glass kept just above freezing.
        FrostFree = "frost_free",
        /// Under unheated glass.
        ColdGlass = "cold_glass",
        /// In the open.
        Outdoors = "outdoors",
    }
}

vocabulary! {
    /// The form a plant is grown to.
    GrowthForm {
        /// A bush plant.
        Bush = "bush",
        /// A head on a clear stem.
        Standard = "standard",
        /// Flat, trained in one plane.
        Fan = "fan",
        /// A tapering column.
        Pyramid = "pyramid",
        /// A straight column.
        Pillar = "pillar",
        /// A hanging basket.
        Basket = "basket",
        /// A hanging pot.
        HangingPot = "hanging_pot",
        /// Climbing or tied to a support.
        Climber = "climber",
        /// A young plant not yet trained.
        Young = "young",
    }
}

vocabulary! {
    /// Who may see a plant and its diary.
    Visibility {
        /// Its grower alone.
        Private = "private",
        /// Members of the grower's clubs.
        Club = "club",
        /// Every member of the society.
        Society = "society",
    }
}

vocabulary! {
    /// What a diary record tells.
    DiaryKind {
        /// The growing tips were taken out; the last one before the show starts the clock.
        Stopping = "stopping",
        /// Potted or potted on.
        Potting = "potting",
        /// Flower buds taken off.
        Disbudding = "disbudding",
        /// The first flower bud can be seen.
        BudSeen = "bud_seen",
        /// The first bud shows colour.
        FirstColour = "first_colour",
        /// The first floret is open.
        FirstOpenFloret = "first_open_floret",
        /// Fit for the show bench.
        ShowReady = "show_ready",
        /// No longer fit for the show bench.
        PastBest = "past_best",
        /// Blooms damped off.
        DampingOff = "damping_off",
        /// Leafy growth within a bloom.
        Proliferation = "proliferation",
        /// Deformed early bloom.
        DeformedBloom = "deformed_bloom",
        /// A shoot has gone back to the parent sport.
        RevertedGrowth = "reverted_growth",
        /// A pest or disease was seen.
        PestOrDisease = "pest_or_disease",
        /// Plants were lost.
        Loss = "loss",
        /// Anything else worth keeping.
        Note = "note",
    }
}

vocabulary! {
    /// Whether an offer or want still stands.
    Listing {
        /// Taken into the next round.
        Open = "open",
        /// Taken back by the member.
        Withdrawn = "withdrawn",
        /// Wholly met or given.
        Fulfilled = "fulfilled",
    }
}

vocabulary! {
    /// Where a ring stands.
    RingState {
        /// Waiting for somebody's answer.
        Proposed = "proposed",
        /// Everybody accepted: the cuttings are promised.
        Accepted = "accepted",
        /// Somebody declined: nothing is promised.
        Declined = "declined",
        /// The answers did not come in time: nothing is promised.
        Lapsed = "lapsed",
        /// Every cutting was received, or said not to have come.
        HandedOver = "handed_over",
    }
}

vocabulary! {
    /// Whether what is handed on comes back to where it began.
    RingKind {
        /// Everybody gives one cutting and receives one.
        Ring = "ring",
        /// A gift passed on: the first gives for nothing, the last receives and gives nothing.
        Chain = "chain",
    }
}

vocabulary! {
    /// How the cuttings of a round change hands, and so what may be proposed.
    RoundMode {
        /// From member to member, in person or by post: rings of two and three, and chains.
        ByPost = "by_post",
        /// All at one meeting: rings of any length, since everybody hands over at once.
        Meeting = "meeting",
        /// From member to member, two by two alone.
        Pairs = "pairs",
    }
}

vocabulary! {
    /// What a round aims at, most important first.
    RoundAim {
        /// Wants met, then rank, then what few hold, then short rings, then who gave more than they received.
        Society = "society",
        /// Cuttings expected to arrive though some drop out, then members served, then rank.
        Expected = "expected",
        /// Swaps that stand though one drops out, then cuttings.
        Robust = "robust",
        /// Wants met, then rank.
        Count = "count",
    }
}

vocabulary! {
    /// Where a round stands.
    RoundState {
        /// Offers and wants may still be made and changed.
        Open = "open",
        /// What it is solved from is fixed.
        Frozen = "frozen",
        /// Its rings wait for answers and hand-overs.
        Proposed = "proposed",
        /// Over.
        Closed = "closed",
        /// Given up before anything was proposed.
        Cancelled = "cancelled",
    }
}

vocabulary! {
    /// Where the handing over of one cutting stands.
    HandOverState {
        /// Not given yet.
        Promised = "promised",
        /// Posted, or given from hand to hand.
        Sent = "sent",
        /// The receiver has it.
        Received = "received",
        /// It did not come.
        Failed = "failed",
    }
}

vocabulary! {
    /// How a cutting was when it came.
    CuttingCondition {
        /// Fresh and firm.
        Good = "good",
        /// Limp, likely to recover.
        Limp = "limp",
        /// Damaged or rotting in part.
        Poor = "poor",
        /// Past saving.
        Dead = "dead",
    }
}

vocabulary! {
    /// A step in the life of a round.
    SwapStep {
        /// The round was opened.
        Opened = "opened",
        /// A member says that they come to the meeting.
        Attending = "attending",
        /// A member says that they do not.
        NotAttending = "not_attending",
        /// What it is solved from was fixed.
        Frozen = "frozen",
        /// Its rings were proposed.
        Proposed = "proposed",
        /// A ring was proposed in the place of one that fell through.
        Replaced = "replaced",
        /// A member accepted.
        Accepted = "accepted",
        /// A member declined.
        Declined = "declined",
        /// Everybody of a ring accepted: its cuttings are promised.
        Locked = "locked",
        /// A ring was not answered in time.
        Lapsed = "lapsed",
        /// A cutting was posted or given.
        Sent = "sent",
        /// A cutting was received.
        Received = "received",
        /// A cutting did not come.
        Failed = "failed",
        /// Every cutting of a ring was received or did not come.
        HandedOver = "handed_over",
        /// The round is over.
        Closed = "closed",
        /// The round was given up.
        Cancelled = "cancelled",
    }
}

vocabulary! {
    /// One member's answer to a proposed ring.
    RingAnswer {
        /// Not given yet.
        Waiting = "waiting",
        /// Will give and take as proposed.
        Accepted = "accepted",
        /// Will not.
        Declined = "declined",
    }
}

vocabulary! {
    /// Where a show stands.
    ShowState {
        /// Seen by the club's officers alone.
        Draft = "draft",
        /// Its schedule is published; entries, the day and the judging follow.
        Published = "published",
        /// Its results are out, and protests may be raised.
        Provisional = "provisional",
        /// Its results stand.
        Final = "final",
        /// It is not held.
        Cancelled = "cancelled",
    }
}

vocabulary! {
    /// Where an entry stands.
    EntryState {
        /// Entered.
        Entered = "entered",
        /// Taken back.
        Withdrawn = "withdrawn",
    }
}

vocabulary! {
    /// What somebody does at a show.
    OfficialRole {
        /// Judges.
        Judge = "judge",
        /// Stewards.
        Steward = "steward",
    }
}

vocabulary! {
    /// How an exhibitor stands in published results.
    PublishAs {
        /// By name.
        Name = "name",
        /// By initials.
        Initials = "initials",
        /// As a number alone.
        Withheld = "withheld",
    }
}

vocabulary! {
    /// How money came.
    Payment {
        /// In cash.
        Cash = "cash",
        /// By cheque.
        Cheque = "cheque",
        /// By bank transfer.
        Transfer = "transfer",
        /// By card.
        Card = "card",
    }
}

vocabulary! {
    /// Where a protest stands.
    ProtestState {
        /// Not decided.
        Open = "open",
        /// Found right.
        Upheld = "upheld",
        /// Found wrong.
        Dismissed = "dismissed",
        /// Taken back.
        Withdrawn = "withdrawn",
    }
}

vocabulary! {
    /// How firm results are.
    ResultState {
        /// Given out, open to protest.
        Provisional = "provisional",
        /// They stand.
        Final = "final",
    }
}

vocabulary! {
    /// What a job does.
    JobKind {
        /// Fits the forecast's parameters to the members' pooled records.
        Refit = "refit",
        /// Forecasts past seasons from what was known then, and compares.
        Backtest = "backtest",
        /// Fetches a weather station's readings from its source.
        WeatherFetch = "weather_fetch",
        /// Finds the rings of a frozen round and proposes them.
        SwapRound = "swap_round",
        /// Finds rings for the members that a fallen ring left behind.
        SwapRecourse = "swap_recourse",
        /// Solves a round again from its snapshot, and compares.
        SwapRerun = "swap_rerun",
    }
}

vocabulary! {
    /// Where a job stands.
    JobState {
        /// Not taken up yet.
        Waiting = "waiting",
        /// Being worked on.
        Running = "running",
        /// Finished; its result is there.
        Done = "done",
        /// Given up; its problem says why.
        Failed = "failed",
    }
}

vocabulary! {
    /// How a file of daily weather readings is written.
    WeatherFormat {
        /// A table with a line of column names.
        Csv = "csv",
        /// A JSON array of days.
        Json = "json",
        /// The fixed-width `.dly` file of the Global Historical Climatology Network, daily (NOAA).
        GhcnDaily = "ghcn_daily",
    }
}

vocabulary! {
    /// What a notice asks for.
    NoticeKind {
        /// The weeks that a received plant is kept apart are over.
        QuarantineOver = "quarantine_over",
        /// A pest or disease was seen where one of your plants comes from, or your plants are held.
        HealthNotice = "health_notice",
        /// A cultivar few members hold: strike cuttings and spread them.
        StrikeAndSpread = "strike_and_spread",
        /// Seed of a cross should be ripe.
        HarvestDue = "harvest_due",
        /// Harvested seed is ready to sow.
        SowingDue = "sowing_due",
        /// Seedlings of a sowing should be through.
        GerminationDue = "germination_due",
        /// The registrar asks about a name you proposed.
        NameQuestioned = "name_questioned",
        /// A name you proposed is registered.
        NameRegistered = "name_registered",
        /// A name you proposed is refused.
        NameRefused = "name_refused",
        /// Something about a show that you show at or judge at.
        ShowNews = "show_news",
        /// A club asks you to belong to it.
        ClubInvitation = "club_invitation",
    }
}

vocabulary! {
    /// What sort of record a notice is about.
    SubjectKind {
        /// A plant.
        Plant = "plant",
        /// A cultivar.
        Cultivar = "cultivar",
        /// A cutting handed over in the exchange.
        HandOver = "hand_over",
        /// A cross.
        Cross = "cross",
        /// A name before the registrar.
        Registration = "registration",
        /// A show.
        Show = "show",
        /// A club.
        Club = "club",
    }
}

vocabulary! {
    /// What became of a club's asking a member to belong to it.
    ClubInvitationState {
        /// Waits for the member.
        Asked = "asked",
        /// The member belongs to the club.
        Accepted = "accepted",
        /// The member said no, which is told to nobody else.
        Declined = "declined",
    }
}

vocabulary! {
    /// How a want says what would meet it.
    WantForm {
        /// One cultivar.
        Cultivar = "cultivar",
        /// Any one of several cultivars, the dearest first.
        AnyOf = "any_of",
        /// Any cultivar of one group.
        Group = "group",
    }
}

vocabulary! {
    /// How many of its chromosome sets a parent gave.
    Gamete {
        /// Half of them, as usual.
        Reduced = "reduced",
        /// All of them.
        Unreduced = "unreduced",
    }
}

vocabulary! {
    /// Where a cultivar comes from.
    Origin {
        /// Nobody knows, or it was collected in the wild.
        Unknown = "unknown",
        /// Raised from seed.
        Cross = "cross",
        /// A change that appeared on a plant.
        Sport = "sport",
        /// Struck from a plant and grown under another name.
        Cutting = "cutting",
        /// A plant whose chromosomes were doubled.
        Doubled = "doubled",
        /// Grown from one egg or pollen cell.
        OneGamete = "one_gamete",
    }
}

vocabulary! {
    /// What a parent gave to a cultivar.
    GameteForm {
        /// Half of its chromosome sets, as usual.
        Reduced = "reduced",
        /// All of them; how they stayed together is not known.
        Unreduced = "unreduced",
        /// All of them, the first division of meiosis having failed.
        FirstDivision = "first_division",
        /// All of them, the second division of meiosis having failed.
        SecondDivision = "second_division",
        /// As many sets as are stated.
        Stated = "stated",
    }
}

vocabulary! {
    /// The cell layers of a sport that differ from its source, counted from the skin inwards.
    SportLayers {
        /// The skin.
        L1 = "L1",
        /// The layer that seedlings come from.
        L2 = "L2",
        /// The core.
        L3 = "L3",
        /// Skin and second layer.
        L1L2 = "L1,L2",
        /// Skin and core.
        L1L3 = "L1,L3",
        /// All but the skin.
        L2L3 = "L2,L3",
        /// The whole shoot.
        All = "L1,L2,L3",
    }
}

vocabulary! {
    /// What stands in a pedigree.
    IndividualKind {
        /// A cultivar of the society's list.
        Cultivar = "cultivar",
        /// A seedling that lives under its number.
        Seedling = "seedling",
    }
}

vocabulary! {
    /// Which parent of a cross.
    ParentSide {
        /// The one that bore the seed.
        Seed = "seed",
        /// The one that gave the pollen.
        Pollen = "pollen",
    }
}

vocabulary! {
    /// How old a bloom is. Pollen is shed as a bloom opens and the stigma opens days later (common practice).
    BloomStage {
        /// A coloured bud that has not opened.
        Bud = "bud",
        /// Opened within the day: the anthers shed pollen.
        Opening = "opening",
        /// Open a day or two: the anthers fall, the stigma is still closed.
        Open = "open",
        /// The lobes of the stigma have spread: it takes pollen.
        StigmaOpen = "stigma_open",
        /// Past it.
        Fading = "fading",
    }
}

vocabulary! {
    /// What was counted on a cross.
    CrossCountKind {
        /// Florets that took: a beak is seen.
        Takes = "takes",
        /// Seeds harvested.
        Harvested = "harvested",
        /// Seeds sown.
        Sown = "sown",
        /// Seedlings that came up, kept or not.
        Germinated = "germinated",
        /// Seedlings lost.
        Lost = "lost",
        /// Seedlings pricked out.
        PrickedOut = "pricked_out",
        /// Seedlings that flowered.
        Flowered = "flowered",
        /// Seedlings kept after they flowered.
        Kept = "kept",
    }
}

vocabulary! {
    /// Why seedlings were lost.
    LossCause {
        /// They damped off.
        DampingOff = "damping_off",
        /// They were white: without green they starve.
        White = "white",
        /// A pest or disease.
        PestOrDisease = "pest_or_disease",
        /// Frost.
        Frost = "frost",
        /// They dried out.
        DriedOut = "dried_out",
        /// They were too weak to grow on.
        Weak = "weak",
        /// Not known.
        Unknown = "unknown",
    }
}

vocabulary! {
    /// How far a numbered seedling has come.
    SeedlingStatus {
        /// Grown on and looked at.
        OnTrial = "on_trial",
        /// Worth keeping, without a name.
        Kept = "kept",
        /// Not kept.
        Discarded = "discarded",
        /// Entered as a cultivar.
        Named = "named",
    }
}

vocabulary! {
    /// What is worth a second look on a cross; it is kept all the same.
    CrossWarning {
        /// Both parents are one clone.
        Selfing = "selfing",
        /// More seeds than the florets can hold.
        ManySeeds = "many_seeds",
        /// The stigma of the seed parent is not open yet.
        StigmaClosed = "stigma_closed",
        /// The bloom of the pollen parent sheds no pollen yet, or none any more.
        NoPollen = "no_pollen",
        /// The seedlings are likely to have an odd number of chromosome sets, and to be sterile.
        OddPloidy = "odd_ploidy",
    }
}

vocabulary! {
    /// A stage of a cross at which it succeeds or fails.
    CrossStage {
        /// Florets that took, of those worked.
        Took = "took",
        /// Seeds, of all that the florets that took can hold.
        Seeded = "seeded",
        /// Seedlings, of the seeds sown.
        Germinated = "germinated",
        /// Seedlings kept, of those that came up.
        Kept = "kept",
    }
}

vocabulary! {
    /// What a pooled rate of success leans on.
    OutcomeBasis {
        /// Group, seed parent and cross.
        ThreeLevels = "three_levels",
        /// Group and cross: too little to tell seed parents apart.
        TwoLevels = "two_levels",
        /// Rates do not differ beyond chance: one rate for the group.
        OneRate = "one_rate",
        /// Fewer than three crosses: a weak prior and the counts themselves.
        WeakPrior = "weak_prior",
    }
}

vocabulary! {
    /// Where the genes of a trait lie.
    Inheritance {
        /// In the nucleus: they segregate by Mendel's laws.
        Nuclear = "nuclear",
        /// In the plastids: both parents may pass them on, and they sort out at random.
        Plastid = "plastid",
    }
}

vocabulary! {
    /// Which seedlings of a family were counted.
    Scored {
        /// Every one that germinated.
        AllGerminated = "all_germinated",
        /// Those that somebody kept.
        Kept = "kept",
    }
}

vocabulary! {
    /// Whether the second layer (L2) of a sport's growing point, of which eggs and pollen come, carries its change.
    SecondLayer {
        /// It does.
        Changed = "changed",
        /// It does not.
        Unchanged = "unchanged",
        /// Nobody knows.
        Unknown = "unknown",
    }
}

vocabulary! {
    /// What a plant breeds as.
    BreedsAs {
        /// As it looks: it is the same in every layer.
        Itself = "itself",
        /// As its second layer (L2), whatever the others are.
        SecondLayer = "second_layer",
        /// As the sport: its second layer carries the change.
        Sport = "sport",
        /// As what it sported from: its second layer does not carry the change.
        Source = "source",
    }
}

vocabulary! {
    /// Which test of counts against a ratio to read.
    RatioTestKind {
        /// The exact one: a class expects too few seedlings for the others.
        Exact = "exact",
        /// Chi-square, or G, which is as good.
        ChiSquare = "chi_square",
    }
}

vocabulary! {
    /// Where the registration of a name stands.
    RegistrationState {
        /// Before the registrar.
        Proposed = "proposed",
        /// The registrar waits for an answer.
        Questioned = "questioned",
        /// It is the cultivar's name.
        Registered = "registered",
        /// Refused, for a reason that is kept.
        Refused = "refused",
        /// Taken back by the proposer.
        Withdrawn = "withdrawn",
    }
}

vocabulary! {
    /// A step in the registration of a name.
    RegistrationStepKind {
        /// A member proposed it.
        Proposed = "proposed",
        /// The registrar asked.
        Questioned = "questioned",
        /// The proposer answered, which proposes it again.
        Answered = "answered",
        /// The registrar registered it.
        Registered = "registered",
        /// The registrar refused it.
        Refused = "refused",
        /// The proposer took it back.
        Withdrawn = "withdrawn",
    }
}

vocabulary! {
    /// What another name of a cultivar is.
    OtherNameKind {
        /// A later name for what had one already.
        Synonym = "synonym",
        /// A name it is sold under, which is no name under the rules.
        TradeDesignation = "trade_designation",
        /// What it was called before.
        FormerName = "former_name",
        /// A spelling met with that is wrong.
        Misspelling = "misspelling",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_word_reads_back_and_a_strange_one_lists_the_known() {
        for group in PlantGroup::ALL {
            assert_eq!(group.as_str().parse::<PlantGroup>().as_ref(), Ok(group));
        }
        let refused = "Regal".parse::<PlantGroup>().unwrap_err();
        assert_eq!(refused.expected.len(), 12);
        assert!(refused.to_string().contains("regal"));
    }
}
