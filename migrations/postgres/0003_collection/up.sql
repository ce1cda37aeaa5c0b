create table cultivars (
    id text collate "C" not null primary key,
    name text collate "C" not null,
    name_key text collate "C" not null,
    plant_group text collate "C" not null constraint cultivars_plant_group_check check (plant_group in (
        'zonal', 'fancy_leaf', 'stellar', 'rosebud', 'dwarf', 'miniature', 'ivy_leaved', 'regal', 'angel',
        'unique', 'scented_leaf', 'species')),
    raiser text collate "C",
    raised_year integer constraint cultivars_raised_year_check check (raised_year between 1600 and 2200),
    status text collate "C" not null constraint cultivars_status_check check (status in ('seedling', 'on_trial', 'named')),
    -- Breeders' rights are in force somewhere the society's members live.
    protected boolean not null,
    seed_parent_id text collate "C" references cultivars (id),
    pollen_parent_id text collate "C" references cultivars (id),
    sport_of_id text collate "C" references cultivars (id),
    notes text collate "C",
    entered_by text collate "C" references members (id),
    version integer not null,
    created_at timestamp not null,
    constraint cultivars_name_key_plant_group_key unique (name_key, plant_group),
    -- A sport has one source and no parents.
    constraint cultivars_origin_check
        check (sport_of_id is null or (seed_parent_id is null and pollen_parent_id is null))
);
create index cultivars_group_name_idx on cultivars (plant_group, name_key, id);
create index cultivars_name_key_id_idx on cultivars (name_key, id);
create index cultivars_seed_parent_id_idx on cultivars (seed_parent_id);
create index cultivars_pollen_parent_id_idx on cultivars (pollen_parent_id);
create index cultivars_sport_of_id_idx on cultivars (sport_of_id);

create table plants (
    id text collate "C" not null primary key,
    owner_id text collate "C" not null references members (id),
    cultivar_id text collate "C" not null references cultivars (id),
    region_id text collate "C" not null references regions (id),
    -- The grower's own label, free text.
    label text collate "C",
    how_many integer not null constraint plants_how_many_check check (how_many between 0 and 100000),
    -- Inner diameter at the rim; inches and millimetres alike are exact in micrometres.
    pot_um bigint constraint plants_pot_um_check check (pot_um between 10000 and 2000000),
    environment text collate "C" not null constraint plants_environment_check
        check (environment in ('heated', 'frost_free', 'cold_glass', 'outdoors')),
    heated_to_c double precision constraint plants_heated_to_c_check check (heated_to_c between 0 and 35),
    form text collate "C" not null constraint plants_form_check check (form in (
        'bush', 'standard', 'fan', 'pyramid', 'pillar', 'basket', 'hanging_pot', 'climber', 'young')),
    source_plant_id text collate "C" references plants (id),
    source_member_id text collate "C" references members (id),
    got_on date,
    visibility text collate "C" not null constraint plants_visibility_check check (visibility in ('private', 'club', 'society')),
    version integer not null,
    created_at timestamp not null,
    constraint plants_heated_check check ((environment = 'heated') = (heated_to_c is not null))
);
create index plants_owner_id_id_idx on plants (owner_id, id);
create index plants_cultivar_id_idx on plants (cultivar_id);
create index plants_region_id_idx on plants (region_id);
create index plants_source_plant_id_idx on plants (source_plant_id);

create table diary_entries (
    id text collate "C" not null primary key,
    plant_id text collate "C" not null references plants (id),
    day date not null,
    kind text collate "C" not null constraint diary_entries_kind_check check (kind in (
        'stopping', 'potting', 'disbudding', 'first_colour', 'first_open_floret', 'show_ready', 'past_best',
        'damping_off', 'proliferation', 'deformed_bloom', 'reverted_growth', 'pest_or_disease', 'loss', 'note')),
    -- How many plants or blooms it concerns, where that is counted.
    how_many integer constraint diary_entries_how_many_check check (how_many between 0 and 100000),
    pot_um bigint constraint diary_entries_pot_um_check check (pot_um between 10000 and 2000000),
    note text collate "C",
    version integer not null,
    created_at timestamp not null
);
create index diary_entries_plant_id_day_idx on diary_entries (plant_id, day, id);
create index diary_entries_kind_day_idx on diary_entries (kind, day);
