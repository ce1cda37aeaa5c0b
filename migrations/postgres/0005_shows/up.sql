create table shows (
    id text collate "C" not null primary key,
    club_id text collate "C" not null references clubs (id),
    name text collate "C" not null,
    held_on date not null,
    place text collate "C" not null,
    -- Entries close at this wall-clock time in this zone; `closes_at` is the same moment in UTC.
    closes_wall text collate "C" not null,
    zone text collate "C" not null,
    closes_at timestamp not null,
    state text collate "C" not null constraint shows_state_check check (state in ('draft', 'published')),
    published_at timestamp,
    notes text collate "C",
    version integer not null,
    created_at timestamp not null
);
create index shows_club_id_idx on shows (club_id);
create index shows_held_on_id_idx on shows (held_on, id);

create table show_classes (
    id text collate "C" not null primary key,
    show_id text collate "C" not null references shows (id),
    label text collate "C" not null,
    -- Sorts as printed schedules do: letters, number, letters.
    label_key text collate "C" not null,
    title text collate "C" not null,
    requirements text collate "C",
    plant_group text collate "C" constraint show_classes_plant_group_check check (plant_group in (
        'zonal', 'fancy_leaf', 'stellar', 'rosebud', 'dwarf', 'miniature', 'ivy_leaved', 'regal', 'angel',
        'unique', 'scented_leaf', 'species')),
    max_pot_um bigint constraint show_classes_max_pot_um_check check (max_pot_um between 10000 and 2000000),
    version integer not null,
    created_at timestamp not null,
    constraint show_classes_show_id_label_key unique (show_id, label)
);
create index show_classes_show_id_label_key_idx on show_classes (show_id, label_key);
