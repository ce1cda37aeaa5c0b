drop table pedigree_changes;
drop table pedigree_state;
drop table cultivar_candidates;
-- In this database alone: what points at the table is checked when all is done.
pragma defer_foreign_keys = on;
create table cultivars_before as select * from cultivars;
drop table cultivars;
-- In both again.
create table cultivars (
    id text not null primary key,
    name text not null,
    name_key text not null,
    plant_group text not null constraint cultivars_plant_group_check check (plant_group in (
        'zonal', 'fancy_leaf', 'stellar', 'rosebud', 'dwarf', 'miniature', 'ivy_leaved', 'regal', 'angel',
        'unique', 'scented_leaf', 'species')),
    raiser text,
    raised_year integer constraint cultivars_raised_year_check check (raised_year between 1600 and 2200),
    status text not null constraint cultivars_status_check check (status in ('seedling', 'on_trial', 'named')),
    -- Breeders' rights are in force somewhere the society's members live.
    protected boolean not null,
    seed_parent_id text references cultivars (id),
    pollen_parent_id text references cultivars (id),
    sport_of_id text references cultivars (id),
    notes text,
    entered_by text references members (id),
    version integer not null,
    created_at timestamp not null,
    constraint cultivars_name_key_plant_group_key unique (name_key, plant_group),
    -- A sport has one source and no parents.
    constraint cultivars_origin_check
        check (sport_of_id is null or (seed_parent_id is null and pollen_parent_id is null))
);
insert into cultivars (id, name, name_key, plant_group, raiser, raised_year, status, protected, seed_parent_id,
        pollen_parent_id, sport_of_id, notes, entered_by, version, created_at)
    -- The older form knows one list of names and no owners' choice.
    select id, case when visibility = 'society' and merged_into_id is null then name else name || ' ' || id end,
        case when visibility = 'society' and merged_into_id is null then name_key else name_key || ' ' || id end,
        plant_group, raiser, raised_year, status, protected,
        case when origin = 'cross' then seed_parent_id end, case when origin = 'cross' then pollen_parent_id end,
        case when origin = 'sport' then source_id end, notes, entered_by, version, created_at
    from cultivars_before;
-- In this database alone.
drop table cultivars_before;
-- In both again.
create index cultivars_group_name_idx on cultivars (plant_group, name_key, id);
create index cultivars_name_key_id_idx on cultivars (name_key, id);
create index cultivars_seed_parent_id_idx on cultivars (seed_parent_id);
create index cultivars_pollen_parent_id_idx on cultivars (pollen_parent_id);
create index cultivars_sport_of_id_idx on cultivars (sport_of_id);
