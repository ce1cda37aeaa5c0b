-- Wrong passwords and one-time codes, counted. Subjects are keyed hashes: of an account's e-mail address, of the address
-- a client comes from, or of both together. An account that is not there counts as one that is.
create table login_attempts (
    kind text collate "C" not null constraint login_attempts_kind_check check (kind in ('account', 'address', 'account_at_address')),
    subject text collate "C" not null,
    -- The first failure of those that are counted.
    window_start timestamp,
    failures integer not null,
    blocked_until timestamp,
    -- The last time the proof was right; kept of an account at an address alone.
    succeeded_at timestamp,
    constraint login_attempts_pkey primary key (kind, subject)
);

-- One row for every wish to join, whether or not it made an account: so both cost the same.
create table join_attempts (
    id text collate "C" not null primary key,
    -- Keyed hash of the client's address.
    address text collate "C" not null,
    -- The account that waits for a decision; null where the e-mail address had one already.
    member_id text collate "C" references members (id) on delete cascade,
    asked_at timestamp not null
);
create index join_attempts_address_idx on join_attempts (address);
create index join_attempts_member_id_idx on join_attempts (member_id);

-- In this database alone.
alter table sessions drop constraint sessions_end_reason_check;
alter table sessions add constraint sessions_end_reason_check
    check (end_reason in ('logged_out', 'logged_out_everywhere', 'password_changed', 'token_reused', 'suspended',
        'too_many'));
-- In both again.
