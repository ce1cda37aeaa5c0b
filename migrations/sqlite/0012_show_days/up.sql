-- A show has a schedule that is worked on and versions of it that were published; entries, a day, judgments and
-- results follow. Rules cannot be changed in place, so both tables are laid anew. A show that was published before
-- versions were kept is a draft again: its schedule has to be published once more.
create table show_classes_before as select * from show_classes;
drop table show_classes;
create table shows_before as select * from shows;
drop table shows;
create table shows (
    id text not null primary key,
    club_id text not null references clubs (id),
    name text not null,
    held_on date not null,
    place text not null,
    -- Entries close at this wall-clock time in this zone; `closes_at` is the same moment in UTC.
    closes_wall text not null,
    zone text not null,
    closes_at timestamp not null,
    -- Entries are taken from this moment on; from publication where it is null.
    opens_at timestamp,
    -- When the hall opens to the public, from which the time for protests is counted.
    hall_opens_at timestamp,
    state text not null constraint shows_state_check
        check (state in ('draft', 'published', 'provisional', 'final', 'cancelled')),
    published_at timestamp,
    -- JSON: the schedule as it is worked on.
    draft text not null,
    -- The number of the version in force; 0 before the first.
    schedule_number integer not null,
    -- Entry numbers are drawn from it; known to nobody.
    secret text,
    notes text,
    version integer not null,
    created_at timestamp not null,
    constraint shows_published_check check ((state = 'draft') = (schedule_number = 0) or state = 'cancelled')
);
-- In this database alone: how JSON is quoted and strung together.
insert into shows (id, club_id, name, held_on, place, closes_wall, zone, closes_at, state, draft, schedule_number,
        notes, version, created_at)
    select id, club_id, name, held_on, place, closes_wall, zone, closes_at, 'draft',
        '{"title":' || json_quote(name) || ',"held_on":"' || held_on || '","zone":' || json_quote(zone)
            || ',"closes_wall":"' || closes_wall || ':00","classes":['
            || coalesce((select group_concat('{"id":"' || c.id || '","label":' || json_quote(c.label) || ',"title":'
                || json_quote(c.title) || ',"rules":{"slots":[{"count":1,"unit":"pot"'
                || case when c.plant_group is null then '' else ',"taxa":{"groups":["' || c.plant_group || '"]}' end
                || case when c.max_pot_um is null then '' else ',"pot":{"to":{"um":' || c.max_pot_um
                    || ',"inclusive":true}}' end
                || '}]' || case when c.requirements is null then '' else ',"words":' || json_quote(c.requirements) end
                || '}}', ',') from show_classes_before c where c.show_id = s.id), '')
            || ']}',
        0, notes, version, created_at
    from shows_before s;
-- In both again.
drop table show_classes_before;
drop table shows_before;
create index shows_club_id_idx on shows (club_id);
create index shows_held_on_id_idx on shows (held_on, id);

-- Every version of a schedule that was published; the first, and amendments with their reasons.
create table show_versions (
    show_id text not null references shows (id),
    number integer not null constraint show_versions_number_check check (number >= 1),
    -- JSON, canonical: the hash is of these very bytes.
    document text not null,
    sha256 text not null,
    reason text,
    -- JSON: what differs from the version before.
    changes text not null,
    published_by text not null references members (id),
    published_at timestamp not null,
    constraint show_versions_pkey primary key (show_id, number),
    constraint show_versions_reason_check check (number = 1 or reason is not null)
);

-- Judges and stewards, members or guests.
create table show_officials (
    id text not null primary key,
    show_id text not null references shows (id),
    role text not null constraint show_officials_role_check check (role in ('judge', 'steward')),
    member_id text references members (id),
    name text not null,
    -- JSON: the set of classes.
    classes text not null,
    version integer not null,
    created_at timestamp not null
);
create index show_officials_show_id_idx on show_officials (show_id, role);
create index show_officials_member_id_idx on show_officials (member_id);

create table show_exhibitors (
    id text not null primary key,
    show_id text not null references shows (id),
    -- The exhibitor's number at this show.
    number integer not null constraint show_exhibitors_number_check check (number >= 1),
    member_id text references members (id),
    -- As on the card.
    name text not null,
    is_joint boolean not null,
    in_the_trade boolean not null,
    -- Exhibitors of one household bear one word.
    household text,
    born_on date,
    publish_as text not null constraint show_exhibitors_publish_as_check
        check (publish_as in ('name', 'initials', 'withheld')),
    -- Has declared results at shows of other societies, or that there are none.
    outside_declared boolean not null,
    -- JSON: those results.
    outside_results text not null,
    version integer not null,
    created_at timestamp not null
);
create unique index show_exhibitors_show_id_number_key on show_exhibitors (show_id, number);
create unique index show_exhibitors_show_id_member_id_key on show_exhibitors (show_id, member_id);
create index show_exhibitors_member_id_idx on show_exhibitors (member_id);

create table show_entries (
    id text not null primary key,
    show_id text not null references shows (id),
    -- A class of the schedule; classes stand in its versions.
    class_id text not null,
    exhibitor_id text not null references show_exhibitors (id),
    -- The place in the secret order, and the number that comes of it.
    serial integer not null,
    number bigint not null,
    -- What stands on the card beside the number.
    label text,
    -- JSON: the plants, or what is known of them.
    items text not null,
    state text not null constraint show_entries_state_check check (state in ('entered', 'withdrawn')),
    fee_pence bigint not null constraint show_entries_fee_pence_check check (fee_pence >= 0),
    -- JSON: the doubts that the exhibitor has read.
    acknowledged text not null,
    entered_by text not null references members (id),
    -- Why it was taken after closing.
    late_reason text,
    -- Where it was entered before an official moved it, and why.
    moved_from_class_id text,
    moved_reason text,
    checked_in_at timestamp,
    staged_at timestamp,
    -- JSON: what a steward measured.
    measured text,
    version integer not null,
    created_at timestamp not null,
    constraint show_entries_moved_check check ((moved_from_class_id is null) = (moved_reason is null))
);
create unique index show_entries_show_id_serial_key on show_entries (show_id, serial);
create unique index show_entries_show_id_number_key on show_entries (show_id, number);
create index show_entries_exhibitor_id_idx on show_entries (exhibitor_id);
create index show_entries_show_id_class_id_idx on show_entries (show_id, class_id);

-- What happened to entries, judgments, results and the register: never changed.
create table show_events (
    id text not null primary key,
    show_id text not null references shows (id),
    at timestamp not null,
    -- The member who did it; null for the server itself.
    by_id text references members (id),
    kind text not null,
    -- What it is about: an entry, a class, a trophy.
    subject_id text,
    -- What was done, and why.
    words text not null
);
create index show_events_show_id_id_idx on show_events (show_id, id);
create index show_events_subject_id_idx on show_events (subject_id, id);

create table show_receipts (
    id text not null primary key,
    show_id text not null references shows (id),
    exhibitor_id text not null references show_exhibitors (id),
    -- Runs on within the show.
    number integer not null,
    -- Below nought for money given back.
    pence bigint not null,
    how text not null constraint show_receipts_how_check check (how in ('cash', 'cheque', 'transfer', 'card')),
    note text,
    received_by text not null references members (id),
    received_at timestamp not null
);
create unique index show_receipts_show_id_number_key on show_receipts (show_id, number);
create index show_receipts_exhibitor_id_idx on show_receipts (exhibitor_id);

-- Every version of what judges said of a class.
create table show_judgments (
    show_id text not null references shows (id),
    class_id text not null,
    version integer not null constraint show_judgments_version_check check (version >= 1),
    -- JSON: places, commendations, what was put out and why.
    document text not null,
    remark text,
    -- Why it was corrected.
    reason text,
    judge text not null,
    signed_off boolean not null,
    entered_by text not null references members (id),
    entered_at timestamp not null,
    constraint show_judgments_pkey primary key (show_id, class_id, version),
    constraint show_judgments_reason_check check (version = 1 or reason is not null)
);

-- What judges chose or decided for trophies; every version.
create table show_choices (
    show_id text not null references shows (id),
    trophy_key text not null,
    version integer not null,
    -- JSON.
    document text not null,
    judge text not null,
    entered_by text not null references members (id),
    entered_at timestamp not null,
    constraint show_choices_pkey primary key (show_id, trophy_key, version)
);

create table show_protests (
    id text not null primary key,
    show_id text not null references shows (id),
    class_id text,
    raised_by text not null references members (id),
    raised_at timestamp not null,
    words text not null,
    deposit_pence bigint not null constraint show_protests_deposit_pence_check check (deposit_pence >= 0),
    state text not null constraint show_protests_state_check
        check (state in ('open', 'upheld', 'dismissed', 'withdrawn')),
    -- Who sat, and what they found.
    sat text,
    outcome text,
    deposit_returned boolean,
    decided_at timestamp,
    version integer not null,
    constraint show_protests_decided_check check ((state in ('upheld', 'dismissed')) = (sat is not null))
);
create index show_protests_show_id_idx on show_protests (show_id, id);

-- Results as they were given out; every time.
create table show_results (
    show_id text not null references shows (id),
    number integer not null constraint show_results_number_check check (number >= 1),
    state text not null constraint show_results_state_check check (state in ('provisional', 'final')),
    -- JSON, canonical.
    document text not null,
    sha256 text not null,
    schedule_number integer not null,
    reason text,
    given_by text not null references members (id),
    given_at timestamp not null,
    constraint show_results_pkey primary key (show_id, number)
);

-- What members won at shows that are final: their history, from which levels are told.
create table member_results (
    id text not null primary key,
    member_id text not null references members (id),
    show_id text not null references shows (id),
    held_on date not null,
    -- JSON.
    document text not null
);
create index member_results_member_id_idx on member_results (member_id, held_on, id);
create index member_results_show_id_idx on member_results (show_id);

-- Cups and medals of a club.
create table trophies (
    id text not null primary key,
    club_id text not null references clubs (id),
    -- What schedules know it by from year to year.
    trophy_key text not null,
    title text not null,
    notes text,
    version integer not null,
    created_at timestamp not null
);
create unique index trophies_club_id_trophy_key_key on trophies (club_id, trophy_key);

-- Who won it, who holds it, and when it is due back.
create table trophy_awards (
    id text not null primary key,
    trophy_id text not null references trophies (id),
    show_id text references shows (id),
    year integer not null constraint trophy_awards_year_check check (year between 1800 and 2200),
    member_id text references members (id),
    name text not null,
    handed_over_on date,
    due_back_on date,
    returned_on date,
    version integer not null,
    created_at timestamp not null
);
create index trophy_awards_trophy_id_year_idx on trophy_awards (trophy_id, year, id);
create index trophy_awards_show_id_idx on trophy_awards (show_id);

-- Notices tell of shows too.
create table notices_before as select * from notices;
drop table notices;
create table notices (
    id text not null primary key,
    member_id text not null references members (id),
    kind text not null constraint notices_kind_check
        check (kind in ('quarantine_over', 'health_notice', 'strike_and_spread', 'harvest_due', 'sowing_due',
            'germination_due', 'name_questioned', 'name_registered', 'name_refused', 'show_news')),
    due_on date not null,
    words text not null,
    -- The record it is about, where there is one; not a reference, since records of several kinds are named.
    subject_kind text constraint notices_subject_kind_check
        check (subject_kind in ('plant', 'cultivar', 'hand_over', 'cross', 'registration', 'show')),
    subject_id text,
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
