-- A name proposed for a cultivar. How it came to where it is stands in registration_steps.
create table registrations (
    id text collate "C" not null primary key,
    cultivar_id text collate "C" not null references cultivars (id),
    proposed_by text collate "C" not null references members (id),
    name text collate "C" not null,
    name_key text collate "C" not null,
    -- Where it was published before it was proposed; later rules do not bind it.
    published_on date,
    state text collate "C" not null constraint registrations_state_check
        check (state in ('proposed', 'questioned', 'registered', 'refused', 'withdrawn')),
    -- What spoke against the name when it was last proposed, as JSON.
    findings text collate "C" not null,
    registration_no integer constraint registrations_registration_no_check check (registration_no > 0),
    registered_on date,
    version integer not null,
    created_at timestamp not null,
    constraint registrations_registration_no_key unique (registration_no),
    constraint registrations_registered_check check (
        (state = 'registered') = (registration_no is not null)
            and (registration_no is null) = (registered_on is null))
);
create index registrations_proposed_by_id_idx on registrations (proposed_by, id);
create index registrations_state_id_idx on registrations (state, id);
-- A cultivar has one name before the registrar at a time. Named as a rule is, since it is one.
create unique index registrations_cultivar_id_key on registrations (cultivar_id)
    where state in ('proposed', 'questioned');

-- Never changed.
create table registration_steps (
    id text collate "C" not null primary key,
    registration_id text collate "C" not null references registrations (id),
    kind text collate "C" not null constraint registration_steps_kind_check
        check (kind in ('proposed', 'questioned', 'answered', 'registered', 'refused', 'withdrawn')),
    taken_by text collate "C" not null references members (id),
    name text collate "C" not null,
    findings text collate "C" not null,
    reason text collate "C",
    created_at timestamp not null,
    constraint registration_steps_reason_check
        check (kind not in ('questioned', 'answered', 'refused') or reason is not null)
);
create index registration_steps_registration_id_id_idx on registration_steps (registration_id, id);

-- How many plants of a sport a grower had in a year, and on how many some shoot went back.
create table reversion_reports (
    member_id text collate "C" not null references members (id),
    cultivar_id text collate "C" not null references cultivars (id),
    year integer not null constraint reversion_reports_year_check check (year between 1900 and 2200),
    plants integer not null constraint reversion_reports_plants_check check (plants between 1 and 100000),
    reverted integer not null,
    went_back_to_id text collate "C" references cultivars (id),
    went_back_to text collate "C",
    version integer not null,
    created_at timestamp not null,
    constraint reversion_reports_pkey primary key (member_id, cultivar_id, year),
    constraint reversion_reports_reverted_check check (reverted between 0 and plants)
);
create index reversion_reports_cultivar_id_idx on reversion_reports (cultivar_id);
create index reversion_reports_went_back_to_id_idx on reversion_reports (went_back_to_id);

-- Other names of a cultivar.
create table cultivar_names (
    id text collate "C" not null primary key,
    cultivar_id text collate "C" not null references cultivars (id),
    name text collate "C" not null,
    name_key text collate "C" not null,
    kind text collate "C" not null constraint cultivar_names_kind_check
        check (kind in ('synonym', 'trade_designation', 'former_name', 'misspelling')),
    note text collate "C",
    entered_by text collate "C" not null references members (id),
    created_at timestamp not null,
    constraint cultivar_names_cultivar_id_name_key_key unique (cultivar_id, name_key)
);
create index cultivar_names_name_key_idx on cultivar_names (name_key);

-- What a cultivar's record was in each version before the last, as JSON. Never changed.
create table cultivar_history (
    cultivar_id text collate "C" not null references cultivars (id),
    version integer not null,
    record text collate "C" not null,
    changed_by text collate "C" not null references members (id),
    changed_at timestamp not null,
    why text collate "C",
    constraint cultivar_history_pkey primary key (cultivar_id, version)
);

-- Notices tell of names before the registrar too. A rule cannot be changed in place, so the table is laid anew.
create table notices_before as select * from notices;
drop table notices;
create table notices (
    id text collate "C" not null primary key,
    member_id text collate "C" not null references members (id),
    kind text collate "C" not null constraint notices_kind_check
        check (kind in ('quarantine_over', 'health_notice', 'strike_and_spread', 'harvest_due', 'sowing_due',
            'germination_due', 'name_questioned', 'name_registered', 'name_refused')),
    due_on date not null,
    words text collate "C" not null,
    -- The record it is about, where there is one; not a reference, since records of several kinds are named.
    subject_kind text collate "C" constraint notices_subject_kind_check
        check (subject_kind in ('plant', 'cultivar', 'hand_over', 'cross', 'registration')),
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
