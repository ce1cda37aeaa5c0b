create table stations (
    id text not null primary key,
    region_id text not null references regions (id),
    name text not null,
    name_key text not null,
    latitude double not null constraint stations_latitude_check check (latitude between -90 and 90),
    longitude double not null constraint stations_longitude_check check (longitude between -180 and 180),
    elevation_m double not null constraint stations_elevation_m_check check (elevation_m between -500 and 9000),
    -- Where the readings come from, in words; generated ones say so here.
    source text not null,
    version integer not null,
    created_at timestamp not null,
    constraint stations_name_key_key unique (name_key)
);
create index stations_region_id_idx on stations (region_id);

create table readings (
    station_id text not null references stations (id),
    day date not null,
    min_c double not null constraint readings_min_c_check check (min_c between -60 and 60),
    max_c double not null constraint readings_max_c_check check (max_c between -60 and 60),
    rain_mm double constraint readings_rain_mm_check check (rain_mm between 0 and 2000),
    humidity_pct double constraint readings_humidity_pct_check check (humidity_pct between 0 and 100),
    constraint readings_pkey primary key (station_id, day),
    constraint readings_min_max_check check (min_c <= max_c)
) without rowid;
