drop table trophy_awards;
drop table trophies;
drop table member_results;
drop table show_results;
drop table show_protests;
drop table show_choices;
drop table show_judgments;
drop table show_receipts;
drop table show_events;
drop table show_entries;
drop table show_exhibitors;
drop table show_officials;
drop table show_versions;
create table shows_after as select * from shows where state <> 'cancelled';
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
    state text not null constraint shows_state_check check (state in ('draft', 'published')),
    published_at timestamp,
    notes text,
    version integer not null,
    created_at timestamp not null
);
insert into shows (id, club_id, name, held_on, place, closes_wall, zone, closes_at, state, published_at, notes,
        version, created_at)
    select id, club_id, name, held_on, place, closes_wall, zone, closes_at,
        case when state = 'draft' then 'draft' else 'published' end, published_at, notes, version, created_at
    from shows_after;
drop table shows_after;
create index shows_club_id_idx on shows (club_id);
create index shows_held_on_id_idx on shows (held_on, id);

-- Classes stood in their schedules, which the older form does not keep.
create table show_classes (
    id text not null primary key,
    show_id text not null references shows (id),
    label text not null,
    -- Sorts as printed schedules do: letters, number, letters.
    label_key text not null,
    title text not null,
    requirements text,
    plant_group text constraint show_classes_plant_group_check check (plant_group in (
        'zonal', 'fancy_leaf', 'stellar', 'rosebud', 'dwarf', 'miniature', 'ivy_leaved', 'regal', 'angel',
        'unique', 'scented_leaf', 'species')),
    max_pot_um bigint constraint show_classes_max_pot_um_check check (max_pot_um between 10000 and 2000000),
    version integer not null,
    created_at timestamp not null,
    constraint show_classes_show_id_label_key unique (show_id, label)
);
create index show_classes_show_id_label_key_idx on show_classes (show_id, label_key);

create table notices_after as select * from notices where kind <> 'show_news' and (subject_kind is null or subject_kind <> 'show');
drop table notices;
create table notices (
    id text not null primary key,
    member_id text not null references members (id),
    kind text not null constraint notices_kind_check
        check (kind in ('quarantine_over', 'health_notice', 'strike_and_spread', 'harvest_due', 'sowing_due',
            'germination_due', 'name_questioned', 'name_registered', 'name_refused')),
    due_on date not null,
    words text not null,
    -- The record it is about, where there is one; not a reference, since records of several kinds are named.
    subject_kind text constraint notices_subject_kind_check
        check (subject_kind in ('plant', 'cultivar', 'hand_over', 'cross', 'registration')),
    subject_id text,
    created_at timestamp not null,
    seen_at timestamp,
    done_at timestamp,
    constraint notices_subject_check check ((subject_kind is null) = (subject_id is null))
);
insert into notices
    (id, member_id, kind, due_on, words, subject_kind, subject_id, created_at, seen_at, done_at)
    select id, member_id, kind, due_on, words, subject_kind, subject_id, created_at, seen_at, done_at
    from notices_after;
drop table notices_after;
create index notices_member_id_due_on_idx on notices (member_id, due_on, id);
create index notices_kind_subject_id_idx on notices (kind, subject_id, member_id);
