-- Where a cultivar comes from is told in full, who may see it is its owner's choice, and a name is taken once
-- among those that all may see. Rules cannot be changed in place, so the table is laid anew, under what points at
-- it.
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
    visibility text not null default 'society'
        constraint cultivars_visibility_check check (visibility in ('private', 'club', 'society')),
    origin text not null default 'unknown' constraint cultivars_origin_check
        check (origin in ('unknown', 'cross', 'sport', 'cutting', 'doubled', 'one_gamete')),
    seed_parent_id text references cultivars (id),
    pollen_parent_id text references cultivars (id),
    -- What it sported from, was struck from, or was doubled from.
    source_id text references cultivars (id),
    -- What each parent gave, where it is known.
    seed_gamete text constraint cultivars_seed_gamete_check
        check (seed_gamete in ('reduced', 'unreduced', 'first_division', 'second_division', 'stated')),
    seed_gamete_sets integer
        constraint cultivars_seed_gamete_sets_check check (seed_gamete_sets between 1 and 16),
    seed_gamete_lambda double
        constraint cultivars_seed_gamete_lambda_check check (seed_gamete_lambda between 0 and 1),
    pollen_gamete text constraint cultivars_pollen_gamete_check
        check (pollen_gamete in ('reduced', 'unreduced', 'first_division', 'second_division', 'stated')),
    pollen_gamete_sets integer
        constraint cultivars_pollen_gamete_sets_check check (pollen_gamete_sets between 1 and 16),
    pollen_gamete_lambda double
        constraint cultivars_pollen_gamete_lambda_check check (pollen_gamete_lambda between 0 and 1),
    -- The cell layers of a sport that differ from its source; null while nobody knows.
    sport_layers text constraint cultivars_sport_layers_check
        check (sport_layers in ('L1', 'L2', 'L3', 'L1,L2', 'L1,L3', 'L2,L3', 'L1,L2,L3')),
    reverts_to_id text references cultivars (id),
    -- Sets of chromosomes and chromosomes of a body cell; neither follows from the other.
    sets integer constraint cultivars_sets_check check (sets between 1 and 16),
    chromosomes integer constraint cultivars_chromosomes_check check (chromosomes between 1 and 1000),
    chromosomes_about boolean not null default false,
    -- The record that this one was found to be the same plant as.
    merged_into_id text references cultivars (id),
    notes text,
    entered_by text references members (id),
    version integer not null,
    created_at timestamp not null,
    constraint cultivars_owner_check check (visibility = 'society' or entered_by is not null),
    constraint cultivars_named_check check (status <> 'named' or visibility = 'society'),
    constraint cultivars_source_check
        check ((source_id is not null) = (origin in ('sport', 'cutting', 'doubled'))),
    -- Seedlings have parents, others a source.
    constraint cultivars_parents_check check (
        origin in ('cross', 'one_gamete') or (seed_parent_id is null and pollen_parent_id is null)),
    constraint cultivars_one_gamete_check check (
        origin <> 'one_gamete' or (seed_parent_id is null) <> (pollen_parent_id is null)),
    constraint cultivars_sport_check check (
        origin = 'sport' or (sport_layers is null and reverts_to_id is null)),
    constraint cultivars_seed_stated_check check (
        (seed_gamete_sets is null) or (seed_gamete = 'stated')),
    constraint cultivars_pollen_stated_check check (
        (pollen_gamete_sets is null) or (pollen_gamete = 'stated'))
);
insert into cultivars (id, name, name_key, plant_group, raiser, raised_year, status, protected, visibility, origin,
        seed_parent_id, pollen_parent_id, source_id, chromosomes_about, notes, entered_by, version, created_at)
    select id, name, name_key, plant_group, raiser, raised_year, status, protected, 'society',
        case when sport_of_id is not null then 'sport'
            when seed_parent_id is not null or pollen_parent_id is not null then 'cross' else 'unknown' end,
        seed_parent_id, pollen_parent_id, sport_of_id, false, notes, entered_by, version, created_at
    from cultivars_before;
-- In this database alone.
drop table cultivars_before;
-- In both again.
-- A name that only some may see is not taken for the others, or a refusal would tell of it.
create unique index cultivars_name_key_plant_group_key on cultivars (name_key, plant_group)
    where visibility = 'society' and merged_into_id is null;
create unique index cultivars_own_name_key_plant_group_key on cultivars (entered_by, name_key, plant_group)
    where visibility <> 'society' and merged_into_id is null;
create index cultivars_group_name_idx on cultivars (plant_group, name_key, id);
create index cultivars_name_key_id_idx on cultivars (name_key, id);
create index cultivars_entered_by_idx on cultivars (entered_by);
create index cultivars_seed_parent_id_idx on cultivars (seed_parent_id);
create index cultivars_pollen_parent_id_idx on cultivars (pollen_parent_id);
create index cultivars_source_id_idx on cultivars (source_id);

-- Any of these may have given the pollen; a row without a cultivar stands for a stranger.
create table cultivar_candidates (
    cultivar_id text not null references cultivars (id),
    place integer not null constraint cultivar_candidates_place_check check (place between 1 and 20),
    candidate_id text references cultivars (id),
    -- Thousandths.
    share integer not null constraint cultivar_candidates_share_check check (share between 1 and 1000),
    constraint cultivar_candidates_pkey primary key (cultivar_id, place)
);
create index cultivar_candidates_candidate_id_idx on cultivar_candidates (candidate_id);

-- Counts up with every change of who descends from whom, or of who may see it. One row: two such changes at once
-- meet here, so that they cannot make a loop together.
create table pedigree_state (
    id integer not null primary key constraint pedigree_state_id_check check (id = 1),
    version bigint not null
);
insert into pedigree_state (id, version) values (1, 1);

-- What changed at each version.
create table pedigree_changes (
    version bigint not null,
    -- A cultivar or a seedling; not a reference, since it may be gone.
    individual_id text not null,
    constraint pedigree_changes_pkey primary key (version, individual_id)
);
