-- A check cannot be changed in place; nothing refers to this table, so it is laid anew and its rows moved.
create table diary_entries_next (
    id text not null primary key,
    plant_id text not null references plants (id),
    day date not null,
    kind text not null constraint diary_entries_kind_check check (kind in (
        'stopping', 'potting', 'disbudding', 'bud_seen', 'first_colour', 'first_open_floret', 'show_ready',
        'past_best', 'damping_off', 'proliferation', 'deformed_bloom', 'reverted_growth', 'pest_or_disease',
        'loss', 'note')),
    -- How many plants or blooms it concerns, where that is counted.
    how_many integer constraint diary_entries_how_many_check check (how_many between 0 and 100000),
    pot_um bigint constraint diary_entries_pot_um_check check (pot_um between 10000 and 2000000),
    note text,
    version integer not null,
    created_at timestamp not null
);
insert into diary_entries_next (id, plant_id, day, kind, how_many, pot_um, note, version, created_at)
    select id, plant_id, day, kind, how_many, pot_um, note, version, created_at from diary_entries;
drop table diary_entries;
alter table diary_entries_next rename to diary_entries;
create index diary_entries_plant_id_day_idx on diary_entries (plant_id, day, id);
create index diary_entries_kind_day_idx on diary_entries (kind, day);

create table jobs (
    id text not null primary key,
    kind text not null constraint jobs_kind_check check (kind in ('refit', 'backtest', 'weather_fetch')),
    state text not null constraint jobs_state_check check (state in ('waiting', 'running', 'done', 'failed')),
    progress double not null constraint jobs_progress_check check (progress between 0 and 1),
    -- What it is at, or what came of it, in one line.
    words text not null,
    -- The record it works on, where there is one: a station.
    subject text,
    -- JSON, once it is done.
    result text,
    -- Why it failed, in one line.
    problem text,
    -- Null when the timetable asked.
    asked_by text references members (id),
    -- While it runs: a server that does not report until then has lost it to the next.
    lease_until timestamp,
    attempts integer not null constraint jobs_attempts_check check (attempts >= 0),
    created_at timestamp not null,
    started_at timestamp,
    ended_at timestamp,
    constraint jobs_lease_check check ((state = 'running') = (lease_until is not null))
);
create index jobs_state_id_idx on jobs (state, id);
create index jobs_kind_created_at_idx on jobs (kind, created_at);

-- A fit of the forecast's parameters to the members' pooled records.
create table fits (
    id text not null primary key,
    -- Counts up from 1; forecasts name it.
    version_no integer not null constraint fits_version_no_check check (version_no >= 1),
    made_at timestamp not null,
    -- SHA-256 of what it was fitted to, hexadecimal: the same records give the same.
    fingerprint text not null,
    records integer not null,
    growers integer not null,
    -- JSON.
    parameters text not null,
    notes text not null,
    constraint fits_version_no_key unique (version_no)
);

create table backtests (
    id text not null primary key,
    fit_id text not null references fits (id),
    made_at timestamp not null,
    -- JSON.
    report text not null
);
create index backtests_fit_id_made_at_idx on backtests (fit_id, made_at);

-- Where a station's readings are fetched from.
create table weather_sources (
    station_id text not null primary key references stations (id),
    -- With {from}, {to} and {year} in place of days.
    url_template text not null,
    format text not null constraint weather_sources_format_check check (format in ('csv', 'json', 'ghcn_daily')),
    every_hours integer not null constraint weather_sources_every_hours_check check (every_hours between 1 and 8784),
    enabled boolean not null,
    -- As the other server sent them with what was last taken in.
    etag text,
    last_modified text,
    last_tried_at timestamp,
    last_ok_at timestamp,
    last_problem text,
    version integer not null,
    created_at timestamp not null
);

-- What growers measured in their own houses; theirs alone, and pooled into the gain of a kind of house.
create table inside_readings (
    id text not null primary key,
    member_id text not null references members (id),
    region_id text not null references regions (id),
    environment text not null constraint inside_readings_environment_check
        check (environment in ('heated', 'frost_free', 'cold_glass')),
    heated_to_c double constraint inside_readings_heated_to_c_check check (heated_to_c between 0 and 35),
    day date not null,
    min_c double not null constraint inside_readings_min_c_check check (min_c between -60 and 60),
    max_c double not null constraint inside_readings_max_c_check check (max_c between -60 and 60),
    constraint inside_readings_heated_check check ((environment = 'heated') = (heated_to_c is not null)),
    constraint inside_readings_min_max_check check (min_c <= max_c)
);
-- One reading a day and house. Nulls never equal each other, so unheated houses have a rule of their own.
create unique index inside_readings_heated_key
    on inside_readings (member_id, region_id, environment, heated_to_c, day) where heated_to_c is not null;
create unique index inside_readings_unheated_key
    on inside_readings (member_id, region_id, environment, day) where heated_to_c is null;
create index inside_readings_member_id_day_idx on inside_readings (member_id, day, id);
create index inside_readings_region_id_idx on inside_readings (region_id);
