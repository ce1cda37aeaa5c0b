drop table pedigree_changes;
drop table pedigree_state;
drop table cultivar_candidates;
-- In this database alone: names of indexes are taken once in a schema.
alter table cultivars rename to cultivars_before;
do $$
declare
    known record;
begin
    for known in select indexname from pg_indexes
        where schemaname = current_schema() and tablename = 'cultivars_before'
    loop
        execute format('alter index %I rename to %I', known.indexname, known.indexname || '_before');
    end loop;
end $$;
-- In both again.
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
insert into cultivars (id, name, name_key, plant_group, raiser, raised_year, status, protected, seed_parent_id,
        pollen_parent_id, sport_of_id, notes, entered_by, version, created_at)
    -- The older form knows one list of names and no owners' choice.
    select id, case when visibility = 'society' and merged_into_id is null then name else name || ' ' || id end,
        case when visibility = 'society' and merged_into_id is null then name_key else name_key || ' ' || id end,
        plant_group, raiser, raised_year, status, protected,
        case when origin = 'cross' then seed_parent_id end, case when origin = 'cross' then pollen_parent_id end,
        case when origin = 'sport' then source_id end, notes, entered_by, version, created_at
    from cultivars_before;
-- In this database alone: what points at the old table is turned to the new one.
do $$
declare
    known record;
begin
    for known in
        select conname, conrelid::regclass as pointing, pg_get_constraintdef(oid) as rule
        from pg_constraint where contype = 'f' and confrelid = 'cultivars_before'::regclass
    loop
        execute format('alter table %s drop constraint %I', known.pointing, known.conname);
        if known.pointing <> 'cultivars_before'::regclass then
            execute format('alter table %s add constraint %I %s', known.pointing, known.conname,
                replace(known.rule, 'cultivars_before', 'cultivars'));
        end if;
    end loop;
end $$;
drop table cultivars_before;
-- In both again.
create index cultivars_group_name_idx on cultivars (plant_group, name_key, id);
create index cultivars_name_key_id_idx on cultivars (name_key, id);
create index cultivars_seed_parent_id_idx on cultivars (seed_parent_id);
create index cultivars_pollen_parent_id_idx on cultivars (pollen_parent_id);
create index cultivars_sport_of_id_idx on cultivars (sport_of_id);
