drop table inside_readings;
drop table weather_sources;
drop table backtests;
drop table fits;
drop table jobs;

create table diary_entries_before (
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
-- A first bud has no word of its own before this change; it stays as a note.
insert into diary_entries_before (id, plant_id, day, kind, how_many, pot_um, note, version, created_at)
    select id, plant_id, day,
        case when kind = 'bud_seen' then 'note' else kind end,
        how_many, pot_um,
        case when kind = 'bud_seen' then coalesce(note, 'First bud seen.') else note end,
        version, created_at
    from diary_entries;
drop table diary_entries;
alter table diary_entries_before rename to diary_entries;
create index diary_entries_plant_id_day_idx on diary_entries (plant_id, day, id);
create index diary_entries_kind_day_idx on diary_entries (kind, day);
