-- Instants are UTC text to the microsecond; ids are UUIDs as 36 lower-case characters.

create table server_settings (
    name text collate "C" not null primary key,
    value text collate "C" not null
);

create table regions (
    id text collate "C" not null primary key,
    name text collate "C" not null,
    name_key text collate "C" not null,
    latitude double precision not null constraint regions_latitude_check check (latitude between -90 and 90),
    longitude double precision not null constraint regions_longitude_check check (longitude between -180 and 180),
    elevation_m double precision not null constraint regions_elevation_m_check check (elevation_m between -500 and 9000),
    version integer not null,
    created_at timestamp not null,
    constraint regions_name_key_key unique (name_key)
);

create table clubs (
    id text collate "C" not null primary key,
    name text collate "C" not null,
    name_key text collate "C" not null,
    region_id text collate "C" not null references regions (id),
    meeting_place text collate "C",
    version integer not null,
    created_at timestamp not null,
    constraint clubs_name_key_key unique (name_key)
);
create index clubs_region_id_idx on clubs (region_id);

create table members (
    id text collate "C" not null primary key,
    email text collate "C" not null,
    email_key text collate "C" not null,
    name text collate "C" not null,
    name_key text collate "C" not null,
    -- Null until the member chose one; such an account cannot log in.
    password_hash text collate "C",
    standing text collate "C" not null constraint members_standing_check
        check (standing in ('requested', 'active', 'suspended', 'left')),
    region_id text collate "C" references regions (id),
    -- The club asked for, where the account was requested and not invited.
    requested_club_id text collate "C" references clubs (id),
    request_note text collate "C",
    version integer not null,
    created_at timestamp not null,
    constraint members_email_key_key unique (email_key)
);
create index members_name_key_id_idx on members (name_key, id);
create index members_region_id_idx on members (region_id);

create table society_roles (
    member_id text collate "C" not null references members (id),
    role text collate "C" not null constraint society_roles_role_check check (role in ('registrar', 'administrator')),
    constraint society_roles_pkey primary key (member_id, role)
);

create table club_members (
    club_id text collate "C" not null references clubs (id),
    member_id text collate "C" not null references members (id),
    role text collate "C" not null constraint club_members_role_check check (role in ('member', 'secretary')),
    joined_at timestamp not null,
    constraint club_members_pkey primary key (club_id, member_id)
);
create index club_members_member_id_idx on club_members (member_id);

create table invitations (
    id text collate "C" not null primary key,
    -- SHA-256 of the secret in the invitation; the secret itself is shown once and not kept.
    token_hash text collate "C" not null,
    email text collate "C" not null,
    email_key text collate "C" not null,
    club_id text collate "C" references clubs (id),
    invited_by text collate "C" references members (id),
    created_at timestamp not null,
    expires_at timestamp not null,
    used_at timestamp,
    constraint invitations_token_hash_key unique (token_hash)
);

create table sessions (
    id text collate "C" not null primary key,
    member_id text collate "C" not null references members (id),
    device text collate "C",
    created_at timestamp not null,
    expires_at timestamp not null,
    ended_at timestamp,
    end_reason text collate "C" constraint sessions_end_reason_check
        check (end_reason in ('logged_out', 'logged_out_everywhere', 'password_changed', 'token_reused', 'suspended'))
);
create index sessions_member_id_idx on sessions (member_id);

create table refresh_tokens (
    -- SHA-256 of the token; a thief of the file can not log in with it.
    token_hash text collate "C" not null primary key,
    session_id text collate "C" not null references sessions (id),
    issued_at timestamp not null,
    expires_at timestamp not null,
    -- Set at the first use; a second use ends the session.
    used_at timestamp
);
create index refresh_tokens_session_id_idx on refresh_tokens (session_id);

create table idempotency_keys (
    member_id text collate "C" not null references members (id),
    idempotency_key text collate "C" not null,
    -- Method, path and SHA-256 of the body: the same key for another request is refused.
    fingerprint text collate "C" not null,
    status integer not null,
    location text collate "C",
    etag text collate "C",
    body text collate "C" not null,
    created_at timestamp not null,
    constraint idempotency_keys_pkey primary key (member_id, idempotency_key)
);
create index idempotency_keys_created_at_idx on idempotency_keys (created_at);
