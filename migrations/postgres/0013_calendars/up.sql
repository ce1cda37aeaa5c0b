-- The secret address of a member's own calendar; only its hash is kept.
create table calendar_feeds (
    member_id text collate "C" not null primary key references members (id),
    secret_sha256 text collate "C" not null,
    created_at timestamp not null,
    constraint calendar_feeds_secret_sha256_key unique (secret_sha256)
);
