-- What a raiser crossed. Its parents stand in cross_parents.
create table crosses (
    id text collate "C" not null primary key,
    raiser_id text collate "C" not null references members (id),
    -- As the raiser writes it on the label.
    number text collate "C" not null,
    seed_gamete text collate "C" constraint crosses_seed_gamete_check check (seed_gamete in ('reduced', 'unreduced')),
    pollen_gamete text collate "C" constraint crosses_pollen_gamete_check check (pollen_gamete in ('reduced', 'unreduced')),
    visibility text collate "C" not null constraint crosses_visibility_check check (visibility in ('private', 'club', 'society')),
    -- Its counts may enter pooled figures, whoever sees the cross itself.
    pooled boolean not null,
    notes text collate "C",
    version integer not null,
    created_at timestamp not null,
    constraint crosses_raiser_id_number_key unique (raiser_id, number)
);
create index crosses_raiser_id_id_idx on crosses (raiser_id, id);

create table seedlings (
    id text collate "C" not null primary key,
    cross_id text collate "C" not null references crosses (id),
    number integer not null constraint seedlings_number_check check (number between 1 and 100000),
    status text collate "C" not null constraint seedlings_status_check
        check (status in ('on_trial', 'kept', 'discarded', 'named')),
    cultivar_id text collate "C" references cultivars (id),
    notes text collate "C",
    version integer not null,
    created_at timestamp not null,
    constraint seedlings_cross_id_number_key unique (cross_id, number),
    constraint seedlings_named_check check ((status = 'named') = (cultivar_id is not null))
);
create index seedlings_cultivar_id_idx on seedlings (cultivar_id);

-- One seed parent. No pollen parent where it is unknown, one, or several of which any may be it.
create table cross_parents (
    cross_id text collate "C" not null references crosses (id),
    side text collate "C" not null constraint cross_parents_side_check check (side in ('seed', 'pollen')),
    place integer not null constraint cross_parents_place_check check (place between 1 and 20),
    cultivar_id text collate "C" references cultivars (id),
    seedling_id text collate "C" references seedlings (id),
    plant_id text collate "C" references plants (id),
    -- Thousandths.
    share integer not null constraint cross_parents_share_check check (share between 1 and 1000),
    constraint cross_parents_pkey primary key (cross_id, side, place),
    constraint cross_parents_one_kind_check check (
        (case when cultivar_id is null then 0 else 1 end) + (case when seedling_id is null then 0 else 1 end)
            + (case when plant_id is null then 0 else 1 end) = 1),
    constraint cross_parents_seed_check check (side = 'pollen' or (place = 1 and share = 1000))
);
create index cross_parents_cultivar_id_idx on cross_parents (cultivar_id);
create index cross_parents_seedling_id_idx on cross_parents (seedling_id);
create index cross_parents_plant_id_idx on cross_parents (plant_id);

create table pollinations (
    id text collate "C" not null primary key,
    cross_id text collate "C" not null references crosses (id),
    day date not null,
    florets integer not null constraint pollinations_florets_check check (florets between 1 and 10000),
    petals_removed boolean,
    seed_bloom text collate "C" constraint pollinations_seed_bloom_check
        check (seed_bloom in ('bud', 'opening', 'open', 'stigma_open', 'fading')),
    pollen_bloom text collate "C" constraint pollinations_pollen_bloom_check
        check (pollen_bloom in ('bud', 'opening', 'open', 'stigma_open', 'fading')),
    worked_by text collate "C" not null references members (id),
    created_at timestamp not null
);
create index pollinations_cross_id_id_idx on pollinations (cross_id, id);

-- What was counted on a day; a stage of a cross is the sum of its rows.
create table cross_counts (
    id text collate "C" not null primary key,
    cross_id text collate "C" not null references crosses (id),
    day date not null,
    kind text collate "C" not null constraint cross_counts_kind_check check (kind in (
        'takes', 'harvested', 'sown', 'germinated', 'lost', 'pricked_out', 'flowered', 'kept')),
    how_many integer not null constraint cross_counts_how_many_check check (how_many between 0 and 100000),
    cause text collate "C" constraint cross_counts_cause_check
        check (cause in ('damping_off', 'white', 'pest_or_disease', 'frost', 'dried_out', 'weak', 'unknown')),
    created_at timestamp not null,
    constraint cross_counts_lost_check check (kind = 'lost' or cause is null)
);
create index cross_counts_cross_id_id_idx on cross_counts (cross_id, id);

-- Notices tell of crosses too. A rule cannot be changed in place, so the table is laid anew.
create table notices_before as select * from notices;
drop table notices;
create table notices (
    id text collate "C" not null primary key,
    member_id text collate "C" not null references members (id),
    kind text collate "C" not null constraint notices_kind_check
        check (kind in ('quarantine_over', 'health_notice', 'strike_and_spread', 'harvest_due', 'sowing_due',
            'germination_due')),
    due_on date not null,
    words text collate "C" not null,
    -- The record it is about, where there is one; not a reference, since records of several kinds are named.
    subject_kind text collate "C" constraint notices_subject_kind_check
        check (subject_kind in ('plant', 'cultivar', 'hand_over', 'cross')),
    subject_id text collate "C",
    created_at timestamp not null,
    seen_at timestamp,
    done_at timestamp,
    constraint notices_subject_check check ((subject_kind is null) = (subject_id is null))
);
insert into notices
    (id, member_id, kind, due_on, words, subject_kind, subject_id, created_at, seen_at, done_at)
    select id, member_id, kind, due_on, words, subject_kind, subject_id, created_at, seen_at, done_at
    from notices_before;
drop table notices_before;
create index notices_member_id_due_on_idx on notices (member_id, due_on, id);
create index notices_kind_subject_id_idx on notices (kind, subject_id, member_id);
